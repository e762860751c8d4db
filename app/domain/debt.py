"""What a tablet owes: what it says of itself at a contact against what the office has, and what can no longer come.

A tablet numbers its entries without a gap, so the office can tell from three numbers what is still to come and what is
lost: the last number it ever used, the lowest it still keeps, and the last the office holds. It counts its contacts as
well: one that was overtaken says less than is known and is no loss, however late it is; a tablet that was set back to
an older state has counted less than was heard, is told so and says it again, which a late message does not. Pure;
nothing here is decided by a tablet's clock.
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
    number:  its contacts until now, with this one; None of an older bundle, which does not count them.
    went_back: up to which number the office had heard it when it had itself counted less; 0 if it never had.
    """

    seq: int
    oldest: int
    waiting: int
    waiting_from: int
    photos_waiting: int
    bundle: str
    now_ms: int
    number: int | None = None
    went_back: int = 0


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
    if _has_gone_back(tablet, said) or said.seq < max(tablet.said_seq, tablet.last_seq):
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
        contacts=max(tablet.contacts, said.number or 0),
    )
    return after, tuple(lacks)


def heard_before(tablet: Tablet, said: Said) -> int:
    """Up to which number its contacts had been heard, for the tablet to compare with its own count.

    One more where another contact came under the same number: then it has counted this far a second time.
    """
    is_another = said.number == tablet.contacts and tablet.said_at is not None and _spoken_at(tablet) != said.now_ms
    return tablet.contacts + is_another


# Of an older bundle: a contact that was given up and sent anew can be heard after the later one. By the tablet's own
# clock it is a little older than the one heard last; the next contact settles it.
_LATE_MS = 60_000


def is_from_before(tablet: Tablet, number: int, went_back: int) -> bool:
    """Whether a batch, sent after so many contacts, is late, or of a tablet that has still to say that it went back."""
    return number < tablet.contacts or 0 < tablet.contacts <= went_back


def _is_late(tablet: Tablet, said: Said) -> bool:
    """Whether it was overtaken by a later one. It says less than is known, and is no sign of a loss."""
    if said.number is not None:
        return said.number <= tablet.contacts
    return tablet.said_at is not None and 0 < _spoken_at(tablet) - said.now_ms <= _LATE_MS


def _spoken_at(tablet: Tablet) -> int:
    """When it spoke last, by its own clock."""
    assert tablet.said_at is not None
    return int(tablet.said_at.timestamp() * 1_000) - tablet.clock_offset_ms


def _has_gone_back(tablet: Tablet, said: Said) -> bool:
    """Whether it says for the first time that it had counted less than was heard. It goes on saying so."""
    return 0 < tablet.contacts <= said.went_back


def _went_back(tablet: Tablet, said: Said) -> Lack:
    """It has forgotten numbers it had used. Those among them that are not here, and that it cannot give, are lost.

    One that knows that it went back may have used those numbers anew: none of what it had told of is sure to come.
    """
    above = tablet.last_seq if _has_gone_back(tablet, said) else max(tablet.last_seq, said.seq)
    first, last = above + 1, tablet.said_seq
    known = first <= last
    return Lack(AlarmKind.WENT_BACK, first if known else 0, last if known else 0, _accord(tablet))


def _accord(tablet: Tablet) -> datetime | None:
    """Since when entries may be missing: since it first owed any, else since it was heard last."""
    return tablet.owes_since or tablet.said_at
