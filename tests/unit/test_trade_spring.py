"""Springs: what the sums promise beyond the outside figures in tests/reference_checks."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade import spring
from app.trade.problems import InputMissing, OutOfRange, WrongDimension
from app.trade.spring import Ends, Fit, Grade, SpringFacts
from tests.si import energy, force, mass, mm, pressure, rate, ratio

STEEL = pressure(79.3e9)


def a_rate(wire=12.0, coil=110.0, coils=6.5, **more):
    return spring.rate(mm(wire), mm(coil), ratio(coils), more.pop("modulus", STEEL), **more)


# Rate ------------------------------------------------------------------------------------------------------------


def test_half_a_coil_counts():
    """Active coils divide as a real number; whole-number division is a slip that was seen in print."""
    assert a_rate(coils=7.5).rate.si == pytest.approx(a_rate(coils=15).rate.si * 2, rel=1e-4)
    assert a_rate(coils=7.5).rate.value < a_rate(coils=7).rate.value


def test_an_unknown_modulus_is_assumed_and_said_so():
    known = a_rate()
    assumed = spring.rate(mm(12), mm(110), ratio(6.5))

    assert "modulus" not in known.certainty.assumed
    assert "modulus" in assumed.certainty.assumed
    assert assumed.low.value < known.rate.value < assumed.high.value


def test_with_all_readings_exact_the_modulus_alone_leaves_four_percent():
    found = a_rate(wire_within=mm(0), coil_within=mm(0), coils_within=ratio(0))

    assert found.certainty.assumed == ()
    assert found.certainty.spread.si == pytest.approx(0.04, abs=1e-4)
    assert found.certainty.grade is Grade.CLOSE


def test_certainty_follows_each_reading():
    """A worse reading of any one input widens the answer."""
    exact = {"wire_within": mm(0), "coil_within": mm(0), "coils_within": ratio(0)}
    base = a_rate(**exact).certainty.spread.value
    for name, worse in (("wire_within", mm(0.2)), ("coil_within", mm(2)), ("coils_within", ratio(0.5))):
        assert a_rate(**{**exact, name: worse}).certainty.spread.value > base, name


@pytest.mark.parametrize(
    ("wire", "coil", "coils", "argument"),
    [(0, 110, 6.5, "wire"), (12, 0, 6.5, "mean_coil"), (12, 110, 0, "active_coils"), (-12, 110, 6.5, "wire")],
)
def test_zero_and_negative_sizes_are_refused_by_name(wire, coil, coils, argument):
    with pytest.raises(OutOfRange) as refused:
        a_rate(wire, coil, coils)
    assert refused.value.argument == argument


def test_an_index_below_three_is_refused_everywhere():
    with pytest.raises(OutOfRange) as refused:
        a_rate(wire=40, coil=119)
    assert refused.value.argument == "mean_coil"
    assert refused.value.details["index"] == "2.97"
    with pytest.raises(OutOfRange):
        spring.index(mm(40), mm(119))
    with pytest.raises(OutOfRange):
        spring.shear_stress(force(100), mm(40), mm(119))
    for factor in (spring.wahl, spring.bergstraesser, spring.direct_shear):
        with pytest.raises(OutOfRange):
            factor(ratio(2.9))
        assert factor(ratio(3)).si > 1


@pytest.mark.parametrize("at", range(4))
def test_a_rate_takes_no_other_dimension(at):
    given_inputs = [mm(12), mm(110), ratio(6.5), STEEL]
    given_inputs[at] = mass(1)
    with pytest.raises(WrongDimension) as refused:
        spring.rate(*given_inputs)
    assert refused.value.argument == ["wire", "mean_coil", "active_coils", "modulus"][at]


def test_a_missing_input_is_asked_for():
    with pytest.raises(InputMissing) as refused:
        spring.rate(None, mm(110), ratio(6.5))
    assert refused.value.argument == "wire"


def test_a_reading_no_better_than_its_error_is_refused():
    with pytest.raises(OutOfRange) as refused:
        a_rate(wire_within=mm(12))
    assert refused.value.argument == "wire_within"


sizes = st.tuples(st.floats(6, 20), st.floats(4, 12), st.floats(3, 12))


@given(sizes, st.floats(1.01, 1.3))
def test_a_rate_rises_with_wire_and_falls_with_coil_and_coils(size, factor):
    wire, c, coils = size
    base = a_rate(wire, wire * c, coils).rate.value
    assert a_rate(wire * factor, wire * c * factor, coils).rate.value > base
    assert a_rate(wire, wire * c * factor, coils).rate.value < base
    assert a_rate(wire, wire * c, coils * factor).rate.value < base


@given(sizes)
def test_the_likely_rate_lies_between_its_ends(size):
    wire, c, coils = size
    found = spring.rate(mm(wire), mm(wire * c), ratio(coils))
    assert found.low.value < found.rate.value < found.high.value


def test_rate_between_two_loads_wants_the_greater_load_at_the_shorter_length():
    with pytest.raises(OutOfRange):
        spring.rate_between(force(100), mm(200), force(300), mm(210))
    with pytest.raises(OutOfRange):
        spring.rate_between(force(100), mm(200), force(300), mm(200))


# Ends ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ends", Ends)
def test_active_and_total_coils_agree(ends):
    from_active = spring.coil_from_active(ends, ratio(6.5), mm(12), mm(30))
    assert spring.coil_from_total(ends, from_active.total_coils, mm(12), mm(30)) == from_active


@pytest.mark.parametrize("ends", Ends)
def test_a_spring_wound_at_its_own_wire_is_about_solid(ends):
    """With a pitch of one wire there is nothing to compress: free and solid length agree."""
    coil = spring.coil_from_active(ends, ratio(8), mm(10), mm(10))
    assert coil.free_length is not None
    assert coil.free_length.value == coil.solid_length.value


def test_ends_that_leave_no_coil_are_refused():
    with pytest.raises(OutOfRange) as refused:
        spring.coil_from_total(Ends.SQUARED, ratio(2), mm(12))
    assert refused.value.argument == "total_coils"
    with pytest.raises(OutOfRange):
        spring.coil_from_active(Ends.PLAIN, ratio(6), mm(12), mm(11))


# Loads and energy ------------------------------------------------------------------------------------------------


@given(st.floats(5e3, 2e5), st.floats(0.2, 0.5), st.floats(0.05, 0.95))
def test_length_and_load_are_each_others_inverse(k, free, part):
    held = mm(free * 1000 * part)
    load = spring.load_at_length(rate(k), mm(free * 1000), held)
    assert spring.length_at_load(rate(k), mm(free * 1000), load).value == pytest.approx(held.value, abs=1)


def test_a_length_beyond_solid_is_refused():
    with pytest.raises(OutOfRange) as refused:
        spring.load_at_length(rate(30e3), mm(350), mm(90), mm(100))
    assert refused.value.argument == "length"
    with pytest.raises(OutOfRange) as refused:
        spring.length_at_load(rate(30e3), mm(350), force(7600), mm(100))
    assert refused.value.argument == "load"
    assert spring.length_at_load(rate(30e3), mm(350), force(7500), mm(100)).value == 100_000


def test_a_length_beyond_free_and_a_solid_beyond_free_are_refused():
    with pytest.raises(OutOfRange):
        spring.load_at_length(rate(30e3), mm(350), mm(351))
    with pytest.raises(OutOfRange) as refused:
        spring.load_at_length(rate(30e3), mm(350), mm(300), mm(360))
    assert refused.value.argument == "solid_length"


@given(st.floats(1e3, 2e5), st.lists(st.floats(0, 0.3), min_size=3, max_size=3))
def test_energy_adds_up_over_stages(k, deflections):
    a, b, c = (mm(x * 1000) for x in deflections)
    whole = spring.stored(rate(k), a, c).energy.value
    parts = spring.stored(rate(k), a, b).energy.value + spring.stored(rate(k), b, c).energy.value
    assert whole == pytest.approx(parts, abs=2)


@given(st.floats(1e3, 2e5), st.floats(0, 0.2), st.floats(0.005, 0.2))
def test_more_deflection_holds_more_energy(k, start, more):
    held = spring.stored(rate(k), mm(start * 1000), mm((start + more) * 1000))
    assert held.energy.value > 0
    assert held.force.value > held.force_before.value
    back = spring.stored(rate(k), mm((start + more) * 1000), mm(start * 1000))
    assert back.energy.value == -held.energy.value
    assert back.lifting == held.lifting


def test_a_spring_does_not_pull():
    with pytest.raises(OutOfRange):
        spring.stored(rate(30e3), mm(-1), mm(10))
    with pytest.raises(OutOfRange):
        spring.stored(rate(0), mm(0), mm(10))


# Gate ------------------------------------------------------------------------------------------------------------


def test_the_gate_from_lengths_shows_force_energy_and_what_the_compressor_needs():
    """30 N/mm pressed 150 mm is 4500 N and 337.5 J, as much as lifting 34 kg by one metre."""
    exact = {"rate_spread": ratio(0), "length_within": mm(0)}
    gate = spring.force_at_gate(rate(30e3), free_length=mm(350), compressed_length=mm(200), **exact)

    assert (gate.force.si, gate.energy.si) == (4500, 337.5)
    assert gate.lifting.whole_kg == 34
    assert gate.compressor_needs.si == 6750
    assert gate.certainty.spread.value == 0
    assert gate.certainty.assumed == ()


def test_the_gate_asks_the_compressor_to_bear_the_most_the_inputs_allow():
    gate = spring.force_at_gate(rate(30e3), free_length=mm(350), compressed_length=mm(200))

    assert gate.certainty.assumed == ("rate_spread", "length_within")
    assert gate.force_high.si == pytest.approx(33e3 * 0.156)
    assert gate.compressor_needs.si == pytest.approx(1.5 * gate.force_high.si, rel=1e-5)
    assert gate.certainty.grade is Grade.FAIR
    assert not spring.compressor_within(gate, force(gate.compressor_needs.si - 1))
    assert spring.compressor_within(gate, gate.compressor_needs)


def test_both_ways_into_the_gate_agree():
    exact = {"rate_spread": ratio(0), "length_within": mm(0)}
    lengths = spring.force_at_gate(rate(30e3), free_length=mm(350), compressed_length=mm(200), **exact)
    loaded = spring.force_at_gate(rate(30e3), force_now=force(3000), further=mm(50), force_spread=ratio(0), **exact)
    assert (loaded.force, loaded.energy) == (lengths.force, lengths.energy)


def test_a_softer_spring_under_the_same_force_may_hold_more_energy():
    """From the vehicle's side the force is known and the rate is not: the soft end counts for the energy."""
    gate = spring.force_at_gate(
        rate(30e3),
        force_now=force(4000),
        further=mm(0),
        rate_spread=ratio(0.1),
        force_spread=ratio(0),
        length_within=mm(0),
    )
    assert gate.force_high == gate.force
    assert gate.energy_high.si == pytest.approx(4000**2 / (2 * 27e3), rel=1e-4)


@given(
    st.floats(1e4, 1e5),
    st.floats(0.15, 0.3),
    st.floats(0, 0.3),
    st.floats(0, 0.01),
)
def test_the_gate_never_shows_less_than_the_true_force_within_its_spread(k, x, spread, off):
    """Whatever rate and lengths lie within the stated spreads, the shown worst case is not beaten."""
    gate = spring.force_at_gate(
        rate(k),
        free_length=mm(400),
        compressed_length=mm(400 - x * 1000),
        rate_spread=ratio(spread),
        length_within=mm(off * 1000),
    )
    worst = k * (1 + spread) * (x + 2 * off)
    assert gate.force_high.si >= worst * (1 - 1e-4) - 1
    assert gate.force_high.value >= gate.force.value
    assert gate.energy_high.value >= gate.energy.value
    assert gate.compressor_needs.value >= gate.force_high.value


@pytest.mark.parametrize(
    ("known", "argument"),
    [
        ({}, "force_now"),
        ({"force_now": force(1)}, "further"),
        ({"free_length": mm(300)}, "compressed_length"),
        ({"compressed_length": mm(300)}, "free_length"),
    ],
)
def test_the_gate_asks_for_what_it_lacks(known, argument):
    with pytest.raises(InputMissing) as refused:
        spring.force_at_gate(rate(30e3), **known)
    assert refused.value.argument == argument


def test_the_gate_refuses_solid_a_thin_margin_and_a_spread_of_everything():
    lengths = {"free_length": mm(350), "compressed_length": mm(100)}
    with pytest.raises(OutOfRange) as refused:
        spring.force_at_gate(rate(30e3), **lengths, solid_length=mm(110))
    assert refused.value.argument == "length"
    with pytest.raises(OutOfRange) as refused:
        spring.force_at_gate(rate(30e3), **lengths, margin=ratio(0.9))
    assert refused.value.argument == "margin"
    with pytest.raises(OutOfRange) as refused:
        spring.force_at_gate(rate(30e3), **lengths, rate_spread=ratio(1))
    assert refused.value.argument == "rate_spread"


# Replacement -----------------------------------------------------------------------------------------------------

OLD = SpringFacts(rate(30e3), mm(350), mm(12))


def test_a_like_spring_matches():
    assert spring.match(OLD, SpringFacts(rate(31e3), mm(355), mm(12.2))).fit is Fit.MATCHES


@pytest.mark.parametrize(
    ("new", "what"),
    [
        (SpringFacts(rate(33e3), mm(350), mm(12)), "rate"),
        (SpringFacts(rate(30e3), mm(340), mm(12)), "free_length"),
        (SpringFacts(rate(30e3), mm(350), mm(13)), "wire"),
    ],
)
def test_one_property_off_is_named(new, what):
    found = spring.match(OLD, new)
    assert found.fit is Fit.DIFFERS
    assert [row.what for row in found.differences if row.fit is Fit.DIFFERS] == [what]


def test_what_is_not_known_is_not_a_match():
    """Nothing is taken as equal because nobody knows it; a known difference still counts."""
    unknown = spring.match(OLD, SpringFacts(None, mm(350), mm(12)))
    assert unknown.fit is Fit.CANNOT_TELL
    assert unknown.not_compared == ("rate",)
    assert spring.match(OLD, SpringFacts(None, mm(300), None)).fit is Fit.DIFFERS


def test_a_match_takes_no_other_dimension():
    with pytest.raises(WrongDimension):
        spring.match(OLD, SpringFacts(mm(1), mm(350), mm(12)))


def test_lifting_takes_energy_only():
    with pytest.raises(WrongDimension):
        spring.as_lifting(force(1))
    assert spring.as_lifting(energy(9.80665)).mass.value == 1000


@given(st.floats(3, 20))
def test_the_two_curvature_factors_stay_close(c):
    """Wahl and Bergsträsser describe one thing; from index 3 on they differ by less than 3 %."""
    assert math.isclose(spring.wahl(ratio(c)).si, spring.bergstraesser(ratio(c)).si, rel_tol=0.03)
