"""Springs against outside figures (data/springs.csv), and their traps."""

from __future__ import annotations

import pytest

from app.trade import spring
from app.trade.spring import Ends
from tests.reference_checks.chassis_rows import Numbers, cases, check
from tests.si import energy, force, mm, pressure, rate, ratio

INCH, LBF = 0.0254, 4.4482216152605
LBF_PER_IN = LBF / INCH


def a_rate(row: Numbers) -> float:
    found = spring.rate(mm(row["wire_mm"]), mm(row["coil_mm"]), ratio(row["coils"]), pressure(row["modulus_gpa"] * 1e9))
    return found.rate.si / 1000


def a_coil(row: Numbers) -> spring.Coil:
    pitch = mm(row["pitch_mm"]) if "pitch_mm" in row else None
    return spring.coil_from_active(Ends(row.word("ends")), ratio(row["active"]), mm(row["wire_mm"]), pitch)


def free_mm(row: Numbers) -> float:
    free = a_coil(row).free_length
    assert free is not None
    return free.si * 1000


def held(row: Numbers) -> spring.Stored:
    if "rate_lbf_per_in" in row:
        k, x1, x2 = row["rate_lbf_per_in"] * LBF_PER_IN, row["from_in"] * INCH, row["to_in"] * INCH
    else:
        k, x1, x2 = row["rate_n_per_mm"] * 1000, row["from_mm"] / 1000, row["to_mm"] / 1000
    return spring.stored(rate(k), mm(x1 * 1000), mm(x2 * 1000))


def deflection_mm(row: Numbers) -> float:
    k = rate(a_rate(row) * 1000)
    return 500 - spring.length_at_load(k, mm(500), force(row["load_n"])).si * 1000


def load_n(row: Numbers) -> float:
    return spring.load_at_length(rate(a_rate(row) * 1000), mm(500), mm(500 - row["pressed_mm"])).si


def deflection_under_load_in(row: Numbers) -> float:
    k = rate(row["rate_lbf_per_in"] * LBF_PER_IN)
    return (0.5 - spring.length_at_load(k, mm(500), force(row["load_lbf"] * LBF)).si) / INCH


def rate_between(row: Numbers) -> float:
    found = spring.rate_between(
        force(row["load_a_n"]), mm(row["length_a_mm"]), force(row["load_b_n"]), mm(row["length_b_mm"])
    )
    return found.si / 1000


def rate_change_percent(row: Numbers) -> float:
    sizes = {"wire": 12.0, "coil": 110.0}
    before = spring.rate(mm(sizes["wire"]), mm(sizes["coil"]), ratio(6.5), pressure(79.3e9)).rate.si
    sizes[row.word("part")] *= 1 + row["percent"] / 100
    after = spring.rate(mm(sizes["wire"]), mm(sizes["coil"]), ratio(6.5), pressure(79.3e9)).rate.si
    return (after / before - 1) * 100


SUMS = {
    "wahl": lambda row: spring.wahl(ratio(row["index"])).si,
    "bergstraesser": lambda row: spring.bergstraesser(ratio(row["index"])).si,
    "direct_shear": lambda row: spring.direct_shear(ratio(row["index"])).si,
    "index": lambda row: spring.index(mm(row["wire_mm"]), mm(row["coil_mm"])).si,
    "rate_n_per_mm": a_rate,
    "rate_between_n_per_mm": rate_between,
    "rate_change_percent": rate_change_percent,
    "stress_mpa": lambda row: (
        spring.shear_stress(force(row["load_n"]), mm(row["wire_mm"]), mm(row["coil_mm"])).si / 1e6
    ),
    "deflection_mm": deflection_mm,
    "deflection_under_load_in": deflection_under_load_in,
    "load_n": load_n,
    "total_coils": lambda row: a_coil(row).total_coils.si,
    "solid_mm": lambda row: a_coil(row).solid_length.si * 1000,
    "free_mm": free_mm,
    "force_n": lambda row: held(row).force.si,
    "energy_j": lambda row: held(row).energy.si,
    "lifts_kg": lambda row: spring.as_lifting(energy(row["energy_j"])).mass.si,
}


@pytest.mark.parametrize("row", cases("springs.csv"))
def test_springs_agree_with_the_outside(row):
    check(row, SUMS)


def test_whole_number_division_is_not_repeated():
    """Trap S-03: a notebook prints 16.0 N/mm, 18.0 mm and 1.0 where real division gives 16.20, 18.51 and 1.0833."""
    k = spring.rate(mm(5), mm(30), ratio(15), pressure(84e9)).rate.si / 1000
    assert k == pytest.approx(16.20, abs=0.005)
    assert k != pytest.approx(16.0, abs=0.1)
    assert spring.direct_shear(spring.index(mm(5), mm(30))).si == pytest.approx(1.0833, abs=1e-4)


def test_energy_between_two_preloads_is_not_that_of_the_difference():
    """Trap S-33: 187.5 J, where half the rate times the square of the difference would say 37.5 J."""
    found = spring.stored(rate(30e3), mm(100), mm(150)).energy.si
    assert found == 187.5
    assert found != pytest.approx(0.5 * 30e3 * 0.05**2)


def test_energy_agrees_with_the_area_under_the_force():
    """An outside oracle for the energy: scipy integrates force over travel."""
    from scipy import integrate

    for k, x1, x2 in ((30e3, 0.1, 0.15), (22e3, 0.0, 0.12), (47e3, 0.08, 0.02)):
        area, _ = integrate.quad(lambda x, k=k: k * x, x1, x2)
        assert spring.stored(rate(k), mm(x1 * 1000), mm(x2 * 1000)).energy.si == pytest.approx(area, abs=2e-3)


def test_the_assumed_modulus_covers_what_is_printed():
    """Every modulus seen in print lies within the assumed value and its spread, to half a percent."""
    assumed, spread = spring.ASSUMED_MODULUS.si / 1e9, spring.MODULUS_SPREAD.si
    for printed in (77.2, 78.5, 79.3, 80.7, 81.37, 81.7, 84.0):
        assert assumed * (1 - spread) * 0.995 <= printed <= assumed * (1 + spread) * 1.005
