"""The last few things read, kept by key so that they need not be parsed again. Safe for threads."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Generic, TypeVar

V = TypeVar("V")


class Recent(Generic[V]):
    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: OrderedDict[str, V] = OrderedDict()
        self._lock = Lock()

    def get(self, key: str) -> V | None:
        with self._lock:
            value = self._kept.get(key)
            if value is not None:
                self._kept.move_to_end(key)
            return value

    def keep(self, key: str, value: V) -> None:
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            if len(self._kept) > self._size:
                self._kept.popitem(last=False)
