"""The tablet's rules against the office's: the same rulings and the same bytes of state, after every entry.

The filed cases go through the script too; made-up histories go through both, entry by entry.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from app.domain.entry import Heard, entry_from
from app.domain.packet import packet_from
from app.domain.sheet import sheet_from
from tests.builders import ROOT, whole_job
from tests.twin import Tablet, TwinPlay
from tests.unit import test_rules_history as histories

FILE: dict[str, Any] = json.loads((ROOT / "shared" / "vectors" / "rules.json").read_text(encoding="utf-8"))
CASES: list[dict[str, Any]] = FILE["cases"]


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_tablet_rules_on_a_filed_case_as_its_name_says(case: dict[str, Any]):
    packet = FILE["packets"].get(case["before"]["packet_hash"])
    heard = Heard(
        **{**case["heard"], "entry": entry_from(case["heard"]["entry"]), "roles": tuple(case["heard"]["roles"])}
    )
    tablet = Tablet(case["before"]["job"])
    tablet.goes_on_from(sheet_from(case["before"], packet_from(packet) if packet else None))

    found = json.loads(tablet.hears(heard))

    assert found["ruling"] == case["ruling"]
    assert tablet.hash() == case["hash"]


class TwinHistory(histories.SheetHistory):
    """The same machine, with the tablet listening."""

    def a_bench(self) -> histories.Bench:
        return histories.Bench(TwinPlay())


TestTwinHistory = TwinHistory.TestCase
TestTwinHistory.settings = settings(
    max_examples=100, stateful_step_count=12, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


def test_a_whole_job_leads_to_the_same_sheet():
    played = TwinPlay()
    for one, _ in whole_job().history:
        played.hears(one)

    assert len(played.history) > 15
    assert all(ruling.accepted for _, ruling in played.history)
