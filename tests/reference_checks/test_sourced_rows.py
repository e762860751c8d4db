"""The rows themselves: complete, sourced, dated, each used once."""

from __future__ import annotations

import pytest

from tests.reference_checks import test_alignment, test_damping, test_loads, test_springs
from tests.reference_checks.sourced_rows import STATUSES, rows

SUBJECTS = {
    "springs": test_springs.SUMS,
    "damping": test_damping.SUMS,
    "loads": test_loads.SUMS,
    "alignment": test_alignment.SUMS,
}


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_row_says_where_it_is_from(subject):
    found = rows(subject)
    assert len({row.id for row in found}) == len(found)
    for row in found:
        assert row.status in STATUSES, row.id
        assert len(row.source) > 3, row.id
        assert row.allowed >= 0, row.id


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_quantity_has_a_sum_and_every_sum_a_row(subject):
    assert {row.quantity for row in rows(subject)} == set(SUBJECTS[subject])


@pytest.mark.parametrize("subject", SUBJECTS)
def test_no_subject_rests_on_memory(subject):
    found = rows(subject)
    remembered = [row for row in found if row.status == "from memory"]
    assert len(remembered) < len(found) / 3


def test_a_wrong_figure_would_be_noticed():
    """The comparison can fail: every row moved by three tolerances and a thousandth is refused."""
    for subject in SUBJECTS:
        for row in rows(subject):
            assert row.agrees(row.expected)
            assert not row.agrees(row.expected + 3 * row.allowed + 1e-3 * max(1.0, abs(row.expected))), row.id
