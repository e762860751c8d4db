"""Chassis figures found wrong in their source: we agree with the right one and differ from the printed one."""

from __future__ import annotations

import pytest

from app.trade import alignment, damping
from tests.reference_checks import test_loads, test_springs
from tests.reference_checks.chassis_rows import Numbers, cases, check
from tests.reference_checks.test_alignment import TABLES
from tests.si import mass, mm, rate, ratio, speed


def damper_from_decay_n(row: Numbers) -> float:
    """The damper behind a decay: how much of a swing is kept per cycle, by peaks."""
    zeta = damping.ratio_from_peaks([ratio(1), ratio(row["kept"])])
    return damping.damper_force(mass(row["mass_kg"]), rate(row["rate_n_per_m"]), zeta, speed(1)).si


def both_thin_shims_camber_deg(row: Numbers) -> float:
    moves = [alignment.ShimMove(bolt, mm(row["shim_in"] * 25.4), 1) for bolt in ("front", "rear")]
    return alignment.predict(TABLES["front"], moves)["camber"].si


SUMS = {
    **test_springs.SUMS,
    **test_loads.SUMS,
    "damper_from_decay_n": damper_from_decay_n,
    "both_thin_shims_camber_deg": both_thin_shims_camber_deg,
}


@pytest.mark.parametrize("row", cases("wrong_in_source_chassis.csv"))
def test_the_right_figure_is_ours_and_the_printed_one_is_not(row):
    check(row, SUMS)
    assert not row.row.agrees(SUMS[row.row.quantity](row), row.word("printed"))
