"""Figures beside the limits they have to keep, said as they come."""

from __future__ import annotations


class Told:
    """Says figures, and remembers which limits were missed."""

    def __init__(self) -> None:
        self.missed: list[str] = []

    def say(self, words: str) -> None:
        print(words, flush=True)

    def at_most(self, what: str, figure: float, limit: float, unit: str) -> None:
        self._judge(what, figure, limit, unit, figure <= limit, "at most")

    def at_least(self, what: str, figure: float, limit: float, unit: str) -> None:
        self._judge(what, figure, limit, unit, figure >= limit, "at least")

    def _judge(self, what: str, figure: float, limit: float, unit: str, kept: bool, way: str) -> None:
        beside = f" = {figure / limit:.2f} of it" if limit else ""
        self.say(f"{'kept  ' if kept else 'MISSED'} {what}: {figure:,.2f} {unit} (limit: {way} {limit:,.4g}{beside})")
        if not kept:
            self.missed.append(what)

    def outcome(self) -> int:
        self.say(f"{len(self.missed)} limits missed" + "".join(f"\n  {one}" for one in self.missed))
        return 1 if self.missed else 0
