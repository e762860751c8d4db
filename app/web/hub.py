"""Tells open pages that something changed: topics in, server-sent events out. Carries no data, only "look again"."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator

HEARTBEAT_S = 20.0


class Hub:
    """Announcing works from any thread; listening from the loop. A slow listener misses repeats, never the last."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._listeners: set[_Listener] = set()

    def announce(self, topic: str) -> None:
        with self._lock:
            listeners = [one for one in self._listeners if topic in one.topics]
        for one in listeners:
            one.wake()

    async def listen(self, topics: frozenset[str]) -> AsyncIterator[bool]:
        """Yield True whenever one of the topics was announced, False as a heartbeat."""
        listener = _Listener(topics, asyncio.get_running_loop())
        with self._lock:
            self._listeners.add(listener)
        try:
            while True:
                yield await listener.wait(HEARTBEAT_S)
        finally:
            with self._lock:
                self._listeners.discard(listener)


class _Listener:
    def __init__(self, topics: frozenset[str], loop: asyncio.AbstractEventLoop) -> None:
        self.topics = topics
        self._loop = loop
        self._event = asyncio.Event()

    def wake(self) -> None:
        # The loop may be closing while a request of another thread still announces.
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._event.set)

    async def wait(self, seconds: float) -> bool:
        try:
            await asyncio.wait_for(self._event.wait(), seconds)
        except TimeoutError:
            return False
        self._event.clear()
        return True
