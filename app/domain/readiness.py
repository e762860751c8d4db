"""What a tablet has to be before sheets are trusted to it, and what it said of itself when it was last looked at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

# In the order they are looked at: each of them needs those before it, more or less.
NEEDED = ("secure", "worker", "bundle", "write", "storage", "room", "clock", "credential")
OPTIONAL = ("camera",)
POINTS = (*NEEDED, *OPTIONAL)


@dataclass(frozen=True, slots=True)
class ReadinessPoint:
    """One thing that was looked at: whether it is as it has to be, and the sentence that was shown."""

    key: str
    passed: bool
    words: str


@dataclass(frozen=True, slots=True)
class ReadinessCheck:
    """The last look at a tablet, kept under the tablet's own id; the one before it is gone."""

    id: str
    tablet: str
    checked_at: datetime
    points: tuple[ReadinessPoint, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """The needed points that failed, or were not looked at."""
        passed = {one.key for one in self.points if one.passed}
        return tuple(key for key in NEEDED if key not in passed)

    @property
    def is_ready(self) -> bool:
        return not self.missing
