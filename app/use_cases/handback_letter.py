"""The customer's letter at handback, as facts in plain words: every line of it rests on an entry of the sheet.

What belongs here: choosing, ordering and wording of facts. What does not: layout (`templates/mail/handback`), sending
(`send_post`). What was set aside is the workshop's own affair and stays out; where it changed the work, the work itself
tells (a step opened again says so). The letter never says that something *is* safe.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from app.domain.handback import Changed
from app.domain.joining import CLOSING_LINE, OPENING_LINE
from app.domain.packet import Axle, Fastener, Line, Measure, Packet, Pass, Step, Verdict
from app.domain.photos import photo_notes
from app.domain.problems import OursToMend
from app.domain.records import Customer, Job, Shop, Vehicle
from app.domain.ruling_out import waits_for_ruling_out
from app.domain.sheet import Mark, Note, Sheet, Signature, StepNow, Taken
from app.domain.standing import open_points
from app.language.speech import N_, _, speaking
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.units import parse_quantity, unit_symbols
from app.use_cases.before_after import Compared, SaidTwice, compared, said_twice
from app.use_cases.in_language import sheet_said
from app.use_cases.shims import ShimsLeft, shims_of
from app.use_cases.suspect_weights import suspect_table
from app.use_cases.written_bill import Bill

_WORST_FIRST = (Verdict.REPLACE, Verdict.WATCH, Verdict.SOUND)
_COUNTED = "1"  # the unit of what is only counted
_ANGLE_SIGNS = ("°", "′", "″")
_BARE_NUMBER = re.compile(r"[0-9.,+\-−/½¼¾ ]+")
# Letters may not depend on the language a server was installed in, so the months are written out here.
_MONTHS = (
    N_("Jan"), N_("Feb"), N_("Mar"), N_("Apr"), N_("May"), N_("Jun"),
    N_("Jul"), N_("Aug"), N_("Sep"), N_("Oct"), N_("Nov"), N_("Dec"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Deed:
    """Who did something and when, in the workshop's own time."""

    who: str
    when: str


@dataclass(frozen=True, slots=True)
class Finding:
    """A test's result. `verdict` is one of: replace, watch, sound; `spoke_against`: what was seen speaks against it."""

    part: str
    seen: str
    verdict: str
    reason: str
    spoke_against: bool
    by: Deed

    @property
    def is_clear(self) -> bool:
        """Judged sound, and on what was seen: a verdict that goes against its own observation is told in full."""
        return self.verdict == Verdict.SOUND and not self.spoke_against


@dataclass(frozen=True, slots=True)
class ClearArea:
    """The tests of one part in which nothing was found, in a line: each place with what was seen there.

    by: each person who made them, with the first and the last moment.
    """

    part: str
    seen: tuple[str, ...]
    by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NotToldApart:
    """A finding that does not count: these (tyres, wheel_bearings, steering, brakes) were not all judged beside it."""

    finding: Finding
    not_judged: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AnswerFact:
    """What the customer answered when asked about the complaint; words: what they added themselves."""

    question: str
    answer: str
    words: str


@dataclass(frozen=True, slots=True)
class StepDoneFact:
    """A step that was done. `looked` are the second person's own words, `opened_again` whether it was begun anew."""

    title: str
    by: Deed
    opened_again: bool
    looked_by: Deed | None
    looked: str


@dataclass(frozen=True, slots=True)
class WorkDone:
    """One line of the job with the steps done on it, in sheet order.

    tests: of an inspection, how many steps are left out here because the letter tells them as what was asked and found;
    "" for none. tests_by: each person who made them, with the first and the last moment.
    """

    title: str
    steps: tuple[StepDoneFact, ...]
    tests: str = ""
    tests_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TorqueReading:
    """A reading as typed, the wrench it was read on, by whom. `at_joint` is filled when an extension changed it."""

    typed: str
    wrench: str
    extension: str
    at_joint: str
    by: Deed


@dataclass(frozen=True, slots=True)
class TorqueFact:
    """A joint tightened to its figure. `figure` is as its source prints it; `new_part`: the fastener is a new one."""

    place: str
    figure: str
    source: str
    reading: TorqueReading
    second: TorqueReading | None
    new_part: bool


@dataclass(frozen=True, slots=True)
class TorquesOfLine:
    title: str
    torques: tuple[TorqueFact, ...]


@dataclass(frozen=True, slots=True)
class MeasureFact:
    """A value recorded. `judged` is "within", "outside", or "" where the sheet states no window.

    step: the step it was asked for in, which says of which corner and joint it is; "" when `what` says the same.
    """

    step: str
    what: str
    typed: str
    window: str
    judged: str
    source: str
    by: Deed


@dataclass(frozen=True, slots=True)
class MeasuresOfLine:
    title: str
    measures: tuple[MeasureFact, ...]


@dataclass(frozen=True, slots=True)
class PartFact:
    line: str
    what: str


@dataclass(frozen=True, slots=True)
class NoteFact:
    lines: tuple[str, ...]
    by: Deed


@dataclass(frozen=True, slots=True)
class Gloss:
    """A word of the trade and what it means."""

    word: str
    meaning: str


@dataclass(frozen=True, slots=True)
class AxleFact:
    """An axle that was worked on, as it is drawn. layout: its key; place: the layout an air spring stands in for."""

    axle: str
    corner: str
    layout: str
    place: str

    @property
    def drawing(self) -> str:
        return "-".join(filter(None, ("axle", self.axle, self.corner)))


@dataclass(frozen=True, slots=True)
class PhotoFact:
    """A photo by the hash of its bytes. title: the step it was taken at, "" for the whole job; words: as written."""

    sha256: str
    title: str
    words: str
    by: Deed


@dataclass(frozen=True, slots=True)
class EditionFact:
    """A letter that was written anew: why, when the one before was, and what is different."""

    number: int
    before: str
    why: str
    changes: tuple[Changed, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """What a letter tells that is not on the sheet. comes_at: when the wheels come again; photos: those to print."""

    bill: Bill | None = None
    comes_at: datetime | None = None
    photos: tuple[str, ...] = ()
    edition: EditionFact | None = None


@dataclass(frozen=True, slots=True)
class HandbackFacts:
    """What the templates of `templates/mail/handback` receive, all of it text, true or false, and lists.

    findings: tests that found something, worst first; those in which nothing was found are in `sound`, and once more
    by part, as the letter gives them, in `clear`.
    not_told_apart: findings at the suspension that do not count, since what makes the same complaint was not ruled out.
    answers: to the questions about the complaint. called_in: the complaint is the workshop's own words.
    still_open: steps not done and looks not taken, if the letter was asked for before the sheet was closed.
    retorque_km: "" when no joint was tightened to a figure. comes_at: when the wheels come again, "" if no day is set.
    compared, said_twice: what was measured and read before the work beside after it.
    bill: what it costs as agreed; None where nobody prices the work.
    photos, more_photos: those that are printed, and how many more are kept with the job ("" if none).
    """

    shop_name: str
    shop_address: tuple[str, ...]
    shop_phone: str
    shop_email: str
    customer_name: str
    job_number: str
    vehicle: str
    plate: str
    odometer: str
    opened: str
    handed_back: Deed | None
    handed_back_note: tuple[str, ...]
    time_zone: str
    complaint: tuple[str, ...]
    findings: tuple[Finding, ...]
    sound: tuple[Finding, ...]
    has_replace: bool
    work: tuple[WorkDone, ...]
    torques: tuple[TorquesOfLine, ...]
    measures: tuple[MeasuresOfLine, ...]
    parts: tuple[PartFact, ...]
    watch: tuple[str, ...]
    retorque_km: str
    notes: tuple[NoteFact, ...]
    worked: tuple[str, ...]
    checked: tuple[str, ...]
    still_open: tuple[str, ...]
    glosses: tuple[Gloss, ...]
    language: str = "en"
    comes_at: str = ""
    compared: tuple[Compared, ...] = ()
    said_twice: tuple[SaidTwice, ...] = ()
    axles: tuple[AxleFact, ...] = ()
    shims: tuple[ShimsLeft, ...] = ()
    bill: Bill | None = None
    photos: tuple[PhotoFact, ...] = ()
    more_photos: str = ""
    edition: EditionFact | None = None
    not_told_apart: tuple[NotToldApart, ...] = ()
    answers: tuple[AnswerFact, ...] = ()
    called_in: bool = False
    clear: tuple[ClearArea, ...] = ()


def handback_facts(
    shop: Shop, customer: Customer, vehicle: Vehicle, job: Job, sheet: Sheet, beside: Beside = Beside()
) -> HandbackFacts:
    """Gather the letter from the sheet and its packet.

    Raises: OursToMend when the sheet has no packet: nothing was ever pinned, so there is nothing to hand back.
    """
    if sheet.packet is None:
        raise OursToMend(f"sheet of job {job.id} has no packet to write a letter from")
    # In the language of who gets it, whatever whoever releases the job reads.
    with speaking(customer.language):
        said = sheet_said(sheet)
        assert said.packet is not None
        return _Letter(said, said.packet, _zone(shop.timezone)).facts(shop, customer, vehicle, job, beside)


def _zone(name: str) -> tzinfo:
    """The workshop's zone; UTC, and the letter says so, when this machine does not know the name."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC


@dataclass(frozen=True, slots=True)
class _Letter:
    """One sheet being told: keeps its packet and time zone at hand for the parts below."""

    sheet: Sheet
    packet: Packet
    zone: tzinfo

    def facts(self, shop: Shop, customer: Customer, vehicle: Vehicle, job: Job, beside: Beside) -> HandbackFacts:
        findings = self._findings()
        torques = self._torques()
        measures = self._measures()
        photos = self._photos()
        printed = tuple(one for one in photos if one.sha256 in beside.photos)
        facts = HandbackFacts(
            shop_name=one_line(shop.name),
            shop_address=lines_of(shop.address),
            shop_phone=one_line(shop.phone),
            shop_email=one_line(shop.email),
            customer_name=one_line(customer.name),
            job_number=one_line(job.number),
            vehicle=", ".join(filter(None, map(one_line, (vehicle.model, str(vehicle.year or ""), vehicle.colour)))),
            plate=one_line(vehicle.plate),
            odometer=f"{job.odometer_km} km" if job.odometer_km is not None else "",
            opened=self._when(job.opened_at),
            handed_back=self._deed(self.sheet.handed_back) if self.sheet.handed_back else None,
            handed_back_note=lines_of(self.sheet.handed_back_note),
            time_zone=str(self.zone),
            complaint=lines_of(job.complaint),
            findings=tuple(one for one in findings if not one.is_clear),
            sound=tuple(one for one in findings if one.is_clear),
            has_replace=any(one.verdict == Verdict.REPLACE for one in findings),
            work=self._work(),
            torques=torques,
            measures=measures,
            parts=self._parts(),
            watch=(*self._watched(), *self._outside()),
            retorque_km=str(shop.retorque_km) if torques and shop.retorque_km > 0 else "",
            notes=self._notes(),
            worked=self._worked(),
            checked=self._checked(),
            still_open=self._still_open(),
            glosses=(),
            language=customer.language,
            comes_at=self._when(beside.comes_at) if beside.comes_at is not None else "",
            compared=compared(self.packet, self.sheet, as_typed),
            said_twice=said_twice(self.packet, self.sheet),
            shims=shims_of(self.sheet),
            axles=self._axles(),
            bill=beside.bill,
            photos=printed,
            more_photos=str(len(photos) - len(printed)) if len(photos) > len(printed) else "",
            edition=beside.edition,
            not_told_apart=self._not_told_apart(),
            answers=self._answers(),
            called_in=job.is_called_in,
            clear=self._clear(),
        )
        return _with_glosses(facts)

    # --- What was found -------------------------------------------------------------------------------------------

    def _findings(self) -> tuple[Finding, ...]:
        """Those that count: answers about the complaint are no finding, and one may wait for the ruling out."""
        found = [finding for _step, _mark, finding in self._found()]
        return tuple(sorted(found, key=lambda one: _WORST_FIRST.index(Verdict(one.verdict))))

    def _found(self) -> Iterator[tuple[Step, Mark, Finding]]:
        for step, now in self._touched():
            if now.outcome is None or self._asks(step) or self._waits(step):
                continue
            finding = self._finding(step, now)
            if finding is not None:
                yield step, now.outcome.mark, finding

    def _clear(self) -> tuple[ClearArea, ...]:
        """By part and axle, in the order of the sheet; places that were seen to be the same stand together."""
        areas: dict[tuple[str, Axle], tuple[dict[str, list[str]], list[Mark]]] = {}
        for step, mark, finding in self._found():
            if not finding.is_clear or step.trial is None:
                continue
            places, marks = areas.setdefault((_capital(one_line(step.trial.part)), step.axle), ({}, []))
            seen = f"{finding.seen} ({finding.reason})" if finding.reason else finding.seen
            places.setdefault(seen, []).append(_with_place("", step.axle, step.corner).removeprefix(", "))
            marks.append(mark)
        return tuple(
            ClearArea(
                part,
                tuple(
                    ": ".join(filter(None, (", ".join(filter(None, where)), seen))) for seen, where in places.items()
                ),
                self._spans(marks),
            )
            for (part, _axle), (places, marks) in areas.items()
        )

    def _spans(self, marks: Sequence[Mark]) -> tuple[str, ...]:
        """Each person with the moment, or the first and the last."""
        moments: dict[str, list[int]] = {}
        for mark in marks:
            moments.setdefault(one_line(mark.name), []).append(mark.at_ms)
        return tuple(f"{who}, {self._span(min(at), max(at))}" for who, at in moments.items())

    def _span(self, first_ms: int, last_ms: int) -> str:
        first, last = (self._when(datetime.fromtimestamp(at // 1_000, UTC)) for at in (first_ms, last_ms))
        day, _comma, moment = last.rpartition(", ")
        if first == last:
            return first
        return _("{first} to {last}", first=first, last=moment if first.startswith(f"{day}, ") else last)

    def _not_told_apart(self) -> tuple[NotToldApart, ...]:
        return tuple(
            NotToldApart(finding, waits)
            for step, now in self._touched()
            if (waits := self._waits(step)) and (finding := self._finding(step, now)) is not None
        )

    def _answers(self) -> tuple[AnswerFact, ...]:
        asked = [(step.trial, now.outcome) for step, now in self._touched() if self._asks(step)]
        return tuple(
            AnswerFact(one_line(trial.part), one_line(words), one_line(outcome.reason))
            for trial, outcome in asked
            if trial is not None and outcome is not None
            for words in (next((one.words for one in trial.choices if one.key == outcome.choice), outcome.choice),)
        )

    def _waits(self, step: Step) -> tuple[str, ...]:
        return waits_for_ruling_out(suspect_table(), self.sheet, step)

    def _asks(self, step: Step) -> bool:
        return step.trial is not None and step.trial.is_question

    def _finding(self, step: Step, now: StepNow) -> Finding | None:
        if step.trial is None or now.outcome is None:
            return None
        outcome = now.outcome
        choice = next((one for one in step.trial.choices if one.key == outcome.choice), None)
        return Finding(
            part=_capital(_with_place(one_line(step.trial.part), step.axle, step.corner)),
            seen=one_line(choice.words if choice else outcome.choice),
            verdict=outcome.verdict.value,
            reason=one_line(outcome.reason),
            spoke_against=choice is None or not choice.passes,
            by=self._deed(outcome.mark),
        )

    def _watched(self) -> Iterator[str]:
        """Verdicts "watch". Where a later line of work tested the same again and judged it sound, that is said beside.

        It stays on the list: one part has several tests, and the later one need not have looked at what was seen.
        """
        tests = [(step, now.outcome) for step, now in self._touched() if step.trial is not None and now.outcome]
        for step, outcome in tests:
            finding = self._finding(step, self.sheet.step(step.id))
            if finding is None or finding.verdict != Verdict.WATCH or self._waits(step):
                continue
            again = [
                (later.mark.at_ms, other)
                for other, later in tests
                if other.line != step.line and later.mark.at_ms > outcome.mark.at_ms and _same_part(step, other)
            ]
            words = f"{finding.part}: {finding.seen}" + (f" ({finding.reason})" if finding.reason else "")
            newest = max(again, key=lambda one: one[0], default=None)
            last = self._finding(newest[1], self.sheet.step(newest[1].id)) if newest is not None else None
            if last is not None and last.is_clear:
                words += _(". Tested again {when}, sound: {seen}", when=last.by.when, seen=last.seen)
            yield words

    def _outside(self) -> Iterator[str]:
        """Values outside their window, with the later reading of the same thing where there is one that lies within."""
        read = [
            (line, step, measure, now.readings[measure.id])
            for line in self.packet.lines
            for step, now in self._touched(line)
            for measure in step.measures
            if measure.id in now.readings
        ]
        for line, step, measure, taken in read:
            if taken.within is not False:
                continue
            fact = self._measure(step, measure, taken)
            what = fact.what if not fact.step else f"{fact.step}, {fact.what}"
            window = _("outside {window}", window=fact.window) if fact.window else _("outside its window")
            words = f"{_line_title(line)}: {what}: {fact.typed}, {window}"
            later = [
                other
                for _, where, asked, other in read
                if (asked.ask, where.axle, where.corner) == (measure.ask, step.axle, step.corner)
                and other.mark.at_ms > taken.mark.at_ms
            ]
            last = max(later, key=lambda one: one.mark.at_ms, default=None)
            if last is not None and last.within:
                again = {"when": self._deed(last.mark).when, "typed": as_typed(last.text, last.unit)}
                words += _(". Read again {when}: {typed}, within", **again)
            yield words

    # --- What was done --------------------------------------------------------------------------------------------

    def _work(self) -> tuple[WorkDone, ...]:
        lines = []
        for line in self.packet.lines:
            told = [now.done for step, now in self._touched(line) if now.done and self._is_told_above(line, step, now)]
            steps = tuple(self._steps_done(line))
            lines.append(WorkDone(_line_title(line), steps, str(len(told)) if told else "", self._spans(told)))
        return tuple(line for line in lines if line.steps or line.tests)

    def _is_told_above(self, line: Line, step: Step, now: StepNow) -> bool:
        """A test of an inspection that went as it should: its answer or finding says it all."""
        plain = now.outcome is not None and not now.reopened and now.seen is None
        return line.procedure == "inspection" and step.trial is not None and plain

    def _steps_done(self, line: Line) -> Iterator[StepDoneFact]:
        for step in self.packet.steps_of_line.get(line.id, ()):
            now = self.sheet.step(step.id)
            if now.done is not None and not self._is_told_above(line, step, now):
                yield StepDoneFact(
                    title=one_line(step.title),
                    by=self._deed(now.done),
                    opened_again=bool(now.reopened),
                    looked_by=self._deed(now.seen) if now.seen else None,
                    looked=one_line(now.seen_text),
                )

    def _torques(self) -> tuple[TorquesOfLine, ...]:
        lines = [
            TorquesOfLine(
                _line_title(line),
                tuple(
                    self._torque(fastener, now.signatures[fastener.id], now.counters.get(fastener.id))
                    for step, now in self._touched(line)
                    for fastener in step.fasteners
                    if fastener.tighten is Pass.FINAL and fastener.id in now.signatures
                ),
            )
            for line in self.packet.lines
        ]
        return tuple(line for line in lines if line.torques)

    def _torque(self, fastener: Fastener, first: Signature, second: Signature | None) -> TorqueFact:
        figure = fastener.figure
        return TorqueFact(
            place=_capital(one_line(fastener.place)),
            figure=as_typed(figure.text, figure.unit) if figure else "",
            source=one_line(figure.source) if figure else "",
            reading=self._reading(fastener, first),
            second=self._reading(fastener, second) if second else None,
            new_part=first.new_part,
        )

    def _reading(self, fastener: Fastener, signature: Signature) -> TorqueReading:
        extended = signature.extension_um > 0
        return TorqueReading(
            typed=", then ".join(as_typed(text) for text in signature.texts),
            wrench=one_line(signature.wrench),
            extension=_extension(signature) if extended else "",
            at_joint=_at_joint(fastener, signature) if extended else "",
            by=self._deed(signature.mark),
        )

    def _measures(self) -> tuple[MeasuresOfLine, ...]:
        lines = [
            MeasuresOfLine(
                _line_title(line),
                tuple(
                    self._measure(step, measure, now.readings[measure.id])
                    for step, now in self._touched(line)
                    for measure in step.measures
                    if measure.id in now.readings
                ),
            )
            for line in self.packet.lines
        ]
        return tuple(line for line in lines if line.measures)

    def _measure(self, step: Step, measure: Measure, taken: Taken) -> MeasureFact:
        title, what = one_line(step.title), one_line(measure.ask)
        return MeasureFact(
            step="" if title.casefold() == what.casefold() else title,
            what=what,
            typed=as_typed(taken.text, taken.unit),
            window=one_line(measure.window_text),
            judged=_judged(taken),
            source=one_line(measure.source),
            by=self._deed(taken.mark),
        )

    def _parts(self) -> tuple[PartFact, ...]:
        """New parts of steps, each once. A fastener that was new is told with its torque, or here if it has none."""
        told = {
            fastener.place
            for step in self.packet.steps
            for fastener in step.fasteners
            if fastener.tighten is Pass.FINAL
        }
        parts = [
            PartFact(line=_line_title(line), what=_capital(what))
            for line in self.packet.lines
            for step, now in self._touched(line)
            for what in (
                *(one_line(one.what) for one in step.one_time if one.id in now.new_parts),
                *(
                    one_line(one.place)
                    for one in step.fasteners
                    if one.id in now.signatures and now.signatures[one.id].new_part and one.place not in told
                ),
            )
        ]
        return tuple(dict.fromkeys(parts))

    # --- Who, and what was said -----------------------------------------------------------------------------------

    def _notes(self) -> tuple[NoteFact, ...]:
        """The notes people wrote, in the order they were written. A photo's file name tells a customer nothing."""
        notes: list[Note] = [*self.sheet.notes, *(note for _, now in self._touched() for note in now.notes)]
        written = sorted((note for note in notes if not note.photo), key=lambda note: note.mark.at_ms)
        return tuple(NoteFact(lines_of(note.text), self._deed(note.mark)) for note in written if note.text.strip())

    def _worked(self) -> tuple[str, ...]:
        return _names(
            mark
            for _, now in self._touched()
            for mark in (
                *(taken.mark for taken in now.readings.values()),
                *((now.outcome.mark,) if now.outcome else ()),
                *(signature.mark for signature in now.signatures.values()),
                *((now.done,) if now.done else ()),
            )
        )

    def _checked(self) -> tuple[str, ...]:
        return _names(
            mark
            for _, now in self._touched()
            for mark in (*(one.mark for one in now.counters.values()), *((now.seen,) if now.seen else ()))
        )

    def _still_open(self) -> tuple[str, ...]:
        return tuple(
            _("{point} (not done)", point=one_line(point.words))
            if point.kind == "step"
            else _("{point} (not checked)", point=one_line(point.words))
            for point in open_points(self.sheet)
            if point.kind in ("step", "second_person")
        )

    def _axles(self) -> tuple[AxleFact, ...]:
        """The corners and axles that lines of work are about; measuring and looking alone draws none."""
        worked = {step.line for step, now in self._touched() if now.done is not None}
        found = [
            AxleFact(
                axle=line.axle.value,
                corner=line.corner,
                layout=layout,
                place=self.packet.layouts.get(f"{line.axle}_place", "") if layout == "air" else layout,
            )
            for line in self.packet.lines
            if line.id in worked and line.axle is not Axle.BOTH and line.id not in (OPENING_LINE, CLOSING_LINE)
            if (layout := self.packet.layouts.get(str(line.axle), ""))
        ]
        return tuple(dict.fromkeys(found))

    def _photos(self) -> tuple[PhotoFact, ...]:
        """Every photo once, in the order they were taken."""
        seen: dict[str, PhotoFact] = {}
        for title, note in photo_notes(self.sheet):
            fact = PhotoFact(note.photo, one_line(title), one_line(note.text), self._deed(note.mark))
            seen.setdefault(note.photo, fact)
        return tuple(seen.values())

    # --- Small parts ----------------------------------------------------------------------------------------------

    def _touched(self, line: Line | None = None) -> Iterator[tuple[Step, StepNow]]:
        """The steps somebody did something to, in sheet order; those of one line, or all."""
        for step in self.packet.steps if line is None else self.packet.steps_of_line.get(line.id, ()):
            if step.id in self.sheet.steps:
                yield step, self.sheet.step(step.id)

    def _deed(self, mark: Mark) -> Deed:
        at = datetime.fromtimestamp(mark.at_ms // 1_000, UTC)
        return Deed(who=one_line(mark.name), when=self._when(at))

    def _when(self, at: datetime) -> str:
        here = at.astimezone(self.zone)
        return f"{here.day} {_(_MONTHS[here.month - 1])} {here.year}, {here.hour:02d}:{here.minute:02d}"


def one_line(text: str) -> str:
    """The text on one line: what people typed never breaks the letter's own lines."""
    return " ".join(text.split())


def lines_of(text: str) -> tuple[str, ...]:
    """The lines somebody typed, without empty ones."""
    return tuple(line for line in map(one_line, text.splitlines()) if line)


def as_typed(text: str, unit: str = "") -> str:
    """What was typed or printed, with its unit once.

    A unit is added to a bare number only: "50 N·m + 90°" names its units itself. A sign-off keeps the text and the
    unit it was read as in one text ("81 lb-ft lbf·ft"); the second goes where the first can be read without it.
    """
    typed = one_line(text)
    if unit:
        bare = _BARE_NUMBER.fullmatch(typed) and unit != _COUNTED
        return _with_unit(typed, one_line(unit)) if bare else typed
    before, _, last = typed.rpartition(" ")
    if _names_its_unit(before, last):
        return before
    return _with_unit(before, last) if _BARE_NUMBER.fullmatch(before) else typed


def _with_unit(number: str, unit: str) -> str:
    """A space goes before a unit, but not before the signs of an angle (SI brochure, 9th edition, section 5.4.3)."""
    return f"{number}{unit}" if unit[:1] in _ANGLE_SIGNS else f"{number} {unit}"


def _names_its_unit(text: str, unit: str) -> bool:
    for dimension in (Dimension.TORQUE, Dimension.ANGLE):
        if unit in unit_symbols(dimension):
            try:
                parse_quantity(text, dimension)
            except TradeProblem:
                return False
            return True
    return False


def _line_title(line: Line) -> str:
    return _with_place(one_line(line.title), line.axle, line.corner)


def _with_place(words: str, axle: Axle, corner: str) -> str:
    """Add "front left" and the like where it is about one corner, unless the words say it already."""
    if not corner:
        return words
    place = one_line(corner.replace("_", " "))
    if axle is not Axle.BOTH and axle.value not in place:
        place = f"{axle.value} {place}".strip()
    missing = [word for word in place.split() if not re.search(rf"\b{re.escape(word)}\b", words, re.IGNORECASE)]
    return f"{words}, {place}" if missing else words


def _extension(signature: Signature) -> str:
    """The extension on the wrench in words, for example "150 mm at 90°"."""
    whole, rest = divmod(signature.extension_um, 1_000)
    length = f"{whole}.{rest:03d}".rstrip("0").rstrip(".")
    if signature.extension_deg == 0:
        return _("{length} mm in line", length=length)
    return _("{length} mm at {angle}°", length=length, angle=signature.extension_deg)


def _at_joint(fastener: Fastener, signature: Signature) -> str:
    """What reached the joint after the sum for the extension, to a tenth of a N·m; turns have no such sum."""
    stages = fastener.figure.stages if fastener.figure else ()
    torques = [
        value
        for index, value in enumerate(signature.values)
        if index >= len(stages) or stages[index].target_mdeg is None
    ]
    return ", then ".join(_newton_metres(value) for value in torques)


def _newton_metres(value_mnm: int) -> str:
    tenths = (value_mnm + 50) // 100
    return f"{tenths // 10}.{tenths % 10} N·m"


def _judged(taken: Taken) -> str:
    if taken.within is None:
        return ""
    return N_("within") if taken.within else N_("outside")


def _same_part(one: Step, other: Step) -> bool:
    """Whether two tests are of one part: its name, which is written with and without a capital, at the same place."""
    parts = [step.trial.part.casefold() if step.trial else "" for step in (one, other)]
    return parts[0] == parts[1] and (one.axle, one.corner) == (other.axle, other.corner)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _names(marks: Iterator[Mark]) -> tuple[str, ...]:
    """Each name once, in the order of the sheet."""
    return tuple(dict.fromkeys(one_line(mark.name) for mark in marks))


# --- Words of the trade ---------------------------------------------------------------------------------------------

# Our own words; what the parts do is common practice, no source. The pattern, in every language letters are written in,
# decides whether one uses the word.
_GLOSSES: tuple[tuple[str, str, str], ...] = (
    (
        N_("ball joint"),
        r"(?:ball[ -]joints?|rótulas?)",
        N_("a ball in a socket that lets a wheel turn and move up and down"),
    ),
    (
        N_("bushing"),
        r"(?:bushings?|casquillos?)",
        N_("a rubber or plastic sleeve between two parts that move against each other"),
    ),
    (
        N_("castle nut"),
        r"(?:castle nuts?|tuercas? almenadas?)",
        N_("a nut with slots that a pin goes through, so that it cannot turn back"),
    ),
    (
        N_("control arm"),
        r"(?:(?:control|upper|lower) arms?|brazos?)",
        N_("the link that guides a wheel as it moves up and down"),
    ),
    (
        N_("cotter pin"),
        r"(?:cotter(?:s|[ -]pins?)?|pasador(?:es)?)",
        N_("a split pin that keeps a nut from turning back"),
    ),
    (
        N_("damper"),
        r"(?:(?:dampers?|shock absorbers?)|amortiguador(?:es)?)",
        N_("the part (shock absorber) that ends swinging after a bump"),
    ),
    (N_("knuckle"), r"(?:knuckles?|manguetas?)", N_("the part that carries the wheel and its bearing")),
    (N_("camber"), r"(?:camber|caída)", N_("how far a wheel leans in or out at the top")),
    (N_("caster"), r"(?:caster|avance)", N_("how far the steering axis leans back or forward")),
    (N_("toe"), r"(?:toe|convergencia)", N_("how far the wheels of an axle point towards or away from each other")),
    (N_("play"), r"(?:play|juego)", N_("movement in a joint that should have little or none")),
    (N_("ride height"), r"(?:ride height|altura de marcha)", N_("how high the car stands on its wheels")),
    (
        N_("stabiliser bar"),
        r"(?:stabiliser|estabilizadora)",
        N_("the bar that joins left and right wheel and keeps the car level in turns"),
    ),
    (N_("strut"), r"(?:struts?|columnas?)", N_("damper and spring in one unit that also guides the wheel")),
    (
        N_("torque"),
        r"(?:(?:torques?|N·m|lbf·ft)|par)",
        N_("how hard a nut or bolt is turned; N·m and lbf·ft are its units"),
    ),
)


def _with_glosses(facts: HandbackFacts) -> HandbackFacts:
    said = "\n".join(_texts(facts))
    used = tuple(
        Gloss(_(word), _(meaning))
        for word, pattern, meaning in _GLOSSES
        if re.search(rf"(?<!\w){pattern}(?!\w)", said, re.IGNORECASE)
    )
    return replace(facts, glosses=used)


def _texts(value: object) -> Iterator[str]:
    """Every text in the facts, however deep."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from _texts(item)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _texts(getattr(value, field.name))
