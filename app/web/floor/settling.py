"""Settling what was set aside, with old and new side by side, and taking hold tags off."""

from __future__ import annotations

from datetime import UTC, datetime
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.packet import Step
from app.domain.problems import Refused
from app.domain.sheet import Mark, Sheet, Signature, StepNow
from app.language.speech import N_, _
from app.texts import say_ruling, word
from app.use_cases.office import Office
from app.use_cases.see_settling import AsideSeen, SheetSeen, see_aside, see_hold
from app.use_cases.settle import lift_hold, settle_aside
from app.use_cases.shop_time import at_words
from app.use_cases.tell_entry import Teller
from app.web.forms import Form, read_form
from app.web.pages.floor import AsidePage, HoldPage, Side, job_address, job_shown, step_address
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Foreman, TheOffice, Visitor

router = APIRouter()

OUTCOMES = [
    ("do_again", N_("Do it again: the work is repeated, and what is recorded then counts")),
    ("keep_as_note", N_("Keep it as a note: it stays on record and counts for nothing")),
]


# --- What was set aside -------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/asides/{aside}")
def look(request: Request, office: TheOffice, visitor: Foreman, number: str, aside: str) -> Response:
    return _show_aside(request, office, visitor, see_aside(office, number, aside), aside, FormShown())


@router.post("/jobs/{number}/asides/{aside}")
async def settle(request: Request, office: TheOffice, visitor: Foreman, number: str, aside: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_settle, request, office, visitor, number, aside, form)


def _settle(request: Request, office: Office, visitor: Visitor, number: str, aside: str, form: Form) -> Response:
    job = see_aside(office, number, aside).seen.job
    try:
        settle_aside(
            office, visitor.person_id, job.id, aside, form.text("outcome"), form.text("reason"), form.text("id")
        )
    except Refused as refused:
        shown = sent_back(form, refused.problems)
        return _show_aside(request, office, visitor, see_aside(office, number, aside), aside, shown, status=422)
    return back_to_floor("settled", job.number)


def back_to_floor(done: str, number: str) -> Response:
    return RedirectResponse(f"/floor?done={done}&job={quote(number, safe='')}", 303)


def _show_aside(
    request: Request,
    office: Office,
    visitor: Visitor,
    found: AsideSeen,
    key: str,
    form: FormShown,
    *,
    status: int = 200,
) -> Response:
    seen, one = found.seen, found.aside
    told = Teller(seen.packets, seen.sheet, word).tell(found.row.heard.entry)
    title = found.now.title if found.now is not None else ""
    number = seen.job.number
    shown = AsidePage(
        title=_("Set aside on job {number}", number=number),
        job=job_shown(seen.shown),
        words=_("{name} was told: “{say_ruling}”", name=one.mark.name, say_ruling=say_ruling(one.reason, one.details)),
        itself=one.reason in office.rules.table.settles_itself,
        step_title=title,
        step_link=step_address(number, one.step) if title else "",
        old=Side(
            _("What {name} sent", name=one.mark.name),
            when_words(seen, one.mark),
            [_sentence(told.words), *told.details],
        ),
        new=Side(_("What the sheet has now"), "", _now_lines(seen, found, one.target)),
        before=_step_lines(found.before) if found.before is not None else [],
        now=_step_lines(found.now) if found.before is not None and found.now is not None else [],
        settled=_settled_words(seen, found),
        outcomes=[(key, _(words)) for key, words in OUTCOMES],
        action=job_address(number, f"asides/{quote(key, safe='')}"),
        entry_id=form.value("id") or office.new_id(),
        form=form,
    )
    return page(request, "floor/aside.html", shown, visitor, status=status)


def when_words(seen: SheetSeen, mark: Mark) -> str:
    return at_words(datetime.fromtimestamp(mark.at_ms / 1_000, UTC), seen.now, seen.zone)


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _settled_words(seen: SheetSeen, found: AsideSeen) -> str:
    one = found.aside
    if one.settled is None:
        return ""
    how = word(f"outcome.{one.outcome}")
    reason = f": {one.settled_reason}" if one.settled_reason else ""
    return _(
        "{name} settled this, {when_words}: {how}{reason}",
        name=one.settled.name,
        when_words=when_words(seen, one.settled),
        how=how,
        reason=reason,
    )


def _now_lines(seen: SheetSeen, found: AsideSeen, target: str) -> list[str]:
    """What the sheet holds about the same thing."""
    one = found.aside
    if one.step:
        if found.now is None:
            return [_("This step is no longer on the sheet.")]
        return _step_now_lines(seen, found.now, seen.sheet.step(one.step), target)
    gate = seen.sheet.gates.get(target)
    if gate is not None:
        state = _("stands open") if gate.cleared_at_ms is not None else _("is shut")
        return [_("The gate {state}; {name} answered it last.", state=state, name=gate.name)]
    return _sheet_lines(seen.sheet)


def _sheet_lines(sheet: Sheet) -> list[str]:
    if sheet.handed_back is not None:
        return [_("{name} has handed the job back.", name=sheet.handed_back.name)]
    return [_("The vehicle is {what}.", what=word(f"support.{sheet.support.state}"))]


def _step_now_lines(seen: SheetSeen, step: Step, now: StepNow, target: str) -> list[str]:
    def by(mark: Mark) -> str:
        return f"{mark.name}, {when_words(seen, mark)}"

    lines = [_("Closed by {by}.", by=by(now.done))] if now.done is not None else [_("The step is open.")]
    for measure in step.measures:
        taken = now.readings.get(measure.id)
        if taken is not None and target in ("", measure.id):
            lines.append(f"{measure.ask}: {taken.text} {taken.unit}. {by(taken.mark)}")
    for fastener in step.fasteners:
        if target in ("", fastener.id):
            lines += [
                f"{fastener.place}, {which}: {_reading(one)}. {by(one.mark)}"
                for which, kept in ((_("first reading"), now.signatures), (_("second reading"), now.counters))
                if (one := kept.get(fastener.id)) is not None
            ]
            lines += (
                [_("Figure: {what}, {source}.", what=fastener.figure.text, source=fastener.figure.source)]
                if fastener.figure
                else []
            )
    if now.outcome is not None:
        lines.append(_("Test: {what}. {by}", what=word(f"verdict.{now.outcome.verdict}"), by=by(now.outcome.mark)))
    if now.seen is not None:
        lines.append(_("Looked at by {by}: {seen_text}", by=by(now.seen), seen_text=now.seen_text))
    return lines


def _reading(one: Signature) -> str:
    texts = _(", then ").join(one.texts) if one.texts else word(f"pass_done.{one.tighten}")
    return _("{texts}, wrench {wrench}", texts=texts, wrench=one.wrench) if one.wrench else texts


def _step_lines(step: Step) -> list[str]:
    """A step as a person reads it, for comparing two editions of it."""
    lines = [step.title, *(line for line in step.do.split("\n") if line.strip())]
    lines += [f"{one.ask} {one.window_text}".strip() for one in step.measures]
    for one in step.fasteners:
        figure = f"{one.figure.text} ({one.figure.source})" if one.figure is not None else _("no figure")
        lines.append(f"{one.place}: {word(f'pass.{one.tighten}')}, {figure}")
    lines += [_("New every time: {what}", what=one.what) for one in step.one_time]
    return lines


# --- Hold tags ----------------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/holds/{hold}")
def look_at_hold(request: Request, office: TheOffice, visitor: Foreman, number: str, hold: str) -> Response:
    return _show_hold(request, office, visitor, number, hold, FormShown())


@router.post("/jobs/{number}/holds/{hold}")
async def lift(request: Request, office: TheOffice, visitor: Foreman, number: str, hold: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_lift, request, office, visitor, number, hold, form)


def _lift(request: Request, office: Office, visitor: Visitor, number: str, hold: str, form: Form) -> Response:
    seen, _ = see_hold(office, number, hold)
    try:
        lift_hold(office, visitor.person_id, seen.job.id, hold, form.text("reason"), form.text("id"))
    except Refused as refused:
        shown = sent_back(form, refused.problems)
        return _show_hold(request, office, visitor, number, hold, shown, status=422)
    return back_to_floor("lifted", seen.job.number)


def _show_hold(
    request: Request, office: Office, visitor: Visitor, number: str, key: str, form: FormShown, *, status: int = 200
) -> Response:
    seen, hold = see_hold(office, number, key)
    step = seen.sheet.packet.step_by_id.get(hold.step) if seen.sheet.packet is not None else None
    lifted = ""
    if hold.lifted is not None:
        lifted = _(
            "{name} took it off, {when_words}: {lifted_reason}",
            name=hold.lifted.name,
            when_words=when_words(seen, hold.lifted),
            lifted_reason=hold.lifted_reason,
        )
    shown = HoldPage(
        title=_("Hold tag on job {number}", number=seen.job.number),
        job=job_shown(seen.shown),
        where=_("on “{title}”", title=step.title) if step is not None else _("on the whole sheet"),
        reason=hold.reason,
        by=f"{hold.mark.name}, {when_words(seen, hold.mark)}",
        lifted=lifted,
        step_link=step_address(seen.job.number, hold.step) if step is not None else "",
        action=job_address(seen.job.number, f"holds/{quote(key, safe='')}"),
        entry_id=form.value("id") or office.new_id(),
        form=form,
    )
    return page(request, "floor/hold.html", shown, visitor, status=status)
