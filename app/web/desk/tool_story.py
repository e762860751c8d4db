"""What is known of one tool: who has it, what happened to it, its calibrations, how much it was used since."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from app.domain.records import Calibration, Mishap, Tool, ToolEvent, ToolKind
from app.language.speech import _
from app.ports import Unit
from app.texts import word
from app.use_cases.borrow_tool import open_loan
from app.use_cases.calibrate_tool import is_true_again, last_good, percent_words
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.shop_time import at_words, date_words
from app.use_cases.trace_uses import since_ms


@dataclass(frozen=True, slots=True)
class MishapShown:
    id: str
    kind: str
    words: str
    torque: str
    reported: str
    seen: str
    seen_words: str
    wants_calibration: bool


@dataclass(frozen=True, slots=True)
class CalibrationShown:
    done_on: str
    verdict: str
    done_by: str
    document: str
    due: str
    allowed: str
    points: tuple[str, ...]
    paper: str
    paper_name: str
    trace: str


@dataclass(frozen=True, slots=True)
class ToolStory:
    tag: str = ""
    link: str = ""
    holder: str = ""
    since: str = ""
    mishaps: tuple[MishapShown, ...] = ()
    calibrations: tuple[CalibrationShown, ...] = ()
    uses: int = 0
    since_good: str = ""


def see_tool(office: Office, unit: Unit, tool: Tool) -> ToolStory:
    now, zone = office.clock(), zone_of(the_shop(unit))
    loan = open_loan(unit, tool.id)
    names = {one.id: one.name for one in unit.people.all()}
    calibrations = sorted(unit.calibrations.where(tool=tool.id), key=lambda one: one.done_on, reverse=True)
    good = last_good(tool, calibrations, None)
    uses = unit.uses.of_tool(tool.tag, since_ms(good, zone))[0] if tool.kind is ToolKind.TORQUE_WRENCH else ()

    def mishap(one: ToolEvent) -> MishapShown:
        by, at = names.get(one.reported_by, ""), at_words(one.reported_at, now, zone)
        seen = f"{names.get(one.seen_by or '', '')}, {at_words(one.seen_at, now, zone)}" if one.seen_at else ""
        wants = tool.kind is ToolKind.TORQUE_WRENCH and one.kind is not Mishap.OTHER
        return MishapShown(
            one.id, word(f"mishap.{one.kind}"), one.words, one.torque_text, f"{by}, {at}", seen, one.seen_words, wants
        )

    return ToolStory(
        tag=tool.tag,
        link=f"/tools/{quote(tool.tag, safe='')}",
        holder=names.get(loan.person, "") if loan else "",
        since=at_words(loan.taken_at, now, zone) if loan else "",
        mishaps=tuple(mishap(one) for one in reversed(unit.tool_events.where(tool=tool.id))),
        calibrations=tuple(_calibration(one) for one in calibrations),
        uses=len(uses),
        since_good=date_words(good) if good else "",
    )


def _calibration(one: Calibration) -> CalibrationShown:
    verdict = _("true") if one.passes else (_("out of true, set right") if is_true_again(one) else _("out of true"))
    return CalibrationShown(
        done_on=date_words(one.done_on),
        verdict=verdict,
        done_by=one.done_by,
        document=one.document,
        due=date_words(one.due_on) if one.due_on else "",
        allowed=f"±{one.allowed_ppm // 10_000} %",
        points=tuple(
            _(
                "set {set_text}, measured {measured_text}, {percent_words}",
                set_text=point.set_text,
                measured_text=point.measured_text,
                percent_words=percent_words(point.deviation_ppm),
            )
            for point in one.points
        ),
        paper=f"/desk/tools/certificates/{one.certificate}" if one.certificate else "",
        paper_name=one.certificate_name,
        trace="" if one.passes else f"/desk/tracing/calibrations/{one.id}",
    )
