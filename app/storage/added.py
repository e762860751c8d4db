"""A register that is only ever added to: what was offered to a customer and what they said is never written over.

The databases refuse it themselves, by triggers; this keeps the way to it shut for every store alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

from app.ports import Register

R = TypeVar("R")


class OnlyAdded(Generic[R]):
    def __init__(self, register: Register[R]) -> None:
        self._register = register

    def get(self, key: str) -> R | None:
        return self._register.get(key)

    def add(self, record: R) -> None:
        self._register.add(record)

    def all(self) -> Sequence[R]:
        return self._register.all()

    def where(self, **equals: object) -> Sequence[R]:
        return self._register.where(**equals)
