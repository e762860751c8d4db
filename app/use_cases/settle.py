"""What a foreman settles on a sheet: an entry that was set aside, and a hold tag that hangs.

What is already settled by someone else is said before an entry is made of it: a foreman's second answer would only be
set aside itself, and then wait to be settled.
"""

from __future__ import annotations

from app.domain.entry import TEXT_LIMIT, HoldLifted, Settled
from app.domain.problems import NotFound, Problem, Refused
from app.domain.sheet import Sheet
from app.use_cases.office import Office
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import Recorded, record_form


def settle_aside(
    office: Office, person: str, job: str, aside: str, outcome: str, reason: str, entry_id: str = ""
) -> Recorded:
    """Settle what was set aside, by one of the outcomes of the rule table. It never comes to count.

    Raises: Refused with every problem found; NotFound for an unknown job or entry.
    """
    sheet, known = _before(office, job, entry_id)
    one = sheet.asides.get(aside)
    if one is None:
        raise NotFound("aside", aside)
    problems = []
    if one.settled is not None and not known:
        problems.append(Problem("aside_settled", "", {"name": one.settled.name}))
    if outcome not in office.rules.table.settle_outcomes:
        problems.append(Problem("settle_outcome_missing", "outcome"))
    problems += reason_problems(reason)
    if problems:
        raise Refused(problems)
    return accepted(record_form(office, office_entry(office, person, sheet, Settled(aside, outcome, reason), entry_id)))


def lift_hold(office: Office, person: str, job: str, hold: str, reason: str, entry_id: str = "") -> Recorded:
    """Take a hold tag off, with the reason.

    Raises: Refused with every problem found; NotFound for an unknown job or tag.
    """
    sheet, known = _before(office, job, entry_id)
    one = sheet.holds.get(hold)
    if one is None:
        raise NotFound("hold", hold)
    problems = []
    if one.lifted is not None and not known:
        problems.append(Problem("hold_off_already", "", {"name": one.lifted.name}))
    problems += reason_problems(reason)
    if problems:
        raise Refused(problems)
    return accepted(record_form(office, office_entry(office, person, sheet, HoldLifted(hold, reason), entry_id)))


def reason_problems(reason: str, field: str = "reason") -> list[Problem]:
    if not reason.strip():
        return [Problem("foreman_reason_missing", field)]
    return [Problem("too_long", field, {"limit": TEXT_LIMIT})] if len(reason) > TEXT_LIMIT else []


def accepted(recorded: Recorded) -> Recorded:
    """What was recorded, if the rules took it; else their reason, as a problem: the entry is kept, set aside."""
    if not recorded.ruling.accepted:
        raise Refused([Problem(recorded.ruling.reason, "", dict(recorded.ruling.details))])
    return recorded


def _before(office: Office, job: str, entry_id: str) -> tuple[Sheet, bool]:
    """The sheet as it is, and whether this very form was heard before (then it gets its first ruling again)."""
    with office.store.reading() as unit:
        sheet = unit.sheets.get(job)
        if sheet is None:
            raise NotFound("job", job)
        return sheet, bool(entry_id) and unit.ledger.find(entry_id) is not None
