"""The walk as it is told: what was done, what the house said, and whether that is what it should have said."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Story:
    """Tells as it goes. `wrong` gathers what was not as it should be; the walk fails if there is anything in it."""

    wrong: list[str] = field(default_factory=list)

    def chapter(self, words: str) -> None:
        print(f"\n{words}\n{'-' * len(words)}", flush=True)

    def tell(self, words: str) -> None:
        print(f"  {words}", flush=True)

    def refused(self, what: str, said: str, because: str) -> None:
        """Something that must not be taken: `because` has to be in what the house says."""
        self.expect(because.casefold() in said.casefold(), f"{what}\n      The house says: {said or '(nothing)'}")

    def expect(self, holds: bool, words: str) -> None:
        print(f"  {'[as it should be]' if holds else '[NOT AS IT SHOULD BE]'} {words}", flush=True)
        if not holds:
            self.wrong.append(words)
