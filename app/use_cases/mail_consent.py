"""Whether a customer may be mailed: asked at the intake, at the handback or on the customer's page, and kept.

Nobody who was not asked, or who said no, gets a letter by mail: it is printed.
"""

from __future__ import annotations

from app.domain.handback import AskedWhere, Consent
from app.ports import Unit
from app.use_cases.office import Office

YES, NO = "yes", "no"


def consent_of(unit: Unit, customer: str) -> Consent | None:
    """What they said last; None while nobody has asked."""
    said = unit.consents.where(customer=customer)
    return said[-1] if said else None


def keep_consent(office: Office, unit: Unit, person: str, customer: str, answer: str, place: AskedWhere) -> bool:
    """Keep what a customer said, "yes" or "no"; anything else, and what they said before, changes nothing.

    Gives whether something was kept. The caller commits.
    """
    if answer not in (YES, NO):
        return False
    before = consent_of(unit, customer)
    if before is not None and before.yes == (answer == YES):
        return False
    who = unit.people.get(person)
    unit.consents.add(
        Consent(
            id=office.new_id(),
            customer=customer,
            yes=answer == YES,
            place=place,
            recorded_by=person,
            recorded_by_name=who.name if who is not None else "",
            recorded_at=office.clock(),
        )
    )
    return True


def keep_said(office: Office, person: str, customer: str, answer: str, place: AskedWhere) -> None:
    """Keep what a customer said, in a transaction of its own; what is no answer, or no news, changes nothing."""
    with office.store.writing() as unit:
        if keep_consent(office, unit, person, customer, answer, place):
            unit.commit()


def consent_value(consent: Consent | None) -> str:
    """As a form has it: "yes", "no", or "" while nobody has asked."""
    return "" if consent is None else YES if consent.yes else NO
