"""Every procedure and gate as text to read: for whoever answers for it, and for whoever wonders why a step is there."""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.grounds import fill, ground_of
from app.domain.offering import neutral_words, why_not
from app.domain.packet import Pass
from app.domain.problems import NotFound
from app.domain.procedure import Book
from app.domain.procedure_schema import CheckText as Check
from app.domain.procedure_schema import GateText, Procedure, Reckon
from app.domain.procedure_schema import StepText as Step
from app.domain.records import AxleFacts
from app.language.procedures import said
from app.language.speech import N_, _
from app.texts import say, word
from app.use_cases.in_language import book_said
from app.web.desk.condition_words import condition_words, text_words
from app.web.pages.procedures import (
    CheckText,
    GatePage,
    ProcedureLine,
    ProcedurePage,
    ProceduresPage,
    StepText,
)
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()

HELD = {
    "work": N_("held for work, so that the arm, beam or axle can still be let down"),
    "joint": N_("held so that play in joints and bushings can be felt"),
    "held": N_("raised and held"),
    "hanging": N_("wheels hanging"),
    "ride_height": N_("weight on the wheels"),
    "any": N_("any way"),
    "bench": N_("any way; the work is at the bench"),
    "step": N_("as the step is done"),
}
SCOPES = {"corner": N_("one corner"), "axle": N_("one axle"), "vehicle": N_("the whole vehicle")}
GATE_SCOPES = {
    "axle": N_("once for an axle"),
    "sheet": N_("once for the vehicle"),
    "step": N_("anew at every step that has it"),
}


@router.get("/desk/procedures")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    book = book_said(office.book)
    lines = [
        ProcedureLine(
            f"/desk/procedures/{key}", _title(one), _("on {scope}", scope=_(SCOPES[one.scope]))
            + (_(", added by itself") if one.is_frame else ""),
            _("{count} steps", count=len(one.steps)),
        )
        for key, one in sorted(book.procedures.items(), key=lambda pair: (pair[1].is_frame, _title(pair[1])))
    ]  # fmt: skip
    gates = [(f"/desk/procedures/gates/{key}", gate.title) for key, gate in book.gates.items()]
    return page(request, "desk/procedures.html", ProceduresPage(lines, gates), visitor)


@router.get("/desk/procedures/{key}")
def one(request: Request, office: TheOffice, visitor: Desk, key: str) -> Response:
    book, procedure = book_said(office.book), book_said(office.book).procedures.get(key)
    if procedure is None:
        raise NotFound("procedure", key)
    applies, refused = _layouts(book, procedure)
    shown = ProcedurePage(
        title=_title(procedure),
        about=_about(book, procedure),
        options=[_option(book, procedure, name) for name in procedure.options],
        applies=applies,
        refused=refused,
        steps=[_step(book, procedure, step, number) for number, step in enumerate(procedure.steps, 1)],
    )
    return page(request, "desk/procedure.html", shown, visitor)


@router.get("/desk/procedures/gates/{key}")
def gate(request: Request, office: TheOffice, visitor: Desk, key: str) -> Response:
    found = book_said(office.book).gates.get(key)
    if found is None:
        raise NotFound("gate", key)
    shown = GatePage(
        title=found.title,
        signal=word(f"signal.{found.signal.value}"),
        intro=text_words(found.intro, None),
        about=_gate_about(book_said(office.book), found),
        checks=[_check(book_said(office.book), one) for one in found.checks],
    )
    return page(request, "desk/gate.html", shown, visitor)


def _title(procedure: Procedure) -> str:
    title = fill(procedure.title, {key: said(one) for key, one in neutral_words(procedure, {}).items()})
    return title[:1].upper() + title[1:]


def _about(book: Book, procedure: Procedure) -> list[tuple[str, str]]:
    facts = "; ".join(" ".join(book.facts[key].ask.split()) for key in procedure.needs_facts if key in book.facts)
    rows = [
        (_("Opened on"), _(SCOPES[procedure.scope])),
        (_("Version"), str(procedure.version)),
        (_("In pairs"), _("left and right are renewed together, as a rule") if procedure.pairs else ""),
        (_("Has to be known"), facts),
    ]
    return [(label, text) for label, text in rows if text]


def _option(book: Book, procedure: Procedure, name: str) -> tuple[str, str]:
    option = procedure.options[name]
    when = condition_words(book, procedure, option.when)
    choices = ", ".join(option.choices.values())
    return text_words(option.ask, procedure), _(
        "{choices} (asked when {when})", choices=choices, when=when
    ) if when else choices


def _layouts(book: Book, procedure: Procedure) -> tuple[list[str], list[tuple[str, list[str]]]]:
    """The layouts it applies to, and for each reason against it the layouts it is against."""
    applies: list[str] = []
    refused: dict[str, list[str]] = {}
    for facts, name in _grounds(book):
        problem = why_not(book, procedure.procedure, facts)
        if problem is None:
            applies.append(name)
        else:
            refused.setdefault(say(problem), []).append(name)
    return applies, list(refused.items())


def _grounds(book: Book) -> Iterator[tuple[AxleFacts, str]]:
    """Every layout; one that stands in another's place with each of those."""
    for key, layout in book.layouts.items():
        if layout.spring_on != "as_place":
            yield AxleFacts(key), layout.name
            continue
        for place, other in book.layouts.items():
            facts = AxleFacts(key, place=place)
            if ground_of(book, facts) is not None:
                yield facts, _("{name}, in place of: {name_2}", name=layout.name, name_2=other.name)


def _step(book: Book, procedure: Procedure, step: Step, number: int) -> StepText:
    def words(text: str) -> str:
        return text_words(text, procedure)

    when = condition_words(book, procedure, step.when)
    if step.per_side:
        when = _("once for each side{what}", what=_("; when {when}", when=when) if when else "")
    elif step.per_axle:
        when = _("once for each axle{what}", what=_("; when {when}", when=when) if when else "")
    elif when:
        when = _("when {when}", when=when)
    return StepText(
        number=str(number),
        anchor=f"step-{step.key}",
        title=words(step.title),
        when=when,
        do=words(step.do),
        why=words(step.why),
        caution=words(step.caution),
        facts=[(label, lines) for label, lines in _step_facts(book, procedure, step) if lines],
        gates=[(f"/desk/procedures/gates/{key}", book.gates[key].title) for key in step.gates],
    )


def _step_facts(book: Book, procedure: Procedure, step: Step) -> Iterator[tuple[str, list[str]]]:
    def worded(text: str, when: object = None, *more: str) -> str:
        clause = condition_words(book, procedure, when)  # type: ignore[arg-type]
        parts = [text_words(text, procedure), *(part for part in more if part)]
        whole = ", ".join(parts)
        return _("{whole} (when {clause})", whole=whole, clause=clause) if clause else whole

    yield _("Held"), [_held(step.support)]
    yield (
        _("To measure"),
        [
            worded(
                one.ask, one.when, _limits(one.at_least, one.at_most), _("has to fit") if one.must else "", one.source
            )
            for one in step.measures
        ],
    )
    yield _("To tighten"), [
        worded(
            one.place, one.when, _("drawn up snug") if one.tighten is Pass.SNUG else _("to its figure"),
            "" if one.load == "step" else _held(one.load), _("new every time") if one.one_time else "",
            _("a second person reads it too") if one.critical else "",
        )
        for one in step.fasteners
    ]  # fmt: skip
    yield _("New every time"), [worded(one.what, one.when) for one in step.one_time]
    if step.trial is not None:
        yield _("To test"), [worded(choice.words, choice.when) for choice in step.trial.choices]
    yield _("Tools"), [text_words(tool, procedure) for tool in step.tools]
    yield _("Photo"), [text_words(step.photo, procedure)] if step.photo else []
    yield _("Second person"), [_("looks at it too")] if step.countersign else []


def _held(support: object) -> str:
    if isinstance(support, str) and support in HELD:
        return _(HELD[support])
    states = support if isinstance(support, tuple) else (support,)
    return _(" or ").join(word(f"support.{state}") for state in states)


def _limits(at_least: object, at_most: object) -> str:
    ends = [
        f"{label} {_('what is computed for the vehicle') if isinstance(end, Reckon) else end}"
        for label, end in ((_("at least"), at_least), (_("at most"), at_most))
        if end is not None
    ]
    return _(" and ").join(ends)


def _gate_about(book: Book, gate: GateText) -> list[tuple[str, str]]:
    stale = (
        _("the workshop's own number of minutes") if gate.stale == "shop" else _("{stale} minutes", stale=gate.stale)
    )
    rows = [
        (_("Asked"), _(GATE_SCOPES[gate.scope])),
        (_("Asked again after"), stale),
        (_("Asked again when"),
         _("the vehicle is held another way, or somebody else takes over") if gate.follows_support
         else _("somebody else takes over")),
        (_("Asked while"), _(" or ").join(word(f"support.{state.value}") for state in gate.supports)),
        (_("Only when"), condition_words(book, None, gate.when)),
        (_("Brings with it"), ", ".join(book.gates[key].title for key in gate.brings)),
    ]  # fmt: skip
    return [(label, text) for label, text in rows if text]


def _check(book: Book, check: Check) -> CheckText:
    answers = [
        f"{text_words(choice.words, None)}: {_passes(book, choice.passes)}" for choice in check.choices
    ] or [_limits(check.at_least, check.at_most) or _("in place, or not")]  # fmt: skip
    return CheckText(
        text_words(check.ask, None), condition_words(book, None, check.when), answers,
        text_words(check.otherwise, None),
    )  # fmt: skip


def _passes(book: Book, passes: object) -> str:
    if isinstance(passes, bool):
        return _("opens") if passes else _("stays shut")
    return _("opens when {condition_words}", condition_words=condition_words(book, None, passes))  # type: ignore[arg-type]
