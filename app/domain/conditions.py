"""Conditions of procedures: what must hold for a step, gate or choice to be there.

A condition is judged against a `Subject`, what is known of one line's axle. A fact nobody has given makes the answer
*unknown*, never a silent no, unless the rest settles it: "a coil and riveted" is false on a leaf spring whatever the
rivets are. Reading the text form is here too; where such texts stand in files is not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Is:
    """A key has one of these values."""

    key: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class All:
    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Not:
    part: Condition


Condition: TypeAlias = Is | All | AnyOf | Not


@dataclass(frozen=True, slots=True)
class Subject:
    """What is known: each key's values (a vehicle's two axles may both answer). An absent key is unknown.

    doubtful: keys of which only part is known (one axle has answered, the other has not): they can say yes, not no.
    """

    known: Mapping[str, tuple[str, ...]]
    doubtful: frozenset[str] = frozenset()

    def with_values(self, **values: str | Sequence[str]) -> Subject:
        more = {key: (v,) if isinstance(v, str) else tuple(v) for key, v in values.items()}
        return Subject({**self.known, **more}, self.doubtful - more.keys())

    def first(self, key: str) -> str:
        """The one value of a key, "" where there is none."""
        values = self.known.get(key, ())
        return values[0] if values else ""


@dataclass(frozen=True, slots=True)
class Truth:
    """True, false, or (None) unknown for want of the facts in `missing`."""

    value: bool | None
    missing: frozenset[str] = field(default_factory=frozenset)


def judge(condition: Condition | None, subject: Subject) -> Truth:
    """Say whether a condition holds. No condition always holds."""
    if condition is None:
        return Truth(True)
    if isinstance(condition, Is):
        return _judge_is(condition, subject)
    if isinstance(condition, Not):
        inner = judge(condition.part, subject)
        return Truth(None if inner.value is None else not inner.value, inner.missing)
    parts = [judge(part, subject) for part in condition.parts]
    settles = isinstance(condition, AnyOf)
    if any(part.value is settles for part in parts):
        return Truth(settles)
    unknown = frozenset[str]().union(*(part.missing for part in parts if part.value is None))
    return Truth(None, unknown) if unknown else Truth(not settles)


def _judge_is(condition: Is, subject: Subject) -> Truth:
    values = subject.known.get(condition.key)
    if values is not None and any(value in condition.values for value in values):
        return Truth(True)
    if values is None or condition.key in subject.doubtful:
        return Truth(None, frozenset({condition.key}))
    return Truth(False)


def read_condition(raw: object) -> Condition:
    """Read the form of the files: `{layout: [strut]}`, `{all: […]}`, `{any: […]}`, `{not: …}`; several keys mean all.

    Raises: ValueError with a sentence for whoever writes procedures.
    """
    if not isinstance(raw, Mapping):
        raise ValueError("a condition is written as {key: [value, …]}, {all: […]}, {any: […]} or {not: …}")
    if not raw:
        raise ValueError("a condition with nothing in it holds always; leave it out")
    parts = tuple(_read_part(str(key), value) for key, value in raw.items())
    return parts[0] if len(parts) == 1 else All(parts)


def _read_part(key: str, value: object) -> Condition:
    if key == "not":
        return Not(read_condition(value))
    if key in ("all", "any"):
        if not isinstance(value, Sequence) or isinstance(value, str) or not value:
            raise ValueError(f"`{key}` needs a list of conditions")
        parts = tuple(read_condition(part) for part in value)
        return All(parts) if key == "all" else AnyOf(parts)
    values = (value,) if isinstance(value, str) else value
    if not isinstance(values, Sequence) or not values or not all(isinstance(v, str) for v in values):
        raise ValueError(f"`{key}` in a condition needs one value or a list of values, as text")
    return Is(key, tuple(values))


def atoms(condition: Condition | None) -> tuple[Is, ...]:
    """Every key-and-values pair in a condition, for checking that they exist."""
    if condition is None:
        return ()
    if isinstance(condition, Is):
        return (condition,)
    if isinstance(condition, Not):
        return atoms(condition.part)
    return tuple(atom for part in condition.parts for atom in atoms(part))
