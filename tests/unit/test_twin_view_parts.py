"""Bars, limits, settings and extensions as the tablet reckons them against the office's: exact to the last digit.

The whole view goes through both ends in `test_twin_view.py`; here its sums do, with amounts no sheet of the invented
workshop has.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.domain.entry import Extension
from app.domain.view_bar import bar_view, limit_text
from app.domain.view_gate import UNITS, units_for
from app.domain.view_torque import extension_of, setting_text
from app.trade import units
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.units import TABLE_PATH, unit_symbols
from tests.js_engine import Engine
from tests.unit.test_twin_units import typed

MANY = settings(max_examples=1_000, deadline=None)
LARGEST = 2**53 - 1

_DRIVER = """{
const { Units, TradeProblem } = modules["units.js"];
const units = new Units(JSON.parse(%s));
const told = (work) => {
  try {
    return JSON.stringify(work());
  } catch (error) {
    if (!(error instanceof TradeProblem)) throw error;
    return JSON.stringify(`refused: ${error.code}`);
  }
};
const { barView, limitText } = modules["view_bar.js"];
const { extensionOf } = modules["view_torque.js"];
globalThis.bar = (dimension, unit, low, high, choice) => told(() => barView(units, dimension, unit, low, high, choice));
globalThis.limit = (dimension, value, unit, choice) => told(() => limitText(units, dimension, value, unit, choice));
globalThis.extension = (length, angle) => told(() => extensionOf(units, length, angle));
globalThis.unitsFor = (dimension, unit) => told(() => modules["view_gate.js"].unitsFor(dimension, unit));
globalThis.setting = (value, unit) => told(() => modules["view_torque.js"].settingText(units, value, unit));
}"""


@lru_cache(maxsize=1)
def the_script() -> Engine:
    engine = Engine("view_torque.js")
    engine.run(_DRIVER % json.dumps(TABLE_PATH.read_text("utf-8")))
    return engine


@pytest.fixture(autouse=True, scope="module")
def no_units_outside_the_table() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(units, "_pint_unit", lambda key, dimension: "")
        yield


def by_tablet(function: str, *arguments: Any) -> Any:
    return json.loads(the_script().run(f"{function}(...JSON.parse({json.dumps(json.dumps(arguments))}))"))


def by_office(work: Any, *arguments: Any, **named: Any) -> Any:
    try:
        return work(*arguments, **named)
    except TradeProblem as problem:
        return f"refused: {problem.code}"


AMOUNTS = st.one_of(
    st.integers(-5, 5), st.integers(0, 400_000), st.integers(-LARGEST, LARGEST), st.sampled_from([LARGEST, -LARGEST])
)
ENDS = st.one_of(st.none(), AMOUNTS)
KINDS = st.sampled_from(Dimension).flatmap(
    lambda kind: st.tuples(
        st.just(str(kind)), st.sampled_from([*unit_symbols(kind), *unit_symbols(kind), "", "parsnip", "mm"])
    )
)


@MANY
@given(kind=KINDS, low=ENDS, high=ENDS, target=ENDS, reading=ENDS, text=st.sampled_from(["", "", "110 N·m"]))
@example(kind=("torque", "N·m"), low=104_500, high=115_500, target=110_000, reading=104_499, text="")
@example(kind=("torque", "N·m"), low=104_500, high=104_500, target=None, reading=104_501, text="")
@example(kind=("torque", "lbf·ft"), low=LARGEST, high=-LARGEST, target=0, reading=0, text="")
@example(kind=("length", "mm"), low=None, high=-1, target=None, reading=LARGEST, text="")
@example(kind=("angle", "°"), low=-500, high=None, target=None, reading=-501, text="")
def test_a_bar_is_the_same(
    kind: tuple[str, str], low: int | None, high: int | None, target: int | None, reading: int | None, text: str
):
    """Windows upside down and without width, readings far beyond them, units of no use."""
    choice = {"target": target, "reading": reading, "readingText": text}

    there = by_tablet("bar", *kind, low, high, choice)

    assert there == by_office(bar_view, *kind, low, high, target=target, reading=reading, reading_text=text)


@MANY
@given(kind=KINDS, value=AMOUNTS, up=st.booleans(), most=st.integers(0, 4))
@example(kind=("torque", "lbf·ft"), value=110_000, up=True, most=1)
@example(kind=("torque", "lbf·ft"), value=-110_000, up=False, most=1)
def test_a_limit_is_rounded_into_its_window_alike(kind: tuple[str, str], value: int, up: bool, most: int):
    dimension, unit = kind

    there = by_tablet("limit", dimension, value, unit, {"up": up, "most": most})

    assert there == by_office(limit_text, dimension, value, unit, up=up, most=most)


@MANY
@given(value=AMOUNTS, unit=st.sampled_from([*unit_symbols(Dimension.TORQUE), "parsnip"]))
@example(value=50, unit="N·m")
@example(value=150, unit="N·m")
@example(value=250, unit="N·m")
def test_what_to_set_on_a_scale_is_the_same(value: int, unit: str):
    """To a tenth, half to even: 0.05 and 0.25 N·m are 0 and 0.2."""
    assert by_tablet("setting", value, unit) == by_office(setting_text, value, unit)


ANGLES = st.one_of(
    st.integers(-1, 200).map(str),
    st.sampled_from(
        ["", " ", "°", "90°", " 45 ° ", "7°°", "0180", "٣", "²", "\u0661", "1.5", "+5", "9" * 30, "\x85 5\x85"]
    ),
)


@MANY
@given(
    length=st.one_of(st.sampled_from(["", " ", "150", "6 in", "2 m", "2001", "0", "-1", "0.0001", "far"]), typed()),
    angle=ANGLES,
)
def test_an_extension_is_read_alike(length: str, angle: str):
    extension, trouble = extension_of(length, angle)

    there, told = by_tablet("extension", length, angle)

    assert told == trouble
    assert (Extension(**there) if there else None) == extension


@MANY
@given(
    dimension=st.sampled_from([*Dimension, "toString", ""]),
    unit=st.sampled_from(["", "mm", "N·m", "°", "kPa", "__proto__"]),
)
def test_the_keypad_offers_the_same_units(dimension: str, unit: str):
    assert by_tablet("unitsFor", str(dimension), unit) == list(units_for(str(dimension), unit))


def test_both_ends_know_the_same_units_for_a_keypad():
    there = json.loads(the_script().run('JSON.stringify(modules["view_gate.js"].UNITS)'))

    assert there == {kind: list(symbols) for kind, symbols in UNITS.items()}
