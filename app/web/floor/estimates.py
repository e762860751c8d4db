"""A job's estimate: reading and printing it, making its next edition, and recording what the customer says."""

from __future__ import annotations

from decimal import Decimal
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.estimate import OfferedLine, PutBack, Way
from app.domain.packet import PriceState
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import JobState, found_first
from app.language.catalogue import LANGUAGES
from app.language.procedures import said
from app.language.speech import N_, _, known, speak, spoken
from app.texts import word
from app.trade.labour import Basis, PartCondition
from app.use_cases.answer_estimate import AnswerTyped, answer_estimate
from app.use_cases.make_estimate import MOST_LABOUR, MOST_OTHERS, MOST_PARTS, EstimateWanted, make_estimate
from app.use_cases.office import Office
from app.use_cases.propose_lines import Proposal
from app.use_cases.see_estimate import EstimateSeen, see_estimate
from app.use_cases.written_estimate import Written, coins, per_cent, plain, written
from app.web.forms import Form, read_form, read_local_time
from app.web.pages.estimate import (
    AnswerLine,
    AnswerPage,
    EstimateFormPage,
    EstimatePage,
    LineForm,
    ProposalShown,
)
from app.web.pages.floor import job_address
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Desk, TheOffice, Visitor

router = APIRouter()

SAID = {
    "made": N_("The estimate is made. Show it to the customer, then record the answer."),
    "answered": N_("The answer is recorded. The sheet follows."),
    "behind": N_("The answer is recorded, but the sheet could not follow. Open the job to see what is missing."),
}
WAYS = (
    (Way.SIGNED.value, N_("Signed here, in the field below")),
    (Way.TYPED.value, N_("Name typed and ticked here")),
    (Way.PHONE.value, N_("By telephone")),
    (Way.MAIL.value, N_("By mail")),
)
PUT_BACKS = (
    (PutBack.AS_RECEIVED.value, N_("Put back as it was received")),
    (PutBack.WAIVED.value, N_("The customer does not want it put back")),
    (PutBack.UNSAFE.value, N_("It cannot be put back, or would not be fit to leave")),
)


# --- Reading it ---------------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/estimate")
def look(
    request: Request, office: TheOffice, visitor: Desk, number: str, done: str = "", read_by: str = ""
) -> Response:
    """The newest edition; with `read_by=customer` in the customer's language, to show or print for them."""
    seen = see_estimate(office, number)
    if read_by == "customer":
        speak(seen.customer.language)
    said = _(SAID[done]) if done in SAID else ""
    return page(request, "floor/estimate.html", _page(seen, said), visitor)


@router.get("/jobs/{number}/estimate/editions/{edition}")
def look_at_edition(request: Request, office: TheOffice, visitor: Desk, number: str, edition: str) -> Response:
    if not (edition.isascii() and edition.isdigit() and len(edition) < 6):
        raise NotFound("edition", edition)
    return page(request, "floor/estimate.html", _page(see_estimate(office, number, int(edition))), visitor)


def _page(seen: EstimateSeen, said: str = "") -> EstimatePage:
    newest = seen.priced.newest
    currency = newest.currency if newest is not None else ""
    is_newest = seen.edition is newest
    states = {line: one.state for line, one in seen.priced.standing.items()}
    language = known(seen.customer.language)
    return EstimatePage(
        title=_("Estimate, job {number}", number=seen.job.number),
        number=seen.job.number,
        job_link=job_address(seen.job.number),
        written=_written(seen),
        is_newest=is_newest,
        is_open=seen.job.state is JobState.OPEN,
        has_prices=seen.prices is not None,
        earlier=[
            written(one, {}, seen.priced.answers, seen.zone, word)
            for one in reversed(seen.priced.estimates)
            if one is not seen.edition
        ],
        charges=[
            (
                seen.titles.get(one.line, one.line) + (_(": taking apart, as announced") if one.is_tear_down else ""),
                coins(one.amount_minor, currency),
            )
            for one in seen.charges
        ],
        charges_total=coins(sum(one.amount_minor for one in seen.charges), currency) if currency else "",
        waiting=[
            seen.titles[line]
            for line, state in states.items()
            if state in (PriceState.WAITING, PriceState.CHANGED) and line in seen.titles
        ],
        proposals=[_proposal(seen, one) for one in seen.proposals],
        said=said,
        other_language=LANGUAGES[language] if language != spoken() else "",
    )


def _written(seen: EstimateSeen) -> Written | None:
    if seen.edition is None:
        return None
    standing = seen.priced.standing if seen.edition is seen.priced.newest else {}
    return written(seen.edition, standing, seen.priced.answers, seen.zone, word)


def _proposal(seen: EstimateSeen, one: Proposal) -> ProposalShown:
    verdict = word(f"verdict.{one.outcome.verdict}")
    finding = f"{said(one.step.title)}: {verdict}{f', “{one.outcome.reason}”' if one.outcome.reason else ''}"
    if one.waits:
        others = ", ".join(word(f"rule_out.{key}") for key in one.waits)
        finding = _("{finding}. Not told apart yet, these are not all judged: {others}", finding=finding, others=others)
    titled = ", ".join(said(part) for part in one.title.split(", "))
    if one.on_job:
        return ProposalShown(finding, _("{title}: on this job already", title=titled), "")
    if not one.row:
        return ProposalShown(
            finding, _("There is no procedure for this here. Price it as work sent out, or tell the customer."), ""
        )
    pair = _(", left and right as a pair") if one.in_pairs else ""
    return ProposalShown(
        finding,
        _("Add {title}{pair}", title=titled, pair=pair),
        f"{job_address(seen.job.number, 'lines')}?row={quote(one.row)}",
    )


# --- Making an edition --------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/estimate/prices")
def price_it(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    seen = see_estimate(office, number)
    return _show_form(request, office, visitor, seen, FormShown(_values(seen)))


@router.post("/jobs/{number}/estimate/prices")
async def keep(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_keep, request, office, visitor, number, form)


def _keep(request: Request, office: Office, visitor: Visitor, number: str, form: Form) -> Response:
    wanted = EstimateWanted(form.kept(), _whole(form.text("edition")), form.text("form_id"))
    try:
        make_estimate(office, visitor.person_id, number, wanted)
    except Refused as refused:
        shown = sent_back(form, refused.problems)
        return _show_form(request, office, visitor, see_estimate(office, number), shown, status=422)
    return RedirectResponse(f"{job_address(number, 'estimate')}?done=made", 303)


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else -1


def _show_form(
    request: Request, office: Office, visitor: Visitor, seen: EstimateSeen, form: FormShown, *, status: int = 200
) -> Response:
    newest, prices = seen.priced.newest, seen.prices
    shown = EstimateFormPage(
        title=_("Prices of job {number}", number=seen.job.number),
        number=seen.job.number,
        lines=[_line_form(line.id, seen.titles[line.id], form) for line in found_first(seen.job.lines)],
        edition=form.value("edition") or str(newest.edition if newest is not None else 0),
        form_id=form.value("form_id") or office.new_id(),
        rate=plain(prices.rate_minor, prices.currency) if prices is not None else "",
        currency=prices.currency if prices is not None else "",
        bases=[(one.value, word(f"time_basis.{one.value}")) for one in Basis],
        conditions=[(one.value, word(f"part_condition.{one.value}")) for one in PartCondition],
        form=form,
    )
    return page(request, "floor/estimate_prices.html", shown, visitor, status=status)


def _line_form(line: str, title: str, form: FormShown) -> LineForm:
    def rows(kind: str, names: tuple[str, ...], spare: int, most: int) -> list[int]:
        filled = [n for n in range(most) if any(form.value(f"{line}.{kind}.{n}.{name}") for name in names)]
        return list(range(min(most, max(filled, default=-1) + 1 + spare)))

    return LineForm(
        line,
        title,
        rows("labour", ("text", "hours"), 1, MOST_LABOUR),
        rows("part", ("name", "number", "price"), 2, MOST_PARTS),
        rows("other", ("text", "by", "price"), 1, MOST_OTHERS),
    )


def _values(seen: EstimateSeen) -> dict[str, str]:
    """The newest edition as the form's fields."""
    newest = seen.priced.newest
    values: dict[str, str] = {}
    if newest is None:
        return values
    for line in newest.lines:
        values |= {f"{line.line}.{name}": text for name, text in _line_values(line, newest.currency).items()}
    return values


def _line_values(line: OfferedLine, currency: str) -> dict[str, str]:
    values = {"discount": per_cent(line.discount_ppm).removesuffix(" %") if line.discount_ppm else ""}
    values |= {"tear_down": line.tear_down, "free": "yes" if line.is_free else ""}
    values["tear_price"] = plain(line.tear_down_minor, currency) if line.tear_down_minor else ""
    for place, work in enumerate(line.labour):
        hours = f"{work.seconds // 3_600}:{work.seconds % 3_600 // 60:02}"
        if work.seconds % 60:
            hours = f"{Decimal(work.seconds) / 3_600:f}"
        values |= {
            f"labour.{place}.text": work.text,
            f"labour.{place}.hours": hours,
            f"labour.{place}.rate": plain(work.rate_minor, currency),
            f"labour.{place}.basis": work.basis.value,
        }
    for place, part in enumerate(line.parts):
        values |= {
            f"part.{place}.name": part.name,
            f"part.{place}.number": part.number,
            f"part.{place}.count": f"{(Decimal(part.count_milli) / 1_000).normalize():f}",
            f"part.{place}.price": plain(part.unit_minor, currency),
            f"part.{place}.condition": part.condition.value,
            f"part.{place}.exchange": "yes" if part.exchange else "",
            f"part.{place}.destroyed": "yes" if part.destroyed else "",
        }
    for place, other in enumerate(line.others):
        values |= {
            f"other.{place}.kind": other.kind.value,
            f"other.{place}.text": other.text,
            f"other.{place}.by": other.by,
            f"other.{place}.price": plain(other.price_minor, currency),
        }
    return values


# --- The customer's answer ------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/estimate/answer")
def ask(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    seen = see_estimate(office, number)
    return _show_answer(request, office, visitor, seen, FormShown({"name": seen.customer.name}))


@router.post("/jobs/{number}/estimate/answer")
async def answer(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_answer, request, office, visitor, number, form)


def _answer(request: Request, office: Office, visitor: Visitor, number: str, form: Form) -> Response:
    seen = see_estimate(office, number)
    lines = [line.id for line in found_first(seen.job.lines)]
    typed = AnswerTyped(
        edition=_whole(form.text("edition")),
        said={line: form.text(f"{line}.said") for line in lines},
        put_back={line: form.text(f"{line}.put_back") for line in lines},
        way=form.text("way"),
        name=form.text("name"),
        number=form.text("number"),
        said_at=read_local_time(form.text("said_at"), seen.zone, office.clock()),
        read_out=form.text("read_out"),
        signature=form.text("signature"),
        tick=form.text("tick") == "yes",
        old_parts=form.text("old_parts") == "yes",
        words=form.text("words"),
        id=form.text("form_id"),
    )
    try:
        done = answer_estimate(office, visitor.person_id, number, typed)
    except Refused as refused:
        shown = sent_back(form, refused.problems)
        return _show_answer(request, office, visitor, see_estimate(office, number), shown, status=422)
    said = "behind" if done.sheet_problems else "answered"
    return RedirectResponse(f"{job_address(number, 'estimate')}?done={said}", 303)


def _show_answer(
    request: Request, office: Office, visitor: Visitor, seen: EstimateSeen, form: FormShown, *, status: int = 200
) -> Response:
    if seen.priced.newest is None:
        raise Refused([Problem("estimate_none")])
    shown = written(seen.priced.newest, seen.priced.standing, seen.priced.answers, seen.zone, word)
    page_shown = AnswerPage(
        title=_("The customer's answer, job {number}", number=seen.job.number),
        number=seen.job.number,
        lines=[
            AnswerLine(one.line, one.title, one.total, one.state, one.line in seen.begun, one.warning)
            for one in shown.lines
        ],
        total=shown.total,
        edition=form.value("edition") or str(shown.edition),
        form_id=form.value("form_id") or office.new_id(),
        customer=seen.customer.name,
        phone=seen.customer.phone,
        email=seen.customer.email,
        notes=list(shown.notes),
        ways=[(key, _(words)) for key, words in WAYS],
        put_backs=[(key, _(words)) for key, words in PUT_BACKS],
        form=form,
    )
    return page(request, "floor/estimate_answer.html", page_shown, visitor, status=status)
