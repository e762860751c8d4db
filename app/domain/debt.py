"""What a tablet owes: what it says of itself at a contact against what the office has, and what can no longer come.

A tablet numbers its entries without a gap, so the office can tell from three numbers what is still to come and what is
lost: the last number it ever used, the lowest it still keeps, and the last the office holds. Pure; nothing here is
decided by a tablet's clock.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from app.domain.records import AlarmKind, Tablet


@dataclass(frozen=True, slots=True)
class Said:
    """What a tablet says of itself.

    seq:     the last number it has ever used.
    oldest:  the lowest number of what it still keeps, sent or not; 0 when it keeps nothing.
    waiting: how many entries it has not sent, and from which number on; photos_waiting: photos not sent.
    now_ms:  its own clock.
    """

    seq: int
    oldest: int
    waiting: int
    waiting_from: int
    photos_waiting: int
    bundle: str
    now_ms: int


@dataclass(frozen=True, slots=True)
class Lack:
    """Entries that will not come, by their numbers on that tablet; 0 and 0 where nobody can know them."""

    kind: AlarmKind
    first: int
    last: int
    since: datetime | None

    @property
    def count(self) -> int:
        return self.last - self.first + 1 if self.first else 0


def hear(tablet: Tablet, said: Said, now: datetime) -> tuple[Tablet, tuple[Lack, ...]]:
    """Give the tablet as it is after what it said, and what has turned out to be lost.

    After it, the number the office wants next is one the tablet can give, so nothing that is lost stops what is not.
    """
    offset = int(now.timestamp() * 1_000) - said.now_ms
    if _is_late(tablet, said):
        return replace(tablet, seen_at=now), ()
    lacks = []
    if said.seq < max(tablet.said_seq, tablet.last_seq):
        lacks.append(_went_back(tablet, said))
    # What it kept from is the lowest it can give; all below that and not here is lost.
    gone_to = min(said.oldest - 1, said.seq) if said.oldest else said.seq
    if gone_to > tablet.last_seq:
        lacks.append(Lack(AlarmKind.MISSING, tablet.last_seq + 1, gone_to, _accord(tablet)))
    last_seq = max(tablet.last_seq, gone_to)
    owes = max(said.seq - last_seq, 0)
    after = replace(
        tablet,
        last_seq=last_seq,
        seen_at=now,
        said_at=now,
        said_seq=said.seq,
        waiting=said.waiting,
        waiting_from=said.waiting_from,
        photos_waiting=said.photos_waiting,
        bundle=said.bundle,
        clock_offset_ms=offset,
        owes_since=(tablet.owes_since or now) if owes or said.waiting else None,
    )
    return after, tuple(lacks)


# A contact that was given up and sent anew can be heard after the later one. It says less than is known, and is no sign
# of a loss. By the tablet's own clock it is a little older than the one heard last; the next contact settles it.
_LATE_MS = 60_000


def _is_late(tablet: Tablet, said: Said) -> bool:
    if tablet.said_at is None:
        return False
    heard_last = int(tablet.said_at.timestamp() * 1_000) - tablet.clock_offset_ms
    return 0 < heard_last - said.now_ms <= _LATE_MS


def _went_back(tablet: Tablet, said: Said) -> Lack:
    """It has forgotten numbers it had used. Those among them that are not here, and that it cannot give, are lost."""
    first, last = max(tablet.last_seq, said.seq) + 1, tablet.said_seq
    known = first <= last
    return Lack(AlarmKind.WENT_BACK, first if known else 0, last if known else 0, _accord(tablet))


def _accord(tablet: Tablet) -> datetime | None:
    """Since when entries may be missing: since it first owed any, else since it was heard last."""
    return tablet.owes_since or tablet.said_at
