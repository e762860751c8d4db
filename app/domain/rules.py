"""What an entry does to a sheet: `decide` rules on it, `evolve` gives the next sheet. Pure: no clock, no ids, no I/O.

The questions asked are in `questions`, what an accepted entry changes in `changes`, the table that joins them in
`shared/rules/entries.json`. The tablet has a twin of these; whole numbers only, so that both give the same bytes.

Invariants kept here:
* an entry set aside changes nothing but the count of entries and the list of what is set aside;
* nothing of a step is recorded behind a gate that is shut, or stale for this person, support state or moment;
* a torque counts only against a compared figure, with a fit wrench, inside its window, in the right load state.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.domain import entry as e
from app.domain.case import ACCEPTED, Case, Ruling, mark_of, target_of
from app.domain.changes import CHANGES, put_aside
from app.domain.entry import Heard, Kind
from app.domain.questions import QUESTIONS
from app.domain.rule_table import RuleTable
from app.domain.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Rules:
    """The rule set with its table."""

    table: RuleTable

    def decide(self, sheet: Sheet, heard: Heard) -> Ruling:
        """Rule on an entry against the sheet as it is."""
        case = Case(self.table, sheet, heard, heard.body)
        row = self.table.kinds.get(heard.entry.kind)
        for question in (*self.table.always, *(row.asks if row else ())):
            against = QUESTIONS[question](case)
            if against is not None:
                return against
        return ACCEPTED

    def evolve(self, sheet: Sheet, heard: Heard, ruling: Ruling) -> Sheet:
        """Give the sheet after an entry and its ruling. Always counts the entry, whatever the ruling."""
        body = heard.body
        counted = replace(sheet, entries=sheet.entries + 1)
        if not ruling.accepted:
            return put_aside(counted, heard, body, ruling)
        case = Case(self.table, counted, heard, body)
        return self._settle_what_settles_itself(CHANGES[Kind(heard.entry.kind)](case), heard, body)

    def _settle_what_settles_itself(self, sheet: Sheet, heard: Heard, body: e.Body | None) -> Sheet:
        """A refusal that was only "not yet" is settled by the same thing accepted later."""
        step, target = target_of(body)
        mark = mark_of(heard)
        settled = {
            key: replace(one, settled=mark, outcome="done_since")
            for key, one in sheet.asides.items()
            if one.settled is None
            and one.reason in self.table.settles_itself
            and (one.kind, one.step, one.target) == (heard.entry.kind, step, target)
        }
        return replace(sheet, asides={**sheet.asides, **settled}) if settled else sheet


def replay(rules: Rules, job: str, history: Iterable[tuple[Heard, Ruling]]) -> Sheet:
    """Give the sheet that these heard entries and their first rulings lead to."""
    sheet = Sheet(job)
    for heard, ruling in history:
        sheet = rules.evolve(sheet, heard, ruling)
    return sheet
