"""Who has a tool: taken and given back by its tag, typed or scanned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Loan, Tool
from app.language.speech import _
from app.ports import Unit
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.open_job import worn_words
from app.use_cases.shop_time import date_words


@dataclass(frozen=True, slots=True)
class Borrowed:
    tool: Tool
    loan: Loan
    had: str = ""


def find_tool(unit: Unit, typed: str) -> Tool | None:
    """A tool by what was typed or scanned: its tag in whatever case, or an address that ends in it."""
    tag = typed.strip().rstrip("/").rpartition("/tools/")[2].strip()
    exact = next(iter(unit.tools.where(tag=tag)), None)
    return exact or next((one for one in unit.tools.all() if one.tag.casefold() == tag.casefold()), None)


def open_loan(unit: Unit, tool_id: str) -> Loan | None:
    return next((one for one in unit.loans.where(tool=tool_id) if one.given_back_at is None), None)


def why_out_of_use(tool: Tool, today: date) -> str:
    """Why a tool may not be used today, in words; "" when nothing speaks against it."""
    if tool.fault or worn_words(tool):
        return _("Tagged out: {what}", what=tool.fault or worn_words(tool))
    if tool.due_on is not None and tool.due_on < today:
        return _("Out of date: it was due on {date_words}", date_words=date_words(tool.due_on))
    return ""


def borrow_tool(office: Office, person: str, typed: str) -> Borrowed:
    """Take a tool. One that somebody else has is theirs no longer from now on: whoever holds it in hand has it.

    Raises: Refused when there is no such tag, or the tool may not be used.
    """
    with office.store.writing() as unit:
        tool = find_tool(unit, typed)
        if tool is None:
            raise Refused([Problem("tag_not_there", "tag", {"typed": typed.strip()[:40]})])
        against = why_out_of_use(tool, office.clock().astimezone(zone_of(the_shop(unit))).date())
        if against:
            raise Refused([Problem("tool_not_lent", "tag", {"tag": tool.tag, "why": against})])
        before = open_loan(unit, tool.id)
        if before is not None and before.person == person:
            return Borrowed(tool, before)
        had = ""
        if before is not None:
            unit.loans.save(replace(before, given_back_at=office.clock()))
            holder = unit.people.get(before.person)
            had = holder.name if holder else ""
        loan = Loan(office.new_id(), tool.id, person, office.clock())
        unit.loans.add(loan)
        unit.commit()
    return Borrowed(tool, loan, had)


def give_back(office: Office, tool_id: str) -> Loan | None:
    """Give a tool back, whoever brings it; one that nobody has gives None. Raises: NotFound."""
    with office.store.writing() as unit:
        if unit.tools.get(tool_id) is None:
            raise NotFound("tool", tool_id)
        loan = open_loan(unit, tool_id)
        if loan is None:
            return None
        loan = replace(loan, given_back_at=office.clock())
        unit.loans.save(loan)
        unit.commit()
    return loan
