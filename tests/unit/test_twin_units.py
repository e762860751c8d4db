"""What people type as a quantity: taken alike by the tablet and the office, or refused by both in the same words.

The office asks pint about units outside the table; the tablet cannot, so here the office is kept from it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.trade import units
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import TABLE, TABLE_PATH, both, parse_quantity, show, unit_symbols
from tests.builders import ROOT
from tests.js_engine import Engine

TABLE_TEXT = TABLE_PATH.read_text(encoding="utf-8")
FILE: dict[str, Any] = json.loads((ROOT / "shared" / "vectors" / "quantities.json").read_text(encoding="utf-8"))
MANY = settings(max_examples=1_500, deadline=None)
DIMENSIONS = st.sampled_from(Dimension)

_DRIVER = """{
const { Units, TradeProblem } = modules["units.js"];
const units = new Units(JSON.parse(%s));
const told = (work) => {
  try {
    return JSON.stringify(work());
  } catch (error) {
    if (!(error instanceof TradeProblem)) throw error;
    const { code, argument, details } = error;
    return JSON.stringify({ problem: { code, argument, details } });
  }
};
globalThis.parsed = (text, dimension, defaultUnit) => told(() => units.parseQuantity(text, dimension, { defaultUnit }));
globalThis.shown = (quantity, unit, places) => told(() => units.show(quantity, unit, places));
globalThis.shownBoth = (quantity, unit) => told(() => units.both(quantity, unit));
globalThis.symbols = (dimension) => told(() => units.unitSymbols(dimension));
}"""


@pytest.fixture(scope="module")
def tablet() -> Engine:
    engine = Engine("units.js")
    engine.run(_DRIVER % json.dumps(TABLE_TEXT))
    return engine


@pytest.fixture(autouse=True, scope="module")
def no_units_outside_the_table() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(units, "_pint_unit", lambda key, dimension: "")
        yield


def by_tablet(engine: Engine, function: str, *arguments: Any) -> Any:
    given_arguments = json.dumps(json.dumps(arguments))
    return json.loads(engine.run(f"{function}(...JSON.parse({given_arguments}))"))


def by_office(text: str, dimension: Dimension, default_unit: str) -> dict[str, Any]:
    try:
        return plain(parse_quantity(text, dimension, default_unit=default_unit))
    except TradeProblem as problem:
        details = dict(problem.details)
        return {"problem": {"code": problem.code, "argument": problem.argument, "details": details}}


def plain(quantity: Quantity) -> dict[str, Any]:
    return {
        "dimension": str(quantity.dimension),
        "value": quantity.value,
        "unit": quantity.unit,
        "text": quantity.text,
    }


# --- The filed cases -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", FILE["understood"], ids=lambda case: f"{case['text']} {case['dimension']}")
def test_the_tablet_takes_what_is_typed_for_what_it_is(tablet: Engine, case: dict[str, Any]):
    taken = by_tablet(tablet, "parsed", case["text"], case["dimension"], case["default_unit"])

    assert (taken.get("value"), taken.get("unit")) == (case["value"], case["unit"])


@pytest.mark.parametrize("case", FILE["refused"], ids=lambda case: f"{case['text'][:20]} {case['dimension']}")
def test_the_tablet_refuses_what_cannot_be_taken(tablet: Engine, case: dict[str, Any]):
    problem = by_tablet(tablet, "parsed", case["text"], case["dimension"], case["default_unit"])["problem"]

    assert problem["code"] == case["code"]
    assert problem["details"].get("reason", "") == case["reason"]


# --- Made-up typing --------------------------------------------------------------------------------------------------

SPELLINGS = st.sampled_from(sorted({text for of in TABLE.values() for text in (*of.by_symbol, *of.exact, *of.refused)}))
NUMBERS = st.one_of(
    st.integers(0, 2_000).map(str),
    st.from_regex(r"[0-9]{1,4}[.,][0-9]{1,4}", fullmatch=True),
    st.from_regex(r"[0-9]{1,3}([., ][0-9]{3}){1,3}([.,][0-9]{1,2})?", fullmatch=True),
    st.from_regex(r"([0-9]{1,2}[ -])?[0-9]{1,2} ?/ ?[0-9]{1,2}", fullmatch=True),
    st.from_regex(r"[0-9]{1,2}[eE][+-]?[0-9]{1,2}", fullmatch=True),
    st.sampled_from(["½", "1½", "1 ⅝", "0", "00", ".5", "5.", "1.2.3", "1,2,3", "1e16", "nan", "ınf", "∞", "1e-15"]),
)
GAPS = st.sampled_from(["", " ", " ", "  ", "\u00a0", "-", " - ", "\n", "'", "/", " per "])
SIGNS = st.sampled_from(["", "", "", "-", "+", "−", "±"])
CASES = st.sampled_from([str, str, str.upper, str.lower, str.title])


@st.composite
def typed(draw: st.DrawFn) -> str:
    """One to three numbers with their units, spelled and spaced in every way the table knows, or nearly."""
    text = draw(SIGNS)
    for _ in range(draw(st.sampled_from([1, 1, 1, 2, 2, 3]))):
        text += draw(NUMBERS) + draw(GAPS) + draw(CASES)(draw(SPELLINGS)) + draw(GAPS)
    return text


LIKELY = "0123456789.,/-+ eE½²³°'\"′″·NmlbfkginHhz%µ\u00a0\n1'\u2044∞ſı"
NOISE = st.one_of(st.text(LIKELY, max_size=14), st.text(st.characters(exclude_categories=["Cs"]), max_size=70))
DEFAULTS = st.sampled_from(["", "", *(symbol for of in TABLE.values() for symbol in of.by_symbol), "nonsense"])


@MANY
@given(text=typed(), dimension=DIMENSIONS, default=DEFAULTS)
def test_amounts_in_any_spelling_are_taken_alike(tablet: Engine, text: str, dimension: Dimension, default: str):
    assert by_tablet(tablet, "parsed", text, dimension, default) == by_office(text, dimension, default)


@MANY
@given(number=NUMBERS, gap=GAPS, sign=SIGNS, data=st.data())
def test_an_amount_in_a_unit_of_its_dimension_is_taken_alike(
    tablet: Engine, number: str, gap: str, sign: str, data: st.DataObject
):
    dimension = data.draw(DIMENSIONS)
    spelled = data.draw(st.sampled_from(sorted(TABLE[dimension].exact)))
    text = f"{sign}{number}{gap}{spelled}"

    assert by_tablet(tablet, "parsed", text, dimension, "") == by_office(text, dimension, "")


@MANY
@given(text=NOISE, dimension=DIMENSIONS, default=DEFAULTS)
def test_noise_is_refused_alike(tablet: Engine, text: str, dimension: Dimension, default: str):
    assert by_tablet(tablet, "parsed", text, dimension, default) == by_office(text, dimension, default)


# --- Shown back ------------------------------------------------------------------------------------------------------


@MANY
@given(data=st.data(), dimension=DIMENSIONS, value=st.integers(-(10**15), 10**15) | st.integers(-5_000, 5_000))
def test_an_amount_is_shown_alike_in_every_unit(tablet: Engine, data: st.DataObject, dimension: Dimension, value: int):
    symbols = list(TABLE[dimension].by_symbol)
    quantity = Quantity(
        dimension, value, data.draw(st.sampled_from(["", *symbols])), data.draw(st.sampled_from(["", "5"]))
    )
    unit = data.draw(st.sampled_from([None, *symbols]))
    places = data.draw(st.sampled_from([None, 0, 1, 3]))

    assert by_tablet(tablet, "shown", plain(quantity), unit, places) == show(quantity, unit, places)
    other = data.draw(st.sampled_from(symbols))
    assert by_tablet(tablet, "shownBoth", plain(quantity), other) == both(quantity, other)


@settings(max_examples=500, deadline=None)
@given(text=typed(), dimension=DIMENSIONS, data=st.data())
def test_what_was_typed_is_shown_alike(tablet: Engine, text: str, dimension: Dimension, data: st.DataObject):
    unit = data.draw(st.sampled_from(list(TABLE[dimension].by_symbol)))
    quantity = Quantity(dimension, 1_000, unit, text)

    assert by_tablet(tablet, "shown", plain(quantity), None, None) == show(quantity)


def test_the_units_offered_come_in_the_same_order(tablet: Engine):
    for dimension in Dimension:
        assert by_tablet(tablet, "symbols", dimension) == list(unit_symbols(dimension))
