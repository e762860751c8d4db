"""Sign a person in at an enrolled tablet: as anywhere, and from then on the tablet may speak for them."""

from __future__ import annotations

from app.domain.problems import Problem
from app.domain.records import AtTablet
from app.use_cases.office import Office
from app.use_cases.sign_in import NewToken, SignedIn, sign_in


def sign_in_at_tablet(office: Office, tablet: str, person: str, pin: str, new_token: NewToken) -> SignedIn | Problem:
    """The caller has checked the tablet's credential."""
    outcome = sign_in(office, person, pin, new_token)
    if isinstance(outcome, Problem):
        return outcome
    key = f"{tablet} {person}"
    with office.store.writing() as unit:
        if unit.at_tablets.get(key) is None:
            unit.at_tablets.add(AtTablet(key, tablet, person, office.clock()))
            unit.commit()
    return outcome
