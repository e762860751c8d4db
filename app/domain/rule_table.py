"""The part of the rules that is a table: which questions each kind of entry is asked, who may, what settles itself.

The file is `shared/rules/entries.json`, read by the office and by the tablet. Reading the file is the caller's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class KindRule:
    roles: tuple[str, ...]
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RuleTable:
    """cosine_ppm: the cosine of 0 to 90 whole degrees in millionths, so that both ends do the same sum."""

    kinds: Mapping[str, KindRule]
    always: tuple[str, ...]
    without_packet: frozenset[str]
    settles_itself: frozenset[str]
    settle_outcomes: frozenset[str]
    cosine_ppm: tuple[int, ...]

    def cosine(self, degrees: int) -> int:
        """Cosine of a whole angle from 0 to 180 degrees, in millionths."""
        return self.cosine_ppm[degrees] if degrees <= 90 else -self.cosine_ppm[180 - degrees]


def table_from(data: Mapping[str, Any]) -> RuleTable:
    return RuleTable(
        kinds={
            kind: KindRule(roles=tuple(row["roles"]), asks=tuple(row["asks"])) for kind, row in data["kinds"].items()
        },
        always=tuple(data["always"]),
        without_packet=frozenset(data["without_packet"]),
        settles_itself=frozenset(data["settles_itself"]),
        settle_outcomes=frozenset(data["settle_outcomes"]),
        cosine_ppm=tuple(data["cosine_ppm"]),
    )
