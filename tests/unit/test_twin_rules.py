"""The tablet's rules against the office's: the same rulings and the same bytes of state, after every entry.

The filed cases go through the script too; made-up histories go through both, entry by entry.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, event, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule

from app.domain import entry as e
from app.domain.canonical import canonical
from app.domain.entry import Heard, Kind, entry_from
from app.domain.packet import Packet, packet_from
from app.domain.sheet import sheet_from
from tests import odd_jobs
from tests.builders import ADA, BEN, FAY, GUS, ROOT, Someone, whole_job
from tests.made_up import JSON_VALUES, bent_bodies
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


# --- Jobs no book would compile --------------------------------------------------------------------------------------

PEOPLE = st.sampled_from((ADA, ADA, BEN, GUS, GUS, FAY))
ODD_IDS = ("e-1", "10", "9", "__proto__", "constructor", "toString")


class OddHistory(RuleBasedStateMachine):
    """Made-up packets in editions, many persons, stale views, odd ids, clocks set back, the sheet read back between."""

    play: TwinPlay

    @initialize(packet=odd_jobs.odd_packets())
    def a_job_is_opened(self, packet: Packet) -> None:
        self.play = TwinPlay()
        self.views: list[e.Basis] = []
        self.play.pins(packet)

    @rule(data=st.data(), times=st.integers(1, 5))
    def something_is_done(self, data: st.DataObject, times: int) -> None:
        for _ in range(times):
            sheet = self.play.sheet
            kind, body = data.draw(odd_jobs.some_deed(list(sheet.holds), list(sheet.asides)))
            assert sheet.packet is not None
            self.does(data.draw(PEOPLE), kind, data.draw(odd_jobs.aimed(body, sheet.packet)), data)

    @rule(data=st.data(), who=st.sampled_from((ADA, BEN, GUS)), slips=st.integers(0, 3))
    def somebody_works_on_a_step(self, data: st.DataObject, who: Someone, slips: int) -> None:
        """Everything a step asks for, in order, but for what is left out."""
        packet = self.play.sheet.packet
        assert packet is not None
        step = data.draw(st.sampled_from(packet.steps))
        loads = {state for one in step.fasteners for state in one.load_states} & set(step.supports)
        state = data.draw(st.sampled_from(sorted(loads) or step.supports))
        work = [*odd_jobs.careful_work(step, packet, state)]
        for _ in range(slips):
            work.pop(data.draw(st.integers(0, len(work) - 1))) if len(work) > 1 else None
        for body in work:
            self.play.does(who, body)
            event(f"{type(body).__name__}: {self.play.history[-1][1].reason or 'accepted'}")
        for body in odd_jobs.second_look(step):
            self.play.does(data.draw(PEOPLE), body)
            event(f"{type(body).__name__}: {self.play.history[-1][1].reason or 'accepted'}")

    @rule()
    def the_foreman_tries_to_hand_back(self) -> None:
        self.play.does(FAY, e.HandedBack())

    def does(self, who: Someone, kind: str, body: dict[str, Any], data: st.DataObject) -> None:
        step = body.get("step")
        seen = self.play.sees(step if isinstance(step, str) else "")
        basis = data.draw(st.sampled_from([seen] * 8 + [e.Basis(), *self.views[-2:]]))
        held = data.draw(st.sampled_from([None, None, None, (), tuple(self.play.sheet.holds)]))
        self.views.append(seen)
        number = f"e-{len(self.play.history) + 1}"
        one_id = data.draw(st.sampled_from([number] * 6 + [one for one in ODD_IDS if not self.is_heard(one)]))
        self.play.does(who, body, kind=str(kind), basis=replace(basis, holds=held), id=one_id)
        event(f"{kind}: {self.play.history[-1][1].reason or 'accepted'}")

    def is_heard(self, one_id: str) -> bool:
        return any(heard.entry.id == one_id for heard, _ in self.play.history)

    @rule(seconds=st.sampled_from([-2, -1, 30, 61, 3_700, 90_000]))
    def time_passes(self, seconds: int) -> None:
        """The office's clock, too, is set back now and then: two entries may have the same instant."""
        self.play.wait(seconds=seconds)

    @rule(data=st.data(), packet=odd_jobs.odd_packets(), edition=st.sampled_from([1, 1, 1, 0, 2]))
    def another_edition_is_pinned(self, data: st.DataObject, packet: Packet, edition: int) -> None:
        """Some steps as they were, some changed, some gone; revisions raised, or not."""
        before = self.play.sheet.packet
        assert before is not None
        kept = {step.id: step for step in before.steps}
        raised = data.draw(st.integers(0, 4))
        steps = tuple(
            kept[step.id] if step.id in kept and data.draw(st.booleans()) else replace(step, revision=raised)
            for step in packet.steps
        )
        gates = {gate.id: gate for gate in (*packet.gates, *before.gates)} if data.draw(st.booleans()) else {}
        changed = replace(packet, steps=steps, edition=before.edition + edition)
        self.play.pins(replace(changed, gates=tuple(gates.values())) if gates else changed)
        event(f"pinned: {self.play.history[-1][1].details.get('why', self.play.history[-1][1].reason or 'accepted')}")

    @rule(data=st.data())
    def a_bent_packet_is_tried(self, data: st.DataObject) -> None:
        body = data.draw(bent_bodies(Kind.PACKET_PINNED, JSON_VALUES))
        self.play.does(GUS, body, kind="packet_pinned")

    @rule()
    def the_sheet_is_read_back(self) -> None:
        """As the office's store gives it to the next entry: the rulings after may not depend on the order of keys."""
        sheet = self.play.sheet
        self.play.sheet = sheet_from(json.loads(canonical(sheet.as_json())), sheet.packet)

    @rule()
    def the_tablet_reads_it_back(self) -> None:
        self.play.tablet.goes_on_from(self.play.sheet)


TestOddHistory = OddHistory.TestCase
TestOddHistory.settings = settings(
    max_examples=150,
    stateful_step_count=15,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
