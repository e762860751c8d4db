"""Evidence for the suspects, read from a sheet: its tests, its readings, the answers about the complaint. Pure.

Which parts there are follows from the steps that the packet has, so a layout without a load joint has no such suspect.
What is not counted is not hidden: findings that wait for the ruling out, and those a person judged sound all the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.domain.bounce import Trait, other_side, traits_of
from app.domain.findings import findings
from app.domain.packet import Axle, Packet, Step, Verdict
from app.domain.ruling_out import Group, Judged, inspections, is_suspension_test, ruling_out
from app.domain.sheet import Outcome, Sheet
from app.domain.suspect_table import SignRow, SuspectTable
from app.trade.damping import TraceReading
from app.trade.suspects import Network, Part, Sign

COMPLAINT = "complaint"
SIDES = ("left", "right")
THOUSAND = 1_000


@dataclass(frozen=True, slots=True)
class Place:
    """A part of the table at one place. side "" for what the axle has once."""

    key: str
    family: str
    axle: Axle
    side: str


@dataclass(frozen=True, slots=True)
class Traced:
    """A bounce's trace beside what was chosen: its reading, the other side's where there is one, and what it says of
    the sign, nothing where it clears the damper of it."""

    reading: TraceReading
    other: TraceReading | None
    says: tuple[Trait, ...]


@dataclass(frozen=True, slots=True)
class Said:
    """A piece of evidence in words: the step, what was seen in it, and whether the sign showed itself.

    beyond: the measures whose value lay over its limit, where a value said it and not the choice. traced: what the
    recorded trace says, or clears, where it says anything of this sign.
    """

    sign: str
    step: Step
    seen: str
    shows: bool
    beyond: tuple[str, ...] = ()
    traced: Traced | None = None


@dataclass(frozen=True, slots=True)
class Open:
    """A test that nobody has made yet, with its signs."""

    step: Step
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answered:
    """An answer about the complaint: which question, and the answer in words."""

    step: Step
    answer: str
    words: str


@dataclass(frozen=True)
class Evidence:
    """seen: what counts, by sign. waiting: findings not counted until the groups left to judge are. overruled: what
    speaks against a part although the person judged it sound: not counted. groups: by inspection line."""

    places: Mapping[str, Place]
    network: Network
    seen: Mapping[str, bool]
    said: Mapping[str, Said]
    complaint: tuple[Answered, ...]
    unasked: tuple[Step, ...]
    waiting: tuple[Said, ...]
    overruled: tuple[Said, ...]
    open_tests: tuple[Open, ...]
    groups: Mapping[str, tuple[Group, ...]]

    @property
    def not_judged(self) -> tuple[tuple[str, Group], ...]:
        """What still has to be ruled out, with the inspection's line it belongs to."""
        return tuple((line, one) for line, its in self.groups.items() for one in its if one.judged is Judged.NOT_YET)


def evidence_of(table: SuspectTable, sheet: Sheet, traces: Mapping[str, TraceReading] | None = None) -> Evidence | None:
    """None for a sheet without an inspection: there is nothing to rank.

    traces: by step, what each recorded bounce says. One that was refused is not among them, and so says nothing.
    """
    packet = sheet.packet
    lines = inspections(packet) if packet is not None else ()
    if packet is None or not lines:
        return None
    reader = _Reader(table, sheet, packet, traces or {})
    for line in lines:
        reader.add_parts(packet.steps_of_line[line.id])
    for line in lines:
        reader.add_signs(line.id, packet.steps_of_line[line.id])
    reader.add_complaint([step for line in lines for step in packet.steps_of_line[line.id]])
    return reader.evidence()


class _Reader:
    def __init__(self, table: SuspectTable, sheet: Sheet, packet: Packet, traces: Mapping[str, TraceReading]) -> None:
        self.table, self.sheet, self.packet, self.traces = table, sheet, packet, traces
        self.places: dict[str, Place] = {}
        self.signs: dict[str, Sign] = {}
        self.seen: dict[str, bool] = {}
        self.said: dict[str, Said] = {}
        self.answers: list[Answered] = []
        self.unasked: list[Step] = []
        self.waiting: list[Said] = []
        self.overruled: list[Said] = []
        self.open_tests: list[Open] = []
        self.groups: dict[str, tuple[Group, ...]] = {}

    def evidence(self) -> Evidence:
        parts = (Part(key, self.table.parts[one.family].prior / THOUSAND) for key, one in self.places.items())
        return Evidence(
            self.places, Network(tuple(parts), tuple(self.signs.values())), self.seen, self.said,
            tuple(self.answers), tuple(self.unasked), tuple(self.waiting), tuple(self.overruled),
            tuple(self.open_tests), self.groups,
        )  # fmt: skip

    # --- Parts and signs --------------------------------------------------------------------------------------------

    def add_parts(self, steps: tuple[Step, ...]) -> None:
        for family, row in self.table.parts.items():
            for step in steps:
                if step.key in row.there_with:
                    for side in ("",) if row.at == "axle" else (step.corner,) if step.corner else SIDES:
                        key = _key(step.axle, side, family)
                        self.places.setdefault(key, Place(key, family, step.axle, side))

    def add_signs(self, line: str, steps: tuple[Step, ...]) -> None:
        self.groups[line] = ruling_out(self.table, self.sheet, line)
        counts = all(one.judged is not Judged.NOT_YET for one in self.groups[line])
        for step in steps:
            rows = [(f"{step.id}.{row.shows[0]}", row) for row in self.table.signs.get(step.key, ())]
            kept = [(key, row, links) for key, row in rows if (links := self._links(row, step))]
            for key, row, links in kept:
                self.signs[key] = Sign(key, row.leak / THOUSAND, links)
                self._read(key, row, step, counts or not is_suspension_test(self.table, step))
            outcome = self.sheet.step(step.id).outcome
            left = tuple(key for key, _, _ in kept if key not in self.seen)
            if left and outcome is None and not any(one.step.id == step.id for one in self.waiting):
                self.open_tests.append(Open(step, left))

    def _links(self, row: SignRow, step: Step) -> dict[str, float]:
        """The sign's parts as far as this axle has them; another part stands in where the table says so."""
        links: dict[str, float] = {}
        for family, weight in row.links.items():
            for stands in (family, *self.table.stand_ins.get(family, ())):
                here = [key for key in self._keys(step, stands) if key in self.places]
                if stands != family and stands in row.links:
                    break
                if here:
                    links |= dict.fromkeys(here, weight / THOUSAND)
                    break
        return links

    def _keys(self, step: Step, family: str) -> tuple[str, ...]:
        if self.table.parts[family].at == "axle":
            return (_key(step.axle, "", family),)
        return tuple(_key(step.axle, side, family) for side in ((step.corner,) if step.corner else SIDES))

    def _read(self, key: str, row: SignRow, step: Step, counts: bool) -> None:
        outcome, beyond = self.sheet.step(step.id).outcome, self._beyond(row, step)
        chosen = outcome is not None and outcome.choice in row.shows
        traced = self._traced(row, step)
        by_trace = traced is not None and bool(traced.says)
        if chosen or beyond or by_trace:
            said = Said(key, step, _choice_words(step, outcome), True, beyond, traced)
            if outcome is not None and self._is_overruled(row, step, outcome, measured=bool(beyond) or by_trace):
                self.overruled.append(said)
            elif not counts:
                self.waiting.append(said)
            else:
                self._keep(said)
        elif outcome is not None and outcome.choice in row.clean:
            self._keep(Said(key, step, _choice_words(step, outcome), False, traced=traced))
        elif outcome is None and traced is not None:
            self._keep(Said(key, step, "", False, traced=traced))

    def _is_overruled(self, row: SignRow, step: Step, outcome: Outcome, *, measured: bool) -> bool:
        """Judged sound by whoever saw it, with no measure that says otherwise; or nothing can be told on this car."""
        if outcome.choice in row.unless:
            return True
        return outcome.verdict is Verdict.SOUND and not measured and _speaks(step, outcome)

    def _traced(self, row: SignRow, step: Step) -> Traced | None:
        """None where there is no trace, or none that settles anything of this sign."""
        reading = self.traces.get(step.id) if row.traces else None
        if reading is None:
            return None
        beside = other_side(step, self.packet.step_by_id)
        other = self.traces.get(beside.id) if beside is not None else None
        says, clears = traits_of(reading, other, self.table.apart / THOUSAND)
        shown = tuple(one for one in row.traces if one in says)
        # Without the other side there is nothing to compare. As with choices, what shows one sign clears no other.
        left = [one for one in row.traces if one not in clears and not (one is Trait.APART and other is None)]
        return Traced(reading, other, shown) if shown or not (left or says) else None

    def _keep(self, said: Said) -> None:
        self.seen[said.sign], self.said[said.sign] = said.shows, said

    def _beyond(self, row: SignRow, step: Step) -> tuple[str, ...]:
        """Values over the limit typed beside them, or outside the maker's window."""
        readings = self.sheet.step(step.id).readings
        over = {one.made_from[0] for one in findings(step, readings) if one.key.startswith("beyond_limit")}
        asks = {measure.id: measure.ask for measure in step.measures}
        outside = {name for name, taken in readings.items() if taken.within is False}
        return tuple(asks[name] for name in row.readings if name in asks and name in over | outside)

    # --- The complaint ----------------------------------------------------------------------------------------------

    def add_complaint(self, steps: list[Step]) -> None:
        """One sign for the complaint as a whole: what kind it is, and how well each part fits the other answers."""
        newest = {key: self._newest(steps, key) for key in self.table.complaint.steps}
        self.answers = [
            Answered(step, one.choice, _choice_words(step, one)) for step, one in filter(None, newest.values())
        ]
        asked = {step.key for step in steps}
        self.unasked = [
            next(step for step in steps if step.key == key)
            for key, one in newest.items()
            if one is None and key in asked
        ]
        kind = newest[self.table.complaint.kind]
        row = self.table.complaint.kinds.get(kind[1].choice) if kind else None
        if kind is None or row is None:
            return
        given = {key: one[1].choice for key, one in newest.items() if one is not None}
        links = {
            key: row.links[place.family] / THOUSAND * self._fit(place, given)
            for key, place in self.places.items()
            if place.family in row.links
        }
        if links:
            self.signs[COMPLAINT] = Sign(COMPLAINT, row.leak / THOUSAND, links)
            self._keep(Said(COMPLAINT, kind[0], "; ".join(one.words for one in self.answers), True))

    def _newest(self, steps: list[Step], key: str) -> tuple[Step, Outcome] | None:
        """The answer heard last where two inspections of one job asked the same."""
        found = [(step, one) for step in steps if step.key == key and (one := self.sheet.step(step.id).outcome)]
        return max(found, key=lambda one: (one[1].mark.at_ms, one[0].id), default=None)

    def _fit(self, place: Place, given: Mapping[str, str]) -> float:
        complaint, share = self.table.complaint, 1.0
        for answers in (complaint.when, complaint.changes):
            fits = answers.fits.get(given.get(answers.step, ""))
            if fits is not None and place.family not in fits:
                share *= complaint.misfit / THOUSAND
        where = complaint.where.places.get(given.get(complaint.where.step, ""))
        if where is not None:
            axle, side = where
            if place.axle != axle:
                share *= complaint.where.other_axle / THOUSAND
            elif side and place.side and place.side != side:
                share *= complaint.where.beside / THOUSAND
        return share


def _key(axle: Axle, side: str, family: str) -> str:
    return f"{axle}.{side or 'axle'}.{family}"


def _choice_words(step: Step, outcome: Outcome | None) -> str:
    if step.trial is None or outcome is None:
        return ""
    return next((one.words for one in step.trial.choices if one.key == outcome.choice), outcome.choice)


def _speaks(step: Step, outcome: Outcome) -> bool:
    return step.trial is not None and any(not one.passes for one in step.trial.choices if one.key == outcome.choice)
