"""The outbox: put a letter in, carry letters out, try an undeliverable one again.

What is promised: **at least once, and never again after an acknowledged sending was recorded.** A letter is taken for a
while in one transaction, carried outside of any, and its result is recorded in another. When the house falls between
the mail server's yes and the recording, the lease runs out and the same letter goes again under the same Message-ID,
by which receivers tell doubles. No order of these steps could promise exactly once: the yes and the recording are in
two places.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.domain.address import Address, read_address
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import MessageState, OutgoingMessage, Shop
from app.ports import Clock, Delivery, Enclosure, Letter, NewId, Postman, Sender, Store, Unit
from app.use_cases.office import the_shop

# Reserved by RFC 2606 never to be anyone's: for a house that has no domain of its own yet.
_NO_DOMAIN = "cotterpin.invalid"

REASON_LIMIT = 500

# How much to add to a wait, given the most it may be, in seconds: keeps a pile of letters from knocking in step.
Spread = Callable[[int], int]


@dataclass(frozen=True, slots=True)
class Patience:
    """How long and how often to try.

    tries, longest_wait_s: together about five days before giving up (RFC 5321 section 4.5.4.1 asks for four to five).
    lease_s: how long a letter stays taken; longer than a postman can need for one, or two could carry the same.
    """

    tries: int = 28
    first_wait_s: int = 60
    longest_wait_s: int = 6 * 3_600
    lease_s: int = 900

    def wait_s(self, tries: int) -> int:
        """How long to wait after this many tries, before spreading: doubled each time up to the longest."""
        return min(self.longest_wait_s, self.first_wait_s << min(tries - 1, 30))


@dataclass(frozen=True, slots=True)
class Round:
    """What one round came to."""

    sent: int = 0
    put_off: int = 0
    undeliverable: int = 0


def queue_message(
    unit: Unit,
    *,
    key: str,
    job: str,
    to: str,
    letter: Letter,
    now: datetime,
    new_id: NewId,
    domain: str,
) -> OutgoingMessage:
    """Put a letter in the outbox, once per key: asking again gives the letter that is there, unchanged.

    domain: the right side of its Message-ID, the house's own, so that no other house makes the same.

    An address that cannot be one does not stop the work that wrote the letter: the letter is kept as undeliverable
    with the problem's code as its answer, and the Desk can correct it. The caller commits.
    """
    there = unit.outbox.where(key=key)
    if there:
        return there[0]
    address = read_address(to, "to")
    legal = isinstance(address, Address)
    message_key = new_id()
    message = OutgoingMessage(
        id=message_key,
        key=key,
        job=job,
        to=address.text if isinstance(address, Address) else to,
        subject=letter.subject,
        text=letter.text,
        html=letter.html,
        message_id=f"<{message_key}@{_right_side(domain)}>",
        made_at=now,
        state=MessageState.WAITING if legal else MessageState.UNDELIVERABLE,
        next_try_at=now if legal else None,
        last_answer="" if isinstance(address, Address) else address.code,
    )
    unit.outbox.add(message)
    return message


def note_came_back(unit: Unit, message_key: str, *, person: str, because: str, now: datetime) -> OutgoingMessage:
    """Note that a letter the mail server had taken came back, and why by the returned message. The caller commits.

    Raises: NotFound; Refused when it was not sent, or no reason is given.
    """
    message = unit.outbox.get(message_key)
    if message is None:
        raise NotFound("message", message_key)
    if message.state is not MessageState.SENT:
        raise Refused([Problem("message_not_sent", "because")])
    words = because.strip()
    if not words:
        raise Refused([Problem("came_back_reason_missing", "because")])
    if len(words) > REASON_LIMIT:
        raise Refused([Problem("too_long", "because", {"limit": REASON_LIMIT})])
    back = replace(
        message, state=MessageState.CAME_BACK, came_back_at=now, came_back_because=words, came_back_noted_by=person
    )  # fmt: skip
    unit.outbox.save(back)
    return back


def put_back(unit: Unit, message_key: str, *, to: str, now: datetime, for_customer: bool = False) -> OutgoingMessage:
    """Let a letter that was undeliverable or came back be sent again, to the address given.

    One that no server took keeps its Message-ID. One that came back gets another: a server that saw the first may take
    the second for a double and drop it, and a folder of letters has the first already.
    for_customer: whether the address is kept for the job's customer too, so that the next letter finds it.
    The caller commits.
    Raises: NotFound; Refused when the letter is neither, or the address cannot be one.
    """
    message = unit.outbox.get(message_key)
    if message is None:
        raise NotFound("message", message_key)
    if message.state not in (MessageState.UNDELIVERABLE, MessageState.CAME_BACK):
        raise Refused([Problem("message_not_undeliverable", "id", {"state": message.state.value})])
    address = read_address(to, "to")
    if isinstance(address, Problem):
        raise Refused([address])
    number = message.message_id if message.state is MessageState.UNDELIVERABLE else sent_anew(message.message_id)
    again = replace(
        message, to=address.text, state=MessageState.WAITING, tries=0, next_try_at=now, taken_until=None, sent_at=None,
        message_id=number,
    )  # fmt: skip
    unit.outbox.save(again)
    if for_customer:
        _keep_for_customer(unit, message.job, address.text)
    return again


def sent_anew(message_id: str) -> str:
    """The Message-ID of the next sending: <m1@house> goes on as <m1.2@house>, <m1.3@house>."""
    left, at, right = message_id.partition("@")
    first, dot, count = left.rpartition(".")
    if dot and count.isascii() and count.isdigit():
        return f"{first}.{int(count) + 1}{at}{right}"
    return f"{left}.2{at}{right}"


def _keep_for_customer(unit: Unit, job_id: str, email: str) -> None:
    job = unit.jobs.get(job_id) if job_id else None
    customer = unit.customers.get(job.customer) if job is not None else None
    if customer is not None and customer.email != email:
        unit.customers.save(replace(customer, email=email))


def deliver_due(
    store: Store,
    postman: Postman,
    clock: Clock,
    spread: Spread,
    *,
    patience: Patience = Patience(),
    from_address: str = "",
    most: int = 50,
    enclosures: Callable[[OutgoingMessage], Sequence[Enclosure]] = lambda message: (),
) -> Round:
    """Carry the letters whose time has come, oldest first, one by one; at most so many in a round.

    from_address: what letters are sent from, where that is not the shop's own address (the mail account's, often);
                  answers go to the shop's in any case.
    enclosures:   gives the files that go with a letter. Where they cannot be made the letter waits, as it does for a
                  mail server.
    """
    sent = put_off = undeliverable = 0
    for _ in range(most):
        taken = _take(store, clock(), patience)
        if taken is None:
            break
        if taken.message.state is MessageState.UNDELIVERABLE:
            undeliverable += 1
            continue
        delivery = _carried(postman, taken, from_address, enclosures)
        match _record(store, taken.message, delivery, clock(), spread, patience):
            case MessageState.SENT:
                sent += 1
            case MessageState.WAITING:
                put_off += 1
            case MessageState.UNDELIVERABLE:
                undeliverable += 1
    return Round(sent, put_off, undeliverable)


def _carried(
    postman: Postman,
    taken: _Taken,
    from_address: str,
    enclosures: Callable[[OutgoingMessage], Sequence[Enclosure]],
) -> Delivery:
    sender = _sender(taken.shop, from_address)
    try:
        files = enclosures(taken.message)
    except Exception as error:
        return Delivery(kept=False, for_good=False, answer=f"The letter's files could not be made: {error}")
    return postman.deliver(taken.message, sender, files) if files else postman.deliver(taken.message, sender)


@dataclass(frozen=True, slots=True)
class _Taken:
    message: OutgoingMessage
    shop: Shop


def _take(store: Store, now: datetime, patience: Patience) -> _Taken | None:
    """Take the next letter for a while, counting the try before it is made.

    A letter on which the house falls each time would else be tried for ever, so one that has used up its tries
    without a result is given up here.
    """
    with store.writing() as unit:
        due = unit.due_messages(now, 1)
        if not due:
            return None
        message = due[0]
        if message.tries >= patience.tries:
            taken = _given_up(message, message.last_answer or "no_result")
        else:
            taken = replace(message, tries=message.tries + 1, taken_until=now + timedelta(seconds=patience.lease_s))
        shop = the_shop(unit)
        unit.outbox.save(taken)
        unit.commit()
        return _Taken(taken, shop)


def _record(
    store: Store, carried: OutgoingMessage, delivery: Delivery, now: datetime, spread: Spread, patience: Patience
) -> MessageState:
    """Write down how it went, and give the state the letter is in now."""
    with store.writing() as unit:
        message = unit.outbox.get(carried.id)
        if message is None:
            raise NotFound("message", carried.id)
        after = _after(message, carried, delivery, now, spread, patience)
        if after != message:
            unit.outbox.save(after)
            unit.commit()
        return after.state


def _after(
    message: OutgoingMessage,
    carried: OutgoingMessage,
    delivery: Delivery,
    now: datetime,
    spread: Spread,
    patience: Patience,
) -> OutgoingMessage:
    """The letter after a delivery.

    The row may have moved on while the letter was away: its lease may have run out and another hand taken it, or the
    Desk corrected its address. A yes counts if it was for the address the letter still has; a no only from the hand
    that holds the lease.
    """
    if message.state in (MessageState.SENT, MessageState.CAME_BACK) or message.to != carried.to:
        return message
    if delivery.kept:
        return replace(
            message, state=MessageState.SENT, sent_at=now, last_answer=delivery.answer, next_try_at=None,
            taken_until=None,
        )  # fmt: skip
    if message.taken_until != carried.taken_until or message.state is not MessageState.WAITING:
        return message
    if delivery.for_good or message.tries >= patience.tries:
        return _given_up(message, delivery.answer)
    wait = patience.wait_s(message.tries)
    next_try = now + timedelta(seconds=wait + spread(wait // 4))
    return replace(message, next_try_at=next_try, taken_until=None, last_answer=delivery.answer)


def _given_up(message: OutgoingMessage, answer: str) -> OutgoingMessage:
    return replace(
        message, state=MessageState.UNDELIVERABLE, last_answer=answer, next_try_at=None, taken_until=None
    )  # fmt: skip


def _sender(shop: Shop, from_address: str) -> Sender:
    return Sender(name=shop.name, address=from_address or shop.email, reply_to=shop.email or from_address)


def _right_side(domain: str) -> str:
    address = read_address(f"post@{domain}")
    return address.wire_domain if isinstance(address, Address) else _NO_DOMAIN
