"""Record what a form of the sheet's own page says: problems beside the fields, or the rulings on what it became."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from app.domain.problems import Problem, Refused
from app.domain.records import JobState
from app.domain.reply import Outcome
from app.use_cases.make_entry import Sent, entries_from
from app.use_cases.office import Office
from app.use_cases.record_entry import record_form
from app.use_cases.see_sheet import SheetFound


def nothing_before() -> None:
    return None


def record_sheet_form(
    office: Office,
    found: SheetFound,
    person: str,
    fields: Mapping[str, str],
    before: Callable[[], Problem | None] = nothing_before,
) -> Outcome:
    """Turn a form into entries and record them.

    before: what has to be kept before entries can name it; done once they can be made, gives what kept it from that.
    Raises: NotAllowed for a person no longer of this shop.
    """
    if found.job.state is JobState.CANCELLED:
        return Outcome(problems=(Problem("job_closed"),))
    sent = Sent(
        fields=fields,
        sheet=found.sheet,
        person=person,
        now_ms=office.now_ms,
        people=dict(found.people),
        new_id=office.new_id,
    )
    made = entries_from(sent)
    if made and isinstance(made[0], Problem):
        return Outcome(problems=tuple(one for one in made if isinstance(one, Problem)))
    trouble = before()
    if trouble is not None:
        return Outcome(problems=(trouble,))
    try:
        recorded = [record_form(office, one) for one in made if not isinstance(one, Problem)]
    except Refused as refused:
        return Outcome(problems=refused.problems)
    return Outcome(
        rulings=tuple(one.ruling for one in recorded),
        sheet=recorded[-1].sheet if recorded else None,
    )
