"""A wrench found out of true, or a figure corrected: what was tightened so, what it really was, and whom to call.

Asking changes nothing. `open_rechecks` opens one job for each vehicle on which a joint left its window and stands so.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.domain.packet import Axle, Packet
from app.domain.problems import NotFound, Refused
from app.domain.records import RECHECK, FigureRecord, Job, JobLine, JobState
from app.domain.tracing import Traced, with_figure, with_wrench
from app.ports import Unit, Whose
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import AsFound
from app.trade.units import show
from app.use_cases.calibrate_tool import last_good, out_of_true_words
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.open_job import COMPLAINT_LIMIT, JobWanted, open_job
from app.use_cases.shop_time import date_words


@dataclass(frozen=True, slots=True)
class Recall:
    """What a recall found, in the order heard. `key` names it for ever; `why` tells its reason in one sentence.

    since: the day from which it counts; None = from the first entry on, because nothing older is known.
    """

    key: str
    why: str
    unit: str
    since: date | None
    traced: Sequence[Traced]
    whose: Mapping[str, Whose]
    zone: ZoneInfo
    figure: str = ""

    @property
    def by_vehicle(self) -> dict[str, list[Traced]]:
        """What wants a re-check, by vehicle, in the order heard."""
        found: dict[str, list[Traced]] = {}
        for one in self.traced:
            if one.wants_recheck and one.use.job in self.whose:
                found.setdefault(self.whose[one.use.job].vehicle, []).append(one)
        return found


def since_ms(day: date | None, zone: ZoneInfo) -> int:
    """The first instant of a day where the shop is: what was tightened on the day itself is traced too."""
    return 0 if day is None else int(datetime.combine(day, time(), zone).timestamp()) * 1_000


def recall_wrench(office: Office, calibration_id: str) -> Recall:
    """Everything read off a wrench since it was last good, as it was found. Raises: NotFound."""
    with office.store.reading() as unit:
        calibration = unit.calibrations.get(calibration_id)
        tool = unit.tools.get(calibration.tool) if calibration is not None else None
        if calibration is None or tool is None:
            raise NotFound("calibration", calibration_id)
        zone = zone_of(the_shop(unit))
        # What is known now, and what was known then: the tool's own day has moved on since.
        known = (last_good(tool, unit.calibrations.where(tool=tool.id), calibration.done_on), calibration.good_on)
        since = max((day for day in known if day is not None), default=None)
        uses, whose = unit.uses.of_tool(tool.tag, since_ms(since, zone))
    if calibration.adjusted:
        # Set right on that day: what was tightened afterwards was tightened with a wrench found true.
        until = since_ms(calibration.done_on + timedelta(days=1), zone)
        uses = [one for one in uses if one.heard_at_ms < until]
    found = AsFound([(_torque(one.set_mnm), _torque(one.measured_mnm)) for one in calibration.points])
    why = f"Wrench {tool.tag}: {out_of_true_words(calibration)}."
    return Recall(f"calibration:{calibration.id}", why, tool.unit, since, with_wrench(uses, found), whose, zone)


def recall_figure(office: Office, figure_id: str) -> Recall:
    """Everything signed against an edition of a figure, judged by the newest that counts. Raises: NotFound.

    When no other edition counts there is no window, and nothing can be said to have left it.
    """
    with office.store.reading() as unit:
        old = unit.figures.get(figure_id)
        if old is None:
            raise NotFound("figure", figure_id)
        editions = unit.figures.where(model=old.model, axle=old.axle, place_key=old.place_key)
        new = max((one for one in editions if one.counts and one.edition > old.edition), key=_edition, default=None)
        uses, whose = unit.uses.of_figure(old.id)
        zone = zone_of(the_shop(unit))
    stages = dict(enumerate(new.stages)) if new is not None else {}
    now = (
        f"corrected to {new.text} (edition {new.edition})"
        if new is not None
        else "no longer in force, no new one counts"
    )
    why = f"Figure {old.text} for {old.model}, edition {old.edition}: {now}."
    return Recall(
        f"figure:{old.id}:{new.id if new else ''}", why, old.unit, None, with_figure(uses, stages), whose, zone, old.id
    )


def corrected_figures(unit: Unit) -> list[FigureRecord]:
    """Editions that joints were signed against and that are no longer the newest that counts."""
    newest: dict[tuple[str, Axle, str], int] = {}
    figures = unit.figures.all()
    for one in figures:
        if one.counts:
            key = (one.model, one.axle, one.place_key)
            newest[key] = max(newest.get(key, 0), one.edition)
    old = [
        one
        for one in figures
        if one.compared_by is not None and one.edition != newest.get((one.model, one.axle, one.place_key))
    ]
    return [one for one in old if unit.uses.of_figure(one.id)[0] or pinned_to(unit, one.id)]


def pinned_to(unit: Unit, figure_id: str) -> list[Job]:
    """The open jobs whose sheet holds this edition of a figure."""
    if not figure_id:
        return []
    found = []
    for job in unit.jobs.where(state=JobState.OPEN):
        sheet = unit.sheets.get(job.id)
        steps = sheet.packet.steps if sheet is not None and sheet.packet is not None else ()
        figures = {one.figure.id for step in steps for one in step.fasteners if one.figure is not None}
        if figure_id in figures:
            found.append(job)
    return found


def _edition(one: FigureRecord) -> int:
    return one.edition


def _torque(mnm: int) -> Quantity:
    return Quantity(Dimension.TORQUE, mnm)


def torque_words(mnm: int, unit: str) -> str:
    return show(Quantity(Dimension.TORQUE, mnm), unit, 1)


def window_words(low: int | None, high: int | None, unit: str) -> str:
    if low is None or high is None:
        return "no window"
    return f"{torque_words(low, unit)} to {torque_words(high, unit)}"


# --- A job for each vehicle --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Rechecks:
    """The jobs opened now, the numbers of those that were there before, and the plates for which none could be."""

    opened: tuple[Job, ...]
    there: tuple[str, ...]
    not_possible: tuple[tuple[str, str], ...]


def recheck_id(recall: Recall, vehicle: str) -> str:
    """The id of the re-check of one vehicle for one recall: the same however often it is asked for."""
    digest = hashlib.sha256(f"{recall.key}|{vehicle}".encode()).hexdigest()
    return f"{RECHECK}{digest[:32]}"


def open_rechecks(office: Office, person: str, recall: Recall) -> Rechecks:
    """Open a job for each vehicle on which a joint left its window and stands so. Asked twice, none is made twice.

    A vehicle whose re-check is open gets no second one; each job is opened in a transaction of its own, and one that
    cannot be is named.
    """
    opened, there, not_possible = [], [], []
    for vehicle, traced in recall.by_vehicle.items():
        wanted_id = recheck_id(recall, vehicle)
        with office.store.reading() as unit:
            before = unit.jobs.get(wanted_id)
            lines = _lines(office, unit, traced)
        if before is not None:
            there.append(before.number)
            continue
        wanted = JobWanted(vehicle, story(recall, traced), None, None, lines, wanted_id)
        try:
            opened.append(open_job(office, person, wanted))
        except Refused as refused:
            plate = recall.whose[traced[0].use.job].plate
            not_possible.append((plate, refused.problems[0].code))
    return Rechecks(tuple(opened), tuple(there), tuple(not_possible))


def _lines(office: Office, unit: Unit, traced: Sequence[Traced]) -> tuple[JobLine, ...]:
    """A line for each joint, each once, however many stages or second readings of it left their window.

    A joint that the re-check's procedure does not list is not guessed at: it is in the story alone.
    """
    known = office.book.procedures["recheck"].options["checked"].choices
    lines: dict[tuple[Axle, tuple[tuple[str, str], ...]], JobLine] = {}
    for one in traced:
        where = _where(unit, one)
        if where is not None and dict(where[1])["checked"] in known:
            axle, options = where
            lines.setdefault((axle, options), JobLine("", "recheck", axle, "", options))
    return tuple(lines.values())


def _where(unit: Unit, one: Traced) -> tuple[Axle, tuple[tuple[str, str], ...]] | None:
    """The axle, and the joint and its side as the re-check asks for them, from the sheet it was signed on."""
    sheet = unit.sheets.get(one.use.job)
    packet: Packet | None = sheet.packet if sheet is not None else None
    step = packet.step_by_id.get(one.use.step) if packet is not None else None
    fastener = next((each for each in step.fasteners if each.id == one.use.fastener), None) if step else None
    if step is None or fastener is None:
        return None
    side = next((name for name in ("left", "right") if step.corner.endswith(name)), "middle")
    key = fastener.figure_key.rpartition("/")[2]
    return step.axle, (("checked", key), ("where", side))


def story(recall: Recall, traced: Sequence[Traced]) -> str:
    """Why the vehicle comes back, for whoever reads the job: as much of it as a complaint holds, the rest counted."""
    lines = [f"Re-check. {recall.why}"]
    left = len(traced)
    for one in traced:
        said = _line(recall, one)
        rest = f"And {left} more: see Tracing."
        if sum(map(len, lines)) + len(lines) + len(said) + len(rest) + 2 > COMPLAINT_LIMIT:
            lines.append(rest)
            break
        lines.append(said)
        left -= 1
    return "\n".join(lines)


def _line(recall: Recall, one: Traced) -> str:
    use, whose = one.use, recall.whose[one.use.job]
    day = date_words(datetime.fromtimestamp(use.heard_at_ms / 1_000, recall.zone).date())
    second = "" if use.is_first else " (second reading)"
    return (
        f"Job {whose.number}, {day}: {use.place}{second}, read {use.text}, really "
        f"{torque_words(one.given, recall.unit)}; window {window_words(use.low, use.high, recall.unit)}."
    )
