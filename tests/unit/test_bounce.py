"""A trace as text, and what the office makes of it: known damping found again, all else refused with a reason."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.bounce import LARGEST, Trace, read_trace
from app.trade.problems import CannotTell
from app.trade.quantity import Dimension
from app.trade.units import amount_in
from app.use_cases.see_bounces import reckon
from app.web.floor.bounces import HEIGHT, WIDTH, points, refused_words
from tests.traces import as_text, released

SAMPLES = st.lists(st.none() | st.integers(-LARGEST, LARGEST), min_size=1, max_size=400)


def zeta_of(text: str) -> float:
    found = reckon(text)
    assert found.reading is not None, found.refused
    return float(amount_in(found.reading.damping_ratio, Dimension.RATIO, "1"))


@given(SAMPLES, st.integers(0, 999))
def test_a_trace_is_read_back_as_it_was_written(samples: list[int | None], rate: int) -> None:
    assert read_trace(as_text(samples, rate)) == Trace(rate, tuple(samples))


@pytest.mark.parametrize(
    "text", ["", "50", "50;", "50;1.5,2", "50;a,b", "50;1;2", "-50;1,2", "50;1,200001", "50;--1", "1000;1", "５０;1"]
)
def test_what_is_no_trace_is_none(text: str) -> None:
    found = read_trace(text)

    assert found is None or found.samples == (None,), "nothing at all is one missing sample"


@given(st.text(max_size=200))
def test_any_text_is_a_trace_or_none_and_says_something(text: str) -> None:
    found = reckon(text)

    assert found.reading is not None or refused_words(found)


# The damping ratio that the motion was made with is the expected value; the tolerance is the reading's own ±.
@pytest.mark.parametrize("zeta", [0.05, 0.12, 0.25, 0.35])
@pytest.mark.parametrize("hertz", [1.1, 1.4, 1.9])
def test_a_known_damping_is_found_again(zeta: float, hertz: float) -> None:
    found = reckon(as_text(released(zeta, hertz)))

    assert found.reading is not None, found.refused
    within = float(amount_in(found.reading.within, Dimension.RATIO, "1"))
    assert float(amount_in(found.reading.damping_ratio, Dimension.RATIO, "1")) == pytest.approx(zeta, abs=within + 0.01)


def test_gaps_cost_certainty_and_do_not_bend_the_answer() -> None:
    samples = released(0.2)
    drawn = random.Random(3)
    for _ in range(8):
        at = drawn.randrange(160, 340)
        samples[at : at + 4] = [None] * 4

    assert zeta_of(as_text(samples)) == pytest.approx(0.2, abs=0.03)


@pytest.mark.parametrize(
    ("spoilt", "reason"),
    [
        (lambda samples: [None if place % 2 else one for place, one in enumerate(samples)], "too_many_lost"),
        (lambda samples: [max(-20, min(20, one or 0)) for one in samples], "clipped"),
        (lambda samples: samples[:60], "too_short"),
        (lambda samples: [0 for _ in samples], "nothing_moves"),
    ],
)
def test_a_trace_that_cannot_tell_is_refused_with_its_reason(spoilt, reason) -> None:
    found = reckon(as_text(spoilt(released(0.15))))

    assert isinstance(found.refused, CannotTell)
    assert found.refused.details["reason"] == reason
    assert refused_words(found).endswith(".")


def test_a_tablet_that_slipped_tells_nothing() -> None:
    """It slides off while the body swings: jolts of its own, and another plumb line afterwards."""
    drawn = random.Random(7)
    samples = [
        one if place < 170 or one is None else one + 400 + round(drawn.gauss(0, 250))
        for place, one in enumerate(released(0.1))
    ]

    assert reckon(as_text(samples)).reading is None


@given(SAMPLES)
def test_the_picture_stays_in_its_field(samples: list[int | None]) -> None:
    drawn = points(Trace(50, tuple(samples)))

    for point in drawn.split():
        x, y = map(int, point.split(","))
        assert 0 <= x <= WIDTH
        assert 0 <= y <= HEIGHT
