"""Whether the gates really stood open for what counts, found out from the ledger alone and not by the rules' own way.

For each accepted entry on a step: every check of every gate asked there then had been answered by an accepted entry,
well, by the same person, not too long before, and since the vehicle was last held another way, the sheet was last
handed over and the gate last changed. Who answered or worked had the gate and the step before them as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from app.ports import LedgerRow

WORK = ("reading_taken", "test_recorded", "signed_off", "step_done")


@dataclass
class _Job:
    packet: dict[str, Any] = field(default_factory=dict)
    support: str = "on_wheels"
    # gate -> check -> (who, when, what)
    said: dict[str, dict[str, tuple[str, int, dict[str, Any]]]] = field(default_factory=dict)
    # edition, by its packet's hash -> its gates
    editions: dict[str, dict[str, Any]] = field(default_factory=dict)

    def gate(self, key: str) -> dict[str, Any]:
        found: dict[str, Any] = next(one for one in self.packet["gates"] if one["id"] == key)
        return found


@dataclass
class GateWatch:
    jobs: dict[str, _Job] = field(default_factory=dict)
    # How many entries counted behind a gate: a watch that saw none has watched nothing.
    seen: int = 0

    def sees(self, row: LedgerRow) -> None:
        """The next row of the ledger. Raises AssertionError where a gate was not open."""
        if not row.accepted:
            return
        entry = row.heard.entry
        job, body = self.jobs.setdefault(entry.job, _Job()), dict(entry.body)
        if entry.kind == "packet_pinned":
            before = {one["id"]: one for one in job.packet.get("gates", ())}
            job.packet = body["packet"]
            now = {one["id"]: one for one in job.packet["gates"]}
            job.editions[entry.basis.packet] = now
            job.said = {key: said for key, said in job.said.items() if now.get(key) == before.get(key)}
        elif entry.kind == "support_changed":
            job.support = body["state"]
            job.said = {key: said for key, said in job.said.items() if not job.gate(key)["follows_support"]}
        elif entry.kind == "handed_over":
            job.said = {}
        elif entry.kind == "gate_answered":
            shown = job.editions[entry.basis.packet][body["gate"]]
            assert shown == job.gate(body["gate"]), f"{entry.id} answers other questions than there are"
            said = job.said.setdefault(body["gate"], {})
            if any(who != entry.person for who, _, _ in said.values()):
                said.clear()
            for check, answer in body["answers"].items():
                said[check] = (entry.person, row.heard.heard_at_ms, dict(answer))
        elif entry.kind in WORK or (entry.kind == "countersigned" and body.get("fastener")):
            self._was_open(job, row, body)

    def _was_open(self, job: _Job, row: LedgerRow, body: dict[str, Any]) -> None:
        step = next(one for one in job.packet["steps"] if one["id"] == body["step"])
        seen = row.heard.entry.basis.step_revision
        assert seen == step["revision"], f"{row.heard.entry.id} is of a step as it was"
        for key in step.get("gates", ()):
            gate = job.gate(key)
            is_first = row.heard.entry.kind != "countersigned"
            if (gate.get("supports") and job.support not in gate["supports"]) or not (
                is_first or gate["follows_support"]
            ):
                continue
            self.seen += 1
            said = job.said.get(key, {})
            for check in gate["checks"]:
                what = f"{row.heard.entry.kind} {row.heard.entry.id} at {key}: {check['id']}"
                assert check["id"] in said, f"{what} is not answered"
                who, when, answer = said[check["id"]]
                assert who == row.heard.entry.person or not is_first, f"{what} is another person's"
                age = row.heard.heard_at_ms - when
                assert 0 <= age <= gate["stale_after_s"] * 1_000, f"{what} is {age} ms old"
                assert _is_good(check, answer, said), f"{what} is {answer}"


def _is_good(check: dict[str, Any], answer: dict[str, Any], said: dict[str, Any]) -> bool:
    if check["kind"] == "seen":
        return any(one["key"] == answer["choice"] and one["passes"] for one in check["choices"])
    if check["kind"] == "ready":
        return answer["ready"] is True
    value = answer["value"]
    if check.get("halve_unless"):
        other, wanted = check["halve_unless"]
        if other not in said or said[other][2].get("choice") != wanted:
            value //= 2
    return bool(value >= check["at_least"])
