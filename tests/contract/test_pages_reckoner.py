"""The Reckoner: every sum has its page, its worked example agrees with an outside figure, and nothing typed breaks it.

Outside figures come from `tests/reference_checks/data`, by the row's id. Where a sum has no outside figure its example
is worked by hand here, and said to be.
"""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from app.texts import SENTENCES, say
from app.web.reckoner.catalogue import GROUPS, SUMS
from app.web.reckoner.reading import names_of, reckon
from app.web.reckoner.sums import Amount, Rows, Sum
from tests.offices import ADA, FAY, Visitor, a_visitor, an_app, an_office
from tests.typed import as_kept

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "tests" / "reference_checks" / "data"
SLUGS = sorted(SUMS)


@pytest.fixture(scope="module")
def ada() -> Visitor:
    return a_visitor(an_app(an_office()), ADA)


# -----------------------------------------------------------------------------------------------------------
# A page for every sum


def test_the_list_links_every_sum_by_the_question_it_answers(ada: Visitor) -> None:
    page = ada.get("/reckoner").text

    for one in SUMS.values():
        assert f'href="/reckoner/{one.slug}"' in page
        assert one.asks in text_of(page)


def test_there_is_a_sum_for_each_thing_the_trade_asks() -> None:
    assert sum(len(group.sums) for group in GROUPS) == len(SUMS) >= 30


@pytest.mark.parametrize("slug", SLUGS)
def test_a_page_shows_fields_formula_source_range_and_picture(ada: Visitor, slug: str) -> None:
    one = SUMS[slug]

    answer = ada.get(f"/reckoner/{slug}")
    page = text_of(answer.text)

    assert answer.status_code == 200
    for words in (one.asks, *one.formula, one.valid, *one.sources, one.example.figure, *one.cautions):
        assert one_line(words) in page, words
    assert '<svg class="picture"' in answer.text
    assert 'role="img"' in answer.text
    assert set(names_of(one)) <= set(fields_in(answer.text).values)
    for each in one.inputs:
        assert one_line(each.label) in page
    assert "Fill in what you know" in page


@pytest.mark.parametrize("someone", [ADA, FAY], ids=lambda one: one.name)
def test_anyone_who_is_signed_in_may_reckon(someone: Any) -> None:
    visitor = a_visitor(an_app(an_office()), someone)

    assert visitor.get("/reckoner").status_code == 200
    assert visitor.get("/reckoner/castle-nut?hole_ahead=15%C2%B0").status_code == 200


def test_nobody_reckons_without_signing_in() -> None:
    from starlette.testclient import TestClient

    client = TestClient(an_app(an_office()), base_url="http://office.test")

    assert client.get("/reckoner/units", follow_redirects=False).headers["location"].startswith("/sign-in")


def test_an_unknown_sum_is_a_page_that_says_so(ada: Visitor) -> None:
    answer = ada.get("/reckoner/no-such-sum")

    assert answer.status_code == 404
    assert "There is nothing under this address" in text_of(answer.text)


def test_a_part_of_a_page_is_sent_to_htmx(ada: Visitor) -> None:
    part = ada.get("/reckoner/castle-nut?hole_ahead=15", **{"hx-request": "true"})

    assert part.text.lstrip().startswith('<article id="sum"')
    assert part.headers["vary"] == "HX-Request"


# -----------------------------------------------------------------------------------------------------------
# Outside figures


@dataclass(frozen=True)
class Outside:
    """row: id in the reference tables; file: which; line: label of the result line that has to equal it."""

    row: str
    file: str
    line: str
    words: Mapping[str, str] = field(default_factory=dict)


OUTSIDE: dict[str, tuple[Outside, ...]] = {
    "units": (Outside("U-01", "units", "in N·m"),),
    "tyre": (Outside("T-01d", "tyre", "Overall diameter, plain geometry"),),
    "vin": (Outside("V-01", "vin", "Sum of value times weight|Remainder by 11|Position 9 ought to be"),),
    "bolt": (Outside("F-PM12-10.9", "fasteners", "Proof load"),),
    "preload": (Outside("F-46", "fasteners", "Torque for that preload"),),
    "torque-question": (Outside("F-23t8-0.20", "fasteners", "Questions", {"44": "none"}),),
    "turn-angle": (Outside("F-42a", "fasteners", "The bolt stretches by"),),
    "wrench-setting": (Outside("K-24-45", "torque_tools", "Set the wrench to"),),
    "torque-window": (Outside("F-80a", "torque_tools", "The reading is", {"above": "above the window"}),),
    "wrench-deviation": (Outside("K-10a", "torque_tools", "Reading 1"),),
    "wrench-range": (Outside("K-03b", "torque_tools", "Use it from"),),
    "calibration-due": (Outside("K-04b", "torque_tools", "Calibration is", {"date": "due now"}),),
    "castle-nut": (Outside("K-31b", "torque_tools", "Turn the nut on by"),),
    "spring-rate": (Outside("S-18a", "springs", "Rate"),),
    "spring-rate-measured": (Outside("S-06c", "springs", "Rate"),),
    "spring-energy": (Outside("S-33", "springs", "Energy put in on the way"),),
    "spring-in-the-car": (
        Outside("L-09a", "loads", "Force of the spring at ride height"),
        Outside("L-09b", "loads", "Force with the wheel hanging"),
    ),
    "damping-peaks": (Outside("D-06c", "damping", "Damping ratio ζ"),),
    "damping-swings": (Outside("D-17a", "damping", "Damping ratio ζ"),),
    "damping-trace": (Outside("D-15c", "damping", "Damping ratio ζ"),),
    "ride-frequencies": (
        Outside("D-10a", "damping", "The body swings at"),
        Outside("D-10b", "damping", "The wheel hops at"),
    ),
    "axle-split": (
        Outside("L-03g", "loads", "Weight on the front axle"),
        Outside("L-03h", "loads", "Weight on the rear axle"),
    ),
    "stand-load": (
        Outside("L-07b", "loads", "Choose the stands by"),
        Outside("L-07c", "loads", "Left on the rear wheels"),
    ),
    "stand-label": (Outside("L-10a", "loads", "One stand bears"),),
    "degrees-and-minutes": (Outside("A-01c", "alignment", "In degrees"),),
    "toe": (Outside("A-04b", "alignment", "Toe angle of the wheel"),),
    "thrust-and-cross": (Outside("A-08a", "alignment", "Thrust angle"),),
    "alignment-limits": (Outside("A-29b", "alignment", "Past the nearer limit by"),),
    "shims": (
        Outside("A-22-camber", "alignment", "Camber changes by"),
        Outside("A-22-caster", "alignment", "Caster changes by"),
    ),
    "authorised-amount": (Outside("C-20d", "labour", "Without asking again, up to"),),
}

# No outside figure was found; worked by hand, or what a named rule says.
BY_HAND: dict[str, tuple[str, str]] = {
    "spring-match": ("Rate, new less old", "+1.00 N/mm"),  # 31 - 30
    "corner-weights": ("On the front axle", "60.0 %"),  # (300 + 300) / 1000
    "ride-height": ("Rake, rear less front", "+19.0 mm"),  # 395 - (380 + 372)/2
    "pressure-and-height": ("The axle sits by", "−5.0 mm"),  # 20 (1 - 200/160)
    "joint-play": ("Verdict", "replace"),  # an indicator flush: Utah R714-160-10(1)
    "price": ("Total", "428.76 USD"),  # (2.5 x 120 + 2 x 48.50) x 1.08
}


def test_every_sum_has_a_figure_to_be_held_to() -> None:
    assert set(OUTSIDE) | set(BY_HAND) == set(SUMS)
    assert not set(OUTSIDE) & set(BY_HAND)


@pytest.mark.parametrize(("slug", "outside"), [(slug, each) for slug, rows in OUTSIDE.items() for each in rows])
def test_the_worked_example_gives_the_outside_figure(ada: Visitor, slug: str, outside: Outside) -> None:
    row = rows_of(outside.file)[outside.row]

    shown = example_of(ada, slug)

    if "|" in outside.line:
        assert [shown[label] for label in outside.line.split("|")] == row["expected"].split()
    elif outside.words:
        assert shown[outside.line] == outside.words[row["expected"]]
    else:
        agrees(shown[outside.line], row["expected"].split()[-1], row["tolerance"])


@pytest.mark.parametrize("slug", BY_HAND)
def test_the_worked_example_gives_the_figure_worked_by_hand(ada: Visitor, slug: str) -> None:
    label, expected = BY_HAND[slug]

    assert example_of(ada, slug)[label].startswith(expected)


def agrees(text: str, expected: str, tolerance: str) -> None:
    """The first number of a shown figure equals the outside one, within its tolerance and the last digit shown."""
    number = re.match(r"[+−]?[0-9]+(?:\.([0-9]+))?", text)
    assert number is not None, text
    rounding = 0.5 * 10.0 ** -len(number[1] or "") * 1.001
    kind, _, size = tolerance.partition(" ")
    allowed = {"exact": 0.0, "abs": float(size or 0), "rel": float(size or 0) * abs(float(expected))}[kind]
    found = float(number[0].replace("−", "-").replace("+", ""))
    assert abs(found - float(expected)) <= rounding + allowed, (text, expected, tolerance)


def example_of(visitor: Visitor, slug: str) -> dict[str, str]:
    """The result lines of a sum's worked example, as its page shows them."""
    one = SUMS[slug]
    if one.is_posted:
        answer = visitor.sends(f"/reckoner/{slug}", dict(one.example.typed))
    else:
        answer = visitor.get(f"/reckoner/{slug}?{urlencode(one.example.typed)}")
    assert answer.status_code == 200, text_of(answer.text)
    return fields_in(answer.text).lines


# -----------------------------------------------------------------------------------------------------------
# Bad input


@dataclass(frozen=True)
class Bad:
    slug: str
    typed: Mapping[str, str]
    field: str
    says: str


STANDS = {"front": "820 kg", "rear": "640 kg", "wheelbase": "2750 mm"}
WRENCH = {"target": "80 N·m", "wrench_length": "400 mm", "extension": "50 mm"}
COIL = {"rate": "30 N/mm", "free_length": "400 mm", "shortest": "250 mm"}
BAD = (
    Bad("wrench-setting", WRENCH | {"target": "0 N·m"}, "target", "has to be more than zero"),
    Bad("wrench-setting", WRENCH | {"extension": "-5 mm"}, "extension", "never below zero"),
    Bad("wrench-setting", WRENCH | {"target": "inf"}, "target", "not clear"),
    Bad("wrench-setting", WRENCH | {"target": "9e15 N·m"}, "target", "too large"),
    Bad("wrench-setting", WRENCH | {"target": "80 mm"}, "target",
        "is a measure of length; here one of torque is wanted"),
    Bad("wrench-setting", WRENCH | {"wrench_length": "400 kg 3 mm"}, "wrench_length", "400 kg 3 mm"),
    Bad("wrench-setting", WRENCH | {"angle": "190°"}, "angle", "−180° to 180°"),
    Bad("wrench-setting", WRENCH | {"extension": "500 mm", "angle": "180"}, "extension", "reaches back to the grip"),
    Bad("wrench-setting", WRENCH | {"target": "quite tight"}, "target", "no number"),
    Bad("wrench-setting", WRENCH | {"target": "9" * 10_000}, "target", "too long"),
    Bad("wrench-setting", WRENCH | {"target": ""}, "target", "is missing"),
    Bad("wrench-setting", WRENCH | {"target": "80 ft·kg·s"}, "target", "80 ft·kg·s"),
    Bad("spring-rate", {"wire": "12 mm", "mean_coil": "30 mm", "active_coils": "6"}, "mean_coil", "2.50, below 3"),
    Bad("spring-rate", {"wire": "12 mm", "mean_coil": "110 mm"}, "active_coils", "Enter the active coils"),
    Bad("spring-rate", {"wire": "12 mm", "mean_coil": "110 mm", "total_coils": "2", "ends": "squared"}, "total_coils",
        "The ends alone take"),
    Bad("spring-energy", COIL | {"solid_length": "260 mm"}, "shortest", "the coils touch before"),
    Bad("spring-energy", COIL | {"shortest": "410 mm"}, "shortest", "longer than the free length"),
    Bad("spring-energy", COIL | {"solid_length": "500 mm"}, "solid_length", "longer than the free length"),
    Bad("spring-energy", COIL | {"margin": "0.9"}, "margin", "the margin is 1 or more"),
    Bad("stand-load", STANDS, "front_stands_at", "Enter where the stands are"),
    Bad("stand-load", STANDS | {"front_stands_at": "3 m"}, "front_stands_at", "does not lie between the axles"),
    Bad("stand-load", STANDS | {"front_stands_at": "1300 mm"}, "front_stands_at", "would tip"),
    Bad("stand-load", STANDS | {"front_stands_at": "2000 mm", "rear_stands_at": "1000 mm"}, "front_stands_at",
        "ahead of"),
    Bad("stand-load", STANDS | {"front_stands_at": "1", "left_share": "120 %"}, "left_share", "from 0 to 100 %"),
    Bad("stand-load", STANDS | {"front": "0 kg", "front_stands_at": "1"}, "front", "more than zero"),
    Bad("tyre", {"size": "205/55"}, "size", "not clear as a tyre size"),
    Bad("tyre", {"size": "205/55R16", "placard": "999/55R16"}, "placard", "No road tyre"),
    Bad("vin", {"vin": "1111111111111111"}, "vin", "this one has 16"),
    Bad("vin", {"vin": "1111111111111111O"}, "vin", "Character 17 is O"),
    Bad("bolt", {"thread": "M12", "strength_class": "7.7"}, "strength_class", "no class for this kind of bolt"),
    Bad("bolt", {"thread": "M99x1"}, "thread", "There is no thread"),
    Bad("bolt", {"thread": "a big one"}, "thread", "not clear as a thread"),
    Bad("preload", {"thread": "M12", "torque": "80 N·m"}, "condition", "Choose the condition"),
    Bad("preload", {"thread": "M12", "condition": "dry"}, "torque", "Enter a torque"),
    Bad("preload", {"thread": "M12", "factor": "3", "torque": "80 N·m"}, "factor", "cannot be"),
    Bad("torque-window", {"target": "110 N·m"}, "tolerance", "needs a tolerance"),
    Bad("torque-window", {"low": "120 N·m", "high": "110 N·m"}, "high", "lower than the low end"),
    Bad("torque-window", {"target": "110 N·m", "tolerance": "5°"}, "tolerance", "of the same kind as the target"),
    Bad("torque-window", {"low": "50 N·m"}, "high", "high end of the range is missing"),
    Bad("torque-window", {"low": "50 N·m", "high": "60 N·m", "reading": "3°"}, "reading", "of another kind"),
    Bad("wrench-deviation", {"largest": "200 N·m"}, "readings-1-setting", "fill in at least 1"),
    Bad("wrench-deviation", {"largest": "200 N·m", "readings-2-setting": "100 N·m"}, "readings-2-measured", "missing"),
    Bad("wrench-range", {"largest": "100 N·m", "lowest_mark": "120 N·m"}, "lowest_mark", "above the largest"),
    Bad("calibration-due", {"last_good": "2031-01-01", "today": "2030-01-01", "largest": "100 N·m"}, "last_good",
        "has not come yet"),
    Bad("calibration-due", {"last_good": "yesterday", "today": "2030-01-01", "largest": "100 N·m"}, "last_good",
        "no date"),
    Bad("calibration-due", {"today": "2030-01-01", "largest": "100 N·m", "cycles": "many"}, "cycles",
        "no whole number"),
    Bad("calibration-due", {"today": "2030-01-01", "largest": "100 N·m", "cycles": "-4"}, "cycles", "never below zero"),
    Bad("calibration-due", {"last_good": "2029-01-01", "today": "2030-01-01", "largest": "1 N·m",
        "months": "999999999"},
        "months", "leaves the calendar"),
    Bad("castle-nut", {"hole_ahead": "15°", "slots": "3"}, "slots", "4 to 12 slots"),
    Bad("castle-nut", {"hole_ahead": "15°", "torque": "70 N·m", "highest": "60 N·m"}, "torque", "beyond the highest"),
    Bad("castle-nut", {"hole_ahead": "15°", "highest": "60 N·m"}, "torque", "Enter the torque the nut has now"),
    Bad("damping-peaks", {"peaks-1-peak": "40 mm"}, "peaks-2-peak", "fill in at least 2"),
    Bad("damping-peaks", {"peaks-1-peak": "40 mm", "peaks-2-peak": "50 mm"}, "peaks-1-peak", "does not die away"),
    Bad("damping-swings", {"swings": "0"}, "swings", "more than zero"),
    Bad("damping-swings", {"swings": "2", "still_at": "100 %"}, "still_at", "below 100 %"),
    Bad("damping-trace", {"samples": "1\n2\nlots", "sample_rate": "50 Hz"}, "samples", "Line 3 of the trace is “lots”"),
    Bad("damping-trace", {"samples": "1\n2\n3", "sample_rate": "50 Hz"}, "samples", "too little after the last push"),
    Bad("damping-trace", {"samples": "\n".join(["1.0"] * 200), "sample_rate": "50 Hz"}, "samples", "Nothing moves"),
    Bad("damping-trace", {"samples": "1\n2", "sample_rate": "5 Hz"}, "sample_rate", "25 to 200 times a second"),
    Bad("ride-frequencies", {"sprung": "300 kg"}, "sag", "Enter the sag"),
    Bad("axle-split", {"wheelbase": "2.7 m"}, "mass", "Enter the mass"),
    Bad("axle-split", {"wheelbase": "2.7 m", "mass": "1500 kg", "cg": "3 m"}, "cg", "does not lie between the axles"),
    Bad("corner-weights", dict.fromkeys(("front_left", "front_right", "rear_left", "rear_right"), "0 kg"), "front_left",
        "Nothing weighs anything"),
    Bad("toe", {"length": "500 mm", "diameter": "400 mm", "measure": "front_to_rear_edge"}, "length", "as long as"),
    Bad("toe", {"diameter": "400 mm", "measure": "front_to_rear_edge"}, "length", "Enter the toe"),
    Bad("toe", {"length": "2 mm", "diameter": "400 mm"}, "measure", "is missing"),
    Bad("alignment-limits", {"reading": "1", "target": "3", "low": "-1", "high": "2"}, "target",
        "does not lie between"),
    Bad("thrust-and-cross", {"rear_left": "0.2°"}, "rear_left", "Enter left and right"),
    Bad("shims", {"effects-1-bolt": "front", "effects-1-thickness": "3 mm", "effects-1-camber": "0.5°"}, "want_camber",
        "has to change"),
    Bad("joint-play", {"role": "load", "weight_on": "yes", "axial": "1 mm", "axial_limit": "2 mm"}, "weight_on",
        "play is felt with the weight off"),
    Bad("joint-play", {"role": "load", "weight_on": "no", "axial": "1 mm"}, "axial_limit", "maker's limit"),
    Bad("price", {"currency": "USD"}, "time", "Enter a time, a part or a fee"),
    Bad("price", {"currency": "dollars", "time": "1 h", "rate": "120"}, "currency", "no currency"),
    Bad("price", {"currency": "USD", "time": "1 h", "rate": "120.005"}, "rate", "finer than the smallest coin"),
    Bad("price", {"currency": "USD", "time": "1 h"}, "rate", "price of an hour"),
    Bad("price", {"currency": "USD", "parts-1-count": "some", "parts-1-price": "5"}, "parts-1-count", "no count"),
    Bad("authorised-amount", {"currency": "EUR", "authorised": "300", "jurisdiction": "US-FL"}, "authorised",
        "another currency"),
    Bad("units", {"amount": "5 tons"}, "amount", "can mean two things"),
    Bad("units", {"amount": "5"}, "amount", "has no unit"),
    Bad("units", {"amount": "many N·m"}, "amount", "no number"),
)  # fmt: skip


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: f"{bad.slug}-{bad.field}-{bad.says[:20]}")
def test_bad_input_gets_a_sentence_beside_its_field_and_is_kept(ada: Visitor, bad: Bad) -> None:
    answer = ada.get(f"/reckoner/{bad.slug}?{urlencode(bad.typed)}")
    shown = fields_in(answer.text)

    assert answer.status_code == 422
    assert bad.says in shown.troubles.get(bad.field, ""), shown.troubles
    assert {name: shown.values[name] for name in bad.typed} == dict(bad.typed)
    assert f'href="#{bad.field}"' in answer.text
    assert "Not reckoned yet. What you typed is kept below." in text_of(answer.text)


NASTY = (
    "0", "-1", "-0.001 mm", "inf", "-inf", "nan", "∞", "1e400", "1e-30 mm", "12 parsec", "5 kg 3 mm", "M12", "yes",
    "3,000", "1/0 in", "²", "<b>&\"'", "ſ", "٣ mm", "1" * 10_000, "x" * 10_000, "'; --", "0 %", "200 %", "1e15 mm",
    "2026-02-31", "9999-12-31", "\u202e5 mm", "𝟝 mm", "100000000 kg", "1 N·m", "1 mm", "1 kg", "1 N", "1°", "1 Hz",
)  # fmt: skip


@pytest.mark.parametrize("slug", SLUGS)
def test_nothing_nasty_in_any_one_field_breaks_a_sum(slug: str) -> None:
    one = SUMS[slug]

    for name in names_of(one):
        for nasty in NASTY:
            answered(one, {**one.example.typed, name: nasty})


@pytest.mark.parametrize("slug", SLUGS)
def test_a_page_keeps_nasty_text_in_every_field_at_once(ada: Visitor, slug: str) -> None:
    for nasty in ("<b>&\"' 5 mm", "x" * 300, "-1", "∞"):
        typed = dict.fromkeys((name for name in names_of(SUMS[slug])), nasty)
        answer = ada.get(f"/reckoner/{slug}?{urlencode(typed)}")
        shown = fields_in(answer.text)

        assert answer.status_code in (200, 422)
        for name, text in typed.items():
            assert shown.values[name] == text or name in shown.selects, (name, shown.values[name][:60])


TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)
UNITS = ["", " mm", " in", " kg", " lb", " N", " N·m", " lbf·ft", " N/mm", "°", "′", " %", " Hz", " h", " kPa", " GPa"]
AMOUNTS = st.builds(lambda number, unit: f"{number}{unit}", st.floats(-1e7, 1e7), st.sampled_from(UNITS))
SMALL = st.builds(lambda number, unit: f"{number:g}{unit}", st.floats(0.001, 2000), st.sampled_from(UNITS))
ANY = TEXTS | AMOUNTS | SMALL | st.sampled_from(NASTY)


@st.composite
def typed_into(draw: st.DrawFn) -> tuple[Sum, dict[str, str]]:
    """A sum with its example, some of whose fields hold something else."""
    one = SUMS[draw(st.sampled_from(SLUGS))]
    names = list(names_of(one))
    changed = draw(st.dictionaries(st.sampled_from(names), ANY, max_size=6))
    gone = draw(st.sets(st.sampled_from(names), max_size=3))
    return one, {name: text for name, text in {**one.example.typed, **changed}.items() if name not in gone}


@settings(max_examples=400, deadline=None)
@given(typed_into())
def test_whatever_is_typed_gives_an_answer_or_a_sentence(case: tuple[Sum, dict[str, str]]) -> None:
    answered(*case)


@st.composite
def amounts_of_the_right_kind(draw: st.DrawFn) -> tuple[Sum, dict[str, str]]:
    """Every amount replaced by one in its own unit: what gets past the fields and has to be refused by the sum."""
    one = SUMS[draw(st.sampled_from(SLUGS))]
    typed = dict(one.example.typed)
    number = st.floats(-5000, 5000) | st.floats(0, 3) | st.sampled_from([0.0, 1e-6, 1e12])
    for each in one.inputs:
        if isinstance(each, Amount) and draw(st.booleans()):
            typed[each.name] = f"{draw(number):f} {'' if each.unit == '1' else each.unit}"
    return one, typed


@settings(max_examples=600, deadline=None)
@given(amounts_of_the_right_kind())
def test_amounts_of_the_right_kind_give_an_answer_or_a_sentence(case: tuple[Sum, dict[str, str]]) -> None:
    answered(*case)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@example((SUMS["alignment-limits"], {"reading": "\u202a5", "target": "\u20680.5°"}))
@given(typed_into())
def test_pages_keep_whatever_is_typed(ada: Visitor, case: tuple[Sum, dict[str, str]]) -> None:
    one, typed = case
    # A browser sends no carriage return but before a line feed.
    typed = {name: as_kept(text.replace("\r", "")) for name, text in typed.items()}

    answer = ada.get(f"/reckoner/{one.slug}?{urlencode(typed)}")

    shown = fields_in(answer.text)
    assert answer.status_code in (200, 422)
    for name, text in typed.items():
        assert shown.values[name] == text or name in shown.selects


def answered(one: Sum, typed: Mapping[str, str]) -> None:
    """Either lines, each with something in it, or problems whose sentences exist and have no blank left open."""
    outcome = reckon(one, typed)

    assert outcome.result is not None or outcome.problems or outcome.given is None
    for problem in outcome.problems:
        sentence = say(problem)
        assert "Something is not right here" not in sentence, problem
        assert not re.search(r"(?<![\w…])…(?!”)", sentence), (sentence, problem)
        assert problem.field in names_of(one), problem
    for line in outcome.result.lines if outcome.result else ():
        assert line.label
        assert line.text
        assert not re.search(r"\b(nan|inf|None)\b", line.text), line


def test_every_refusal_of_the_sums_that_a_page_can_meet_has_its_sentence() -> None:
    """Reads the raises of the trade library: each with a reason, or a named argument that is a field, is worded."""
    fields = {name for one in SUMS.values() for each in one.inputs for name in (each.name, *one.arguments)}
    missing = [
        f"{where}: {code}.{why}"
        for where, code, why, is_reason in raises()
        if (is_reason or why in fields) and f"sum_{code}.{why}" not in SENTENCES
    ]

    assert missing == []


def raises() -> list[tuple[str, str, str, bool]]:
    codes = {
        "OutOfRange": "out_of_range", "InputMissing": "input_missing", "NotUnderstood": "not_understood",
        "CannotTell": "cannot_tell",
    }  # fmt: skip
    found = []
    for path in sorted((ROOT / "app" / "trade").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)):
                continue
            call = node.exc
            if not (isinstance(call.func, ast.Name) and call.func.id in codes and call.args):
                continue
            reasons = [each.value for each in call.keywords if each.arg == "reason"]
            why = reasons[0] if reasons else call.args[0]
            if isinstance(why, ast.Constant):
                found.append((f"{path.name}:{node.lineno}", codes[call.func.id], str(why.value), bool(reasons)))
    assert len(found) > 60, "the raises were not found"
    return found


# -----------------------------------------------------------------------------------------------------------
# What is assumed, read and drawn


def test_an_input_left_empty_is_shown_as_assumed(ada: Visitor) -> None:
    page = text_of(ada.get(f"/reckoner/wrench-setting?{urlencode(WRENCH)}").text)

    assert "Assumed, because nobody said" in page
    assert "Angle of the extension to the wrench: 0°, in line with the wrench" in page


def test_what_was_typed_is_shown_as_typed_with_the_other_unit(ada: Visitor) -> None:
    page = text_of(ada.get(f"/reckoner/wrench-setting?{urlencode(WRENCH | {'target': '59 ft-lbs'})}").text)

    assert "59 lbf·ft (80.0 N·m)" in page
    assert (
        fields_in(ada.get(f"/reckoner/wrench-setting?{urlencode(WRENCH | {'target': '59 ft-lbs'})}").text).values[
            "target"
        ]
        == "59 ft-lbs"
    )


def test_the_picture_of_the_stands_shows_where_they_were_put(ada: Visitor) -> None:
    ahead = ada.get(f"/reckoner/stand-load?{urlencode(STANDS | {'front_stands_at': '0 mm'})}").text
    inboard = ada.get(f"/reckoner/stand-load?{urlencode(STANDS | {'front_stands_at': '600 mm'})}").text

    assert 'd="M98 122h24"' in ahead
    assert 'd="M155 122h24"' in inboard  # 110 + 260 · 600/2750 = 167


def test_the_picture_of_the_wrench_turns_with_the_angle(ada: Visitor) -> None:
    page = ada.get(f"/reckoner/wrench-setting?{urlencode(WRENCH | {'angle': '90°'})}").text

    assert "rotate(-90)" in page


def test_a_pasted_trace_is_posted_with_the_sign_in_s_own_token(ada: Visitor) -> None:
    one = SUMS["damping-trace"]

    page = ada.get("/reckoner/damping-trace").text
    forged = ada.client.post("/reckoner/damping-trace", data=dict(one.example.typed), follow_redirects=False)

    assert 'method="post"' in page
    assert forged.status_code == 403


def test_a_trace_with_a_time_column_and_a_heading_reads_its_last_column() -> None:
    one = SUMS["damping-trace"]
    samples = one.example.typed["samples"].splitlines()
    with_time = "\n".join(["time;height", *(f"{place / 50};{height}" for place, height in enumerate(samples))])

    plain = reckon(one, one.example.typed).result
    timed = reckon(one, {**one.example.typed, "samples": with_time}).result

    assert plain is not None
    assert timed is not None
    assert timed.lines == plain.lines


def test_today_is_filled_in_and_does_not_count_as_typed(ada: Visitor) -> None:
    answer = ada.get("/reckoner/calibration-due")

    assert answer.status_code == 200
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", fields_in(answer.text).values["today"])


def test_no_page_says_that_something_is_safe_or_gives_a_torque_to_use(ada: Visitor) -> None:
    for slug in SLUGS:
        page = text_of(ada.get(f"/reckoner/{slug}").text)

        assert not re.search(r"\b(is|are) safe\b", page.replace("do not say that anything is safe", "")), slug
    for slug in ("spring-rate", "spring-energy", "stand-load", "stand-label", "spring-in-the-car"):
        assert "WARNING" in text_of(ada.get(f"/reckoner/{slug}").text)


# -----------------------------------------------------------------------------------------------------------
# Reading pages


@dataclass
class Shown:
    values: dict[str, str] = field(default_factory=dict)
    selects: set[str] = field(default_factory=set)
    troubles: dict[str, str] = field(default_factory=dict)
    lines: dict[str, str] = field(default_factory=dict)


class _Reader(HTMLParser):
    """Collects every field with what it holds, the trouble beside it, and the lines of the answer."""

    def __init__(self) -> None:
        super().__init__()
        self.shown = Shown()
        self._select = self._textarea = self._trouble = self._term = ""
        self._in = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        got = {name: value or "" for name, value in attrs}
        if tag == "input" and got.get("name") not in (None, "csrf"):
            self.shown.values[got["name"]] = got.get("value", "")
        elif tag == "select":
            self._select = got["name"]
            self.shown.selects.add(self._select)
            self.shown.values[self._select] = ""
        elif tag == "option" and "selected" in got:
            self.shown.values[self._select] = got["value"]
        elif tag == "textarea":
            self._textarea, self._in = got["name"], "textarea"
            self.shown.values[self._textarea] = ""
        elif "field__trouble" in got.get("class", ""):
            self._trouble, self._in = got["id"].removesuffix("-trouble"), "trouble"
            self.shown.troubles[self._trouble] = ""
        elif tag == "dt":
            self._term, self._in = "", "dt"
        elif tag == "strong" and self._in == "dd":
            self._in = "value"
        elif tag == "dd":
            self._in = "dd"

    def handle_data(self, data: str) -> None:
        if self._in == "textarea":
            self.shown.values[self._textarea] += data
        elif self._in == "trouble":
            self.shown.troubles[self._trouble] += data
        elif self._in == "dt":
            self._term += data
        elif self._in == "value":
            self.shown.lines.setdefault(self._term, data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            # A browser drops the first line break of a box of lines.
            self.shown.values[self._textarea] = self.shown.values[self._textarea].removeprefix("\n")
        if tag in ("textarea", "span", "dt", "dd", "strong"):
            self._in = ""


def fields_in(html: str) -> Shown:
    reader = _Reader()
    reader.feed(html)
    return reader.shown


def text_of(html: str) -> str:
    """The words of a page on one line."""
    words: list[str] = []

    class Words(HTMLParser):
        def handle_data(self, data: str) -> None:
            words.append(data)

    Words().feed(html)
    return one_line("".join(words))


def one_line(text: str) -> str:
    return " ".join(text.split())


@lru_cache
def rows_of(name: str) -> dict[str, dict[str, str]]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def test_rows_of_a_table_are_unfolded_where_something_was_typed(ada: Visitor) -> None:
    typed = {"largest": "200 N·m", "readings-5-setting": "100 N·m", "readings-5-measured": "99 N·m"}

    page = ada.get(f"/reckoner/wrench-deviation?{urlencode(typed)}").text

    assert page.index('id="readings-5-setting"') < page.index("<details")
    assert any(isinstance(each, Rows) for each in SUMS["wrench-deviation"].inputs)


def test_an_answer_can_be_linked_to(ada: Visitor) -> None:
    page = ada.get(f"/reckoner/wrench-setting?{urlencode({**WRENCH, 'angle': ''})}").text
    link = re.search(r'href="(/reckoner/wrench-setting\?[^"]+)">A link to this answer', page)
    assert link is not None

    again = ada.get(link[1].replace("&amp;", "&"))

    assert fields_in(again.text).lines == fields_in(page).lines
    assert "angle=" not in link[1]
