"""Goes through the outbox every few seconds, in a thread of its own, until told to stop.

What a round needs is handed in, so this file knows neither which store nor which postman.
"""

from __future__ import annotations

import logging
import secrets
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from app.domain.records import OutgoingMessage
from app.ports import Clock, Enclosure, Postman, Store
from app.use_cases.send_post import Patience, Round, deliver_due

_log = logging.getLogger(__name__)


@contextmanager
def running_post(
    store: Store,
    postman: Postman,
    *,
    clock: Clock,
    sender: str,
    every_s: float,
    tries: int,
    announce: Callable[[str], None],
    enclosures: Callable[[OutgoingMessage], Sequence[Enclosure]] = lambda message: (),
) -> Iterator[PostRunner]:
    """Have the post go out for as long as this lasts. Pages that show the outbox are told after a round with letters.

    sender: the address letters come from; answers go to the shop's own. enclosures: gives the files that go with one.
    """
    patience = Patience(tries=tries)

    def go_round() -> None:
        done = deliver_due(
            store, postman, clock, _spread, patience=patience, from_address=sender, enclosures=enclosures
        )
        if done != Round():
            announce("post")

    runner = PostRunner(go_round, every_s)
    runner.start()
    try:
        yield runner
    finally:
        runner.stop()


def _spread(most: int) -> int:
    return secrets.randbelow(most + 1)


class PostRunner:
    """Calls `go_round` at once, then every `every_s` seconds, and when woken. A round that fails does not end it."""

    def __init__(self, go_round: Callable[[], object], every_s: float = 5.0) -> None:
        self._go_round = go_round
        self._every_s = every_s
        self._wake = threading.Event()
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin; a runner that runs already goes on."""
        if self._thread is not None and self._thread.is_alive():
            return
        self._stopping.clear()
        self._wake.clear()
        # A daemon, so that a mail server that holds a round cannot keep the whole house from closing.
        self._thread = threading.Thread(target=self._run, name="post", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Have the next round begin now: a letter was just put in."""
        self._wake.set()

    def stop(self, wait_s: float = 10.0) -> bool:
        """Let the round in hand finish and begin no other; say whether it ended within the time.

        A letter that was away when the time was up is not lost: its lease runs out and it goes again.
        """
        self._stopping.set()
        self._wake.set()
        if self._thread is None:
            return True
        self._thread.join(wait_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._wake.clear()
            if self._stopping.is_set():  # stop() may have set both just before the wake was cleared
                return
            try:
                self._go_round()
            except Exception:
                _log.exception("A round of the post failed; the next one tries again.")
            self._wake.wait(self._every_s)
