"""Whether a packet may be pinned: read without loss, whole in itself, and honest about what it changed.

A packet comes from this house's own compiling, but through the same door as everything else. What is checked here is
what the rules then rely on: that every name a step uses is there, that no name is used twice, and that a changed step
says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from app.domain.canonical import LARGEST_WHOLE
from app.domain.packet import Gate, Packet, Step, Wrench

PACKET_FORM = 1
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def why_not_read(data: Mapping[str, Any], packet: Packet) -> str | None:
    """Say, for the developer, what reading this data as a packet would lose; `None` for nothing."""
    if not is_kept(data, packet.as_json()):
        return "something in it is of another form and would be lost or altered by reading it"
    if packet.v != PACKET_FORM:
        return f"form {packet.v} of a packet, and this version reads {PACKET_FORM}"
    return None


def why_not_pinned(packet: Packet, before: Packet | None) -> str | None:
    """Say, for the developer, what is wrong with a packet; `None` for nothing."""
    faults = (*_wrench_faults(packet.wrenches), *_gate_faults(packet.gates), *_step_faults(packet))
    if before is not None:
        faults = (*faults, *_silent_changes(before, packet))
    return faults[0] if faults else None


def is_kept(given: Any, read: Any) -> bool:
    """Whether all that was given is in what was read, unaltered. What was left out may have been filled in."""
    if isinstance(given, dict):
        return isinstance(read, dict) and all(key in read and is_kept(value, read[key]) for key, value in given.items())
    if isinstance(given, list):
        return isinstance(read, list) and len(given) == len(read) and all(map(is_kept, given, read))
    if isinstance(given, int) and not isinstance(given, bool) and abs(given) > LARGEST_WHOLE:
        return False
    return type(given) is type(read) and bool(given == read)


def _wrench_faults(wrenches: Iterable[Wrench]) -> tuple[str, ...]:
    kept = tuple(wrenches)
    dates = (f"wrench {one.tag} is due on '{one.due_on}'" for one in kept if one.due_on and not _is_date(one.due_on))
    return (*_unnamed_or_twice("wrench", (one.tag for one in kept)), *dates)


def _is_date(text: str) -> bool:
    return _DATE.fullmatch(text) is not None


def _gate_faults(gates: tuple[Gate, ...]) -> tuple[str, ...]:
    faults = list(_unnamed_or_twice("gate", (gate.id for gate in gates)))
    for gate in gates:
        if not gate.checks:
            faults.append(f"gate {gate.id} asks nothing")
        faults += _unnamed_or_twice(f"gate {gate.id} check", (check.id for check in gate.checks))
    return tuple(faults)


def _step_faults(packet: Packet) -> tuple[str, ...]:
    faults = list(_unnamed_or_twice("step", (step.id for step in packet.steps)))
    if not packet.steps:
        faults.append("it has no steps")
    for step in packet.steps:
        faults += [
            f"step {step.id} names gate {key}, which is not there" for key in _missing(step.gates, packet.gate_by_id)
        ]
        faults += [
            f"step {step.id} comes after {key}, which is not there" for key in _missing(step.after, packet.step_by_id)
        ]
        faults += _unnamed_or_twice(f"step {step.id} measure", (one.id for one in step.measures))
        faults += _unnamed_or_twice(f"step {step.id} fastener", (one.id for one in step.fasteners))
        faults += _unnamed_or_twice(f"step {step.id} one-time part", (one.id for one in step.one_time))
    return tuple(faults)


def _silent_changes(before: Packet, packet: Packet) -> tuple[str, ...]:
    """A step that reads otherwise than in the edition before and bears the same, or a lower, revision."""

    def is_silent(step: Step) -> bool:
        old = before.step_by_id.get(step.id)
        return old is not None and (step.revision < old.revision or (step.revision == old.revision and step != old))

    return tuple(
        f"step {step.id} was changed and its revision was not raised" for step in packet.steps if is_silent(step)
    )


def _missing(keys: Iterable[str], there: Mapping[str, object]) -> list[str]:
    return [key for key in keys if key not in there]


def _unnamed_or_twice(what: str, names: Iterable[str]) -> tuple[str, ...]:
    seen: set[str] = set()
    faults = []
    for name in names:
        if not name or name in seen:
            faults.append(f"{what} '{name}' is there twice" if name else f"a {what} has no name")
        seen.add(name)
    return tuple(faults)
