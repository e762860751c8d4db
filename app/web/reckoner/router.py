"""The Reckoner's pages: the list of sums, and one page for each. For everyone who is signed in, with no job open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import NotFound
from app.language.speech import _
from app.trade.quantity import Quantity
from app.trade.units import show, unit_symbols
from app.use_cases.office import Office, the_shop, zone_of
from app.web.forms import FIELD_LIMIT, Told, clean, read_form, told
from app.web.pages.reckoner import (
    Block,
    FieldShown,
    LineShown,
    Option,
    ReckonerPage,
    RowShown,
    SumGroup,
    SumLink,
    SumPage,
)
from app.web.reckoner.catalogue import GROUPS, SUMS
from app.web.reckoner.reading import Outcome, cell, names_of, prefilled, reckon
from app.web.reckoner.sums import Amount, Asked, Day, Given, Pick, Rows, Sum, Word
from app.web.reckoner.wording import worded
from app.web.rendering import fragment, page, wants_fragment
from app.web.security import Anyone, TheOffice, Visitor

router = APIRouter()


@router.get("/reckoner")
def list_sums(request: Request, visitor: Anyone) -> Response:
    groups = [
        SumGroup(_(group.title), [SumLink(_(one.title), _(one.asks), f"/reckoner/{one.slug}") for one in group.sums])
        for group in GROUPS
    ]
    return page(request, "reckoner/list.html", ReckonerPage(groups), visitor)


@router.get("/reckoner/{slug}")
def show_sum(request: Request, office: TheOffice, visitor: Anyone, slug: str) -> Response:
    """A sum with what the address carries; so that a result can be linked to and needs no script."""
    asked = {name: clean(value)[:FIELD_LIMIT] for name, value in request.query_params.items()}
    return _answer(request, office, visitor, slug, asked)


@router.post("/reckoner/{slug}")
async def send_sum(request: Request, office: TheOffice, visitor: Anyone, slug: str) -> Response:
    """The same with more than an address holds: a pasted trace. Nothing is recorded."""
    form = await read_form(request, visitor)
    return _answer(request, office, visitor, slug, form.kept())


def _answer(request: Request, office: Office, visitor: Visitor, slug: str, asked: Mapping[str, str]) -> Response:
    one = SUMS.get(slug)
    if one is None:
        raise NotFound("sum", slug[:40])
    shown = _sum_page(one, {name: asked[name] for name in names_of(one) if name in asked}, _today(office))
    status = 422 if shown.told.problems else 200
    if wants_fragment(request):
        return fragment(request, "reckoner/_sum.html", shown, visitor, status=status)
    return page(request, "reckoner/sum.html", shown, visitor, status=status)


def _today(office: Office) -> str:
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    return office.clock().astimezone(zone).date().isoformat()


def _sum_page(one: Sum, asked: Mapping[str, str], today: str) -> SumPage:
    typed = {**dict.fromkeys(prefilled(one), today), **asked}
    outcome = reckon(one, typed)
    problems = told(outcome.problems)
    result = outcome.result
    lines = [LineShown(line.label, line.text, line.note) for line in result.lines] if result else []
    return SumPage(
        title=_(one.title),
        asks=_(one.asks),
        slug=one.slug,
        is_posted=one.is_posted,
        blocks=[_block(each, typed, problems) for each in one.inputs],
        told=problems,
        lines=lines,
        said=list(result.said) if result else [],
        assumed=[*_assumed(one, outcome), *(result.assumed if result else ())],
        inputs_read=_read_as(one, outcome.given) if result else [],
        cautions=tuple(_(line) for line in one.cautions),
        danger=one.danger,
        formula=tuple(_(line) for line in one.formula),
        valid=_(one.valid),
        sources=one.sources,
        picture=f"reckoner/pictures/{one.picture}.svg",
        drawing={**one.drawing, **(result.drawing if result else {})},
        shims=result.shims if result else None,
        example_link=f"/reckoner/{one.slug}?{urlencode(one.example.typed)}#answer",
        example_inputs=_example_inputs(one),
        example_figure=_(one.example.figure),
        example_source=one.example.source,
        speak=_speak(outcome, lines),
        link="" if one.is_posted or not lines else f"/reckoner/{one.slug}?{urlencode(_told_apart(typed))}",
    )


def _told_apart(typed: Mapping[str, str]) -> dict[str, str]:
    """What was filled in: the fields left empty need no place in an address."""
    return {name: text for name, text in typed.items() if text.strip()}


def _speak(outcome: Outcome, lines: list[LineShown]) -> str:
    if outcome.problems:
        return _("Not reckoned yet. Look at the fields that are marked.")
    return f"{lines[0].label}: {lines[0].text}" if lines else ""


def _assumed(one: Sum, outcome: Outcome) -> list[str]:
    """What was taken for each input that was left empty, in words."""
    if outcome.result is None or outcome.given is None:
        return []
    given = outcome.given
    return [f"{_(each.label)}: {_(each.assumed)}" for each in one.inputs if each.assumed and not given.has(each.name)]


def _read_as(one: Sum, given: Given | None) -> list[LineShown]:
    """Each amount as it was understood: as typed, and in the other unit."""
    found = []
    for each in one.inputs:
        value = given.values.get(each.name) if given is not None else None
        if isinstance(value, Quantity):
            other = worded(value, value).partition(" (")[2].rstrip(")")
            found.append(LineShown(_(each.label), show(value), other))
    return found


# -----------------------------------------------------------------------------------------------------------
# Fields


def _block(asked: Asked, typed: Mapping[str, str], problems: Told) -> Block:
    if not isinstance(asked, Rows):
        return Block(_field(asked, asked.name, _(asked.label), typed, problems))
    rows = [
        RowShown(
            f"{_(asked.row)} {row}",
            [
                _field(column, cell(asked, row, column), _capital(_(column.label)), typed, problems)
                for column in asked.columns
            ],
        )
        for row in range(1, asked.at_most + 1)
    ]
    shown = max(asked.at_least, 2, *(place for place, row in enumerate(rows, 1) if any(f.typed for f in row.fields)), 0)
    return Block(None, _(asked.label), _(asked.hint), tuple(rows[:shown]), tuple(rows[shown:]))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _field(asked: Asked, name: str, label: str, typed: Mapping[str, str], problems: Told) -> FieldShown:
    words = f"{label} {asked.symbol}".strip()
    text = typed.get(name, "")
    trouble = problems.by_field.get(name, "")
    hint = " ".join(_hints(asked))
    match asked:
        case Amount():
            units = dict.fromkeys(symbol for kind in asked.kinds for symbol in unit_symbols(kind)[:4])
            unit = "" if asked.unit == "1" else asked.unit
            return FieldShown(
                "amount", name, name, words, hint, trouble, text, unit, "|".join(u for u in units if u != "1")
            )
        case Word(lines=True):
            return FieldShown("lines", name, name, words, hint, trouble, text, longest=asked.longest)
        case Pick():
            options = tuple(Option(key, _(said), key == text) for key, said in asked.options)
            return FieldShown("pick", name, name, words, hint, trouble, text, options=options)
        case Day():
            return FieldShown("day", name, name, words, hint, trouble, text)
        case _:
            return FieldShown("word", name, name, words, hint, trouble, text)


def _hints(asked: Asked) -> Iterable[str]:
    if asked.hint:
        yield _(asked.hint)
    if asked.assumed:
        yield _("Left empty: {assumed}.", assumed=_(asked.assumed))
    elif asked.optional and "empty" not in asked.hint:
        yield _("May be left empty.")


def _example_inputs(one: Sum) -> list[LineShown]:
    labels: dict[str, str] = {}
    for asked in one.inputs:
        if isinstance(asked, Rows):
            for row in range(1, asked.at_most + 1):
                labels |= {cell(asked, row, each): f"{_(asked.row)} {row}, {_(each.label)}" for each in asked.columns}
        else:
            labels[asked.name] = _(asked.label)
    picks = {
        asked.name: {key: _(said) for key, said in asked.options} for asked in one.inputs if isinstance(asked, Pick)
    }
    return [
        LineShown(labels[name], picks.get(name, {}).get(text, text if "\n" not in text else _("a recording of it")), "")
        for name, text in one.example.typed.items()
    ]
