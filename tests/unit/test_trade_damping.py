"""Damping and ride: ratios, counts, peaks, and what a trace must be refused for.

Traces whose answer is known from the equations of motion are compared in tests/reference_checks/test_damping.py.
"""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade import damping
from app.trade.damping import Confidence, Typical
from app.trade.problems import CannotTell, InputMissing, OutOfRange, WrongDimension
from tests.si import force, frequency, length, mass, mm, rate, ratio, speed

AT_50 = frequency(50)
ROOT = Path(__file__).parents[2]


def a_swing(zeta=0.2, f=1.3, hz=50, seconds=6.0, rest=3.0, slope=0.0):
    """A swing let go at its top, by its closed form; quiet, on a sloping rest line."""
    omega = 2 * math.pi * f
    times = [i / hz for i in range(round(seconds * hz))]
    return [
        rest + slope * t + math.exp(-zeta * omega * t) * math.cos(omega * math.sqrt(1 - zeta**2) * t) for t in times
    ]


# Ratios ----------------------------------------------------------------------------------------------------------


@given(st.floats(0.001, 0.95))
def test_ratio_decrement_and_overshoot_lead_back(zeta):
    decay = damping.decay_of(ratio(zeta))
    assert damping.ratio_from_decrement(decay.decrement).si == pytest.approx(zeta, abs=2e-6)
    if decay.overshoot.value > 1000:
        assert damping.ratio_from_overshoot(decay.overshoot).si == pytest.approx(zeta, abs=1e-3)


@given(st.floats(0.01, 0.9), st.floats(1.001, 1.1))
def test_more_damping_dies_away_faster(zeta, factor):
    less, more = damping.decay_of(ratio(zeta)), damping.decay_of(ratio(min(zeta * factor, 0.99)))
    assert more.decrement.value > less.decrement.value
    assert more.peak_ratio.value > less.peak_ratio.value
    assert more.overshoot.value <= less.overshoot.value


@pytest.mark.parametrize("zeta", [0, -0.1, 1, 1.5])
def test_a_ratio_at_which_nothing_swings_has_no_decay(zeta):
    with pytest.raises(OutOfRange):
        damping.decay_of(ratio(zeta))


@given(st.floats(0.01, 0.6), st.integers(2, 6))
def test_peaks_of_a_known_decay_give_its_ratio_back(zeta, count):
    step = math.exp(-2 * math.pi * zeta / math.sqrt(1 - zeta**2))
    peaks = [ratio(1000 * step**i) for i in range(count)]
    if peaks[-1].value < 1000:
        return
    assert damping.ratio_from_peaks(peaks).si == pytest.approx(zeta, rel=2e-3)


def test_peaks_that_do_not_die_away_tell_nothing():
    with pytest.raises(CannotTell) as refused:
        damping.ratio_from_peaks([mm(20)])
    assert refused.value.details["reason"] == "too_few"
    for peaks in ([mm(20), mm(20)], [mm(20), mm(30)]):
        with pytest.raises(CannotTell) as refused:
            damping.ratio_from_peaks(peaks)
        assert refused.value.details["reason"] == "not_decaying"
    with pytest.raises(OutOfRange) as out:
        damping.ratio_from_peaks([mm(20), mm(0)])
    assert out.value.argument == "peaks[1]"
    with pytest.raises(WrongDimension):
        damping.ratio_from_peaks([mm(20), force(1)])
    with pytest.raises(InputMissing):
        damping.ratio_from_peaks([None, mm(1)])


# Counted by eye --------------------------------------------------------------------------------------------------


@given(st.integers(1, 20), st.integers(1, 20))
def test_more_swings_mean_less_damping_and_the_range_holds_the_value(halves, more):
    few, many = damping.ratio_from_swings(ratio(halves / 2)), damping.ratio_from_swings(ratio((halves + more) / 2))
    assert many.damping_ratio.value < few.damping_ratio.value
    for counted in (few, many):
        assert counted.low.value < counted.damping_ratio.value < counted.high.value


def test_the_threshold_of_stillness_is_assumed_and_said_so():
    assert damping.ratio_from_swings(ratio(2)).assumed == ("still_at",)
    stated = damping.ratio_from_swings(ratio(2), ratio(0.05))
    assert stated.assumed == ()
    assert stated.damping_ratio == damping.ratio_from_swings(ratio(2)).damping_ratio


def test_counts_that_tell_nothing_are_refused():
    for swings in (ratio(0), ratio(-1)):
        with pytest.raises(OutOfRange):
            damping.ratio_from_swings(swings)
    for still in (ratio(1), ratio(0)):
        with pytest.raises(OutOfRange):
            damping.ratio_from_swings(ratio(2), still)
    with pytest.raises(InputMissing):
        damping.ratio_from_swings(None)


@pytest.mark.parametrize(
    ("zeta", "where"),
    [(0.199, Typical.BELOW), (0.2, Typical.WITHIN), (0.4, Typical.WITHIN), (0.401, Typical.ABOVE)],
)
def test_beside_the_usual_range(zeta, where):
    assert damping.against_typical(ratio(zeta)) is where


# Ride ------------------------------------------------------------------------------------------------------------

corners = st.tuples(st.floats(200, 600), st.floats(25, 70), st.floats(12e3, 50e3), st.floats(120e3, 300e3))


@given(corners)
def test_body_and_wheel_lie_outside_their_shortcuts(corner):
    """Coupling pushes the two apart: the body below its spring on a rigid wheel, the wheel above both springs alone."""
    ms, mu, ks, kt = corner
    found = damping.ride(mass(ms), mass(mu), rate(ks), rate(kt))
    assert found.body.value <= damping.natural_frequency(mass(ms), rate(ks)).value
    assert found.wheel.value >= damping.natural_frequency(mass(mu), rate(ks + kt)).value - 1
    assert 0 < found.wheel_per_body.si < 1


@given(corners, st.floats(1.05, 1.5))
def test_stiffer_springs_swing_faster(corner, factor):
    ms, mu, ks, kt = corner
    soft = damping.ride(mass(ms), mass(mu), rate(ks), rate(kt))
    assert damping.ride(mass(ms), mass(mu), rate(ks * factor), rate(kt)).body.value > soft.body.value
    assert damping.ride(mass(ms), mass(mu), rate(ks), rate(kt * factor)).wheel.value > soft.wheel.value
    assert damping.ride(mass(ms * factor), mass(mu), rate(ks), rate(kt)).body.value < soft.body.value


def test_a_damper_doubles_its_ratio_with_its_force():
    corner = mass(320), mass(45), rate(22e3), rate(190e3)
    one = damping.ride(*corner, damper=(force(500), speed(1))).damping_ratio
    two = damping.ride(*corner, damper=(force(500), speed(0.5))).damping_ratio
    assert one is not None
    assert two is not None
    assert two.value == pytest.approx(2 * one.value, abs=2)
    assert damping.ride(*corner).damping_ratio is None


def test_ride_takes_no_nothing_and_no_other_dimension():
    with pytest.raises(OutOfRange) as refused:
        damping.ride(mass(320), mass(0), rate(22e3), rate(190e3))
    assert refused.value.argument == "unsprung"
    with pytest.raises(WrongDimension):
        damping.ride(mass(320), mass(45), rate(22e3), mass(190))
    with pytest.raises(OutOfRange):
        damping.frequency_from_sag(length(0))
    with pytest.raises(OutOfRange):
        damping.ratio_from_damper(mass(8), rate(5400), force(40), speed(0))
    with pytest.raises(OutOfRange):
        damping.damper_force(mass(8), rate(5400), ratio(-0.1), speed(1))


# Traces ----------------------------------------------------------------------------------------------------------


def refused_for(samples, hz=AT_50):
    with pytest.raises(CannotTell) as refused:
        damping.ratio_from_trace(samples, hz)
    assert refused.value.argument == "samples"
    return refused.value.details["reason"]


def test_a_quiet_trace_is_read_closely():
    found = damping.ratio_from_trace(a_swing(0.2, 1.3), AT_50)
    assert found.damping_ratio.si == pytest.approx(0.2, abs=0.002)
    assert found.frequency.si == pytest.approx(1.3 * math.sqrt(1 - 0.04), abs=0.01)
    assert found.confidence is Confidence.GOOD
    assert found.lost.value == 0


def test_units_rest_and_slope_do_not_matter():
    plain = damping.ratio_from_trace(a_swing(), AT_50)
    other = damping.ratio_from_trace([40 * y - 7 for y in a_swing(slope=0.2)], AT_50)
    upside_down = damping.ratio_from_trace([-y for y in a_swing()], AT_50)
    for found in (other, upside_down):
        assert found.damping_ratio.si == pytest.approx(plain.damping_ratio.si, abs=1e-3)


def test_gaps_are_counted_and_do_not_bend_the_answer():
    holed = [None if i % 5 == 3 else y for i, y in enumerate(a_swing(0.2))]
    nans = [math.nan if y is None else y for y in holed]
    found = damping.ratio_from_trace(holed, AT_50)
    assert found.damping_ratio.si == pytest.approx(0.2, abs=0.005)
    assert found.lost.si == pytest.approx(0.2, abs=0.02)
    assert damping.ratio_from_trace(nans, AT_50) == found


def test_a_clipped_top_takes_no_part():
    """A sensor at its stop would make the first swing look small and the damper tired."""
    clipped = [min(max(y, 2.6), 3.4) for y in a_swing(0.2)]
    found = damping.ratio_from_trace(clipped, AT_50)
    assert found.damping_ratio.si == pytest.approx(0.2, abs=0.01)
    assert found.lost.value > 0


@pytest.mark.parametrize("hz", [24.9, 200.1])
def test_sample_rates_outside_the_range_are_refused(hz):
    with pytest.raises(OutOfRange) as refused:
        damping.ratio_from_trace(a_swing(), frequency(hz))
    assert refused.value.argument == "sample_rate"


def test_traces_that_cannot_tell_say_why():
    assert refused_for(a_swing(seconds=1.4)) == "too_short"
    assert refused_for([1.0] * 300) == "nothing_moves"
    assert refused_for([None if i % 2 else y for i, y in enumerate(a_swing())]) == "too_many_lost"
    assert refused_for([None] * 300) == "too_many_lost"
    assert refused_for([min(max(y, 2.999), 3.001) for y in a_swing(0.02)]) == "clipped"
    assert refused_for(a_swing(0.9)) == "no_swing"
    with pytest.raises(OutOfRange):
        damping.ratio_from_trace([0.0, 1.0] * 1600, AT_50)


def test_a_swing_that_goes_on_is_no_decay():
    steady = [math.sin(2 * math.pi * 1.3 * i / 50) for i in range(400)]
    assert refused_for(steady) in {"too_short", "not_decaying"}
    growing = [math.exp(i / 400) * y for i, y in enumerate(steady)]
    assert refused_for(growing) in {"too_short", "not_decaying"}


def test_only_what_follows_the_last_push_counts():
    """Three pushes at the body's own pace, then let go: the pushing itself must not be read as no damping."""
    pushes = [3.0 - abs(math.sin(math.pi * 1.2 * i / 50)) for i in range(125)]
    found = damping.ratio_from_trace([*pushes, *[6 - y for y in a_swing(0.25)]], AT_50)
    assert found.damping_ratio.si == pytest.approx(0.25, abs=0.02)


def test_importing_the_sums_brings_no_heavy_package():
    """A sheet page imports this package; numpy and scipy are for traces only."""
    script = (
        "import sys, app.trade.damping, app.trade.alignment, app.trade.loads, app.trade.spring, app.trade.ride_height,"
        " app.trade.play; print([name for name in ('numpy', 'scipy', 'pint') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT)
    assert run.stdout.strip() == "[]"
