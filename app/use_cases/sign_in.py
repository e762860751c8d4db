"""Sign a person in with a PIN, find them again by their cookie, sign them out.

Wrong tries are slowed and then locked, per person; the rule is the shop's protection against guessing a short PIN,
decided in D-004 of DEVELOPERS.md. The store holds only hashes: of the PIN (argon2id) and of the cookie's token.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.domain.problems import Problem
from app.domain.records import Person, SignIn
from app.ports import Unit
from app.use_cases.office import Office

FREE_TRIES = 3
LOCK_AFTER = 8
SLOWED_BY = timedelta(seconds=5)
LOCKED_FOR = timedelta(minutes=15)
PIN_LENGTH = range(4, 9)

NewToken = Callable[[], str]


@dataclass(frozen=True, slots=True)
class SignedIn:
    """`token` goes into the cookie and nowhere else."""

    person: Person
    token: str
    csrf: str


def sign_in(office: Office, person_id: str, pin: str, new_token: NewToken) -> SignedIn | Problem:
    """Check a PIN and begin a sign-in, or say why not."""
    now = office.clock()
    with office.store.writing() as unit:
        person = _known_by_pin(office, unit, person_id, pin)
        if isinstance(person, Problem):
            unit.commit()
            return person
        token, csrf = new_token(), new_token()
        unit.sign_ins.add(SignIn(id=key_of(token), person=person.id, csrf=csrf, began_at=now, seen_at=now))
        unit.commit()
    return SignedIn(person, token, csrf)


def check_pin(office: Office, person_id: str, pin: str) -> Problem | None:
    """Ask somebody who is signed in for the PIN once more; tries are counted as at signing in."""
    with office.store.writing() as unit:
        person = _known_by_pin(office, unit, person_id, pin)
        unit.commit()
    return person if isinstance(person, Problem) else None


def _known_by_pin(office: Office, unit: Unit, person_id: str, pin: str) -> Person | Problem:
    """The person this PIN is of, or why not; wrong tries are counted, a right one clears them. The caller commits."""
    now = office.clock()
    person = unit.people.get(person_id)
    if person is None or not person.active:
        return Problem("choose_person", "person")
    if person.locked_until is not None and person.locked_until > now:
        return Problem("pin_locked", "pin", {"seconds": _seconds(person.locked_until - now)})
    if not office.pins.matches(pin, person.pin_hash):
        return _count_wrong_try(unit, person, now)
    if person.wrong_tries:
        person = replace(person, wrong_tries=0, locked_until=None)
        unit.people.save(person)
    return person


def _count_wrong_try(unit: Unit, person: Person, now: datetime) -> Problem:
    tries = person.wrong_tries + 1
    wait = wait_after(tries)
    until = now + wait if wait else None
    unit.people.save(replace(person, wrong_tries=tries, locked_until=until))
    if until is None:
        return Problem("pin_wrong", "pin", {"left": FREE_TRIES - tries})
    return Problem("pin_locked", "pin", {"seconds": _seconds(wait)})


def wait_after(tries: int) -> timedelta:
    """How long the next try has to wait after so many wrong ones."""
    if tries >= LOCK_AFTER:
        return LOCKED_FOR
    return SLOWED_BY * 2 ** (tries - FREE_TRIES) if tries >= FREE_TRIES else timedelta()


def _seconds(span: timedelta) -> int:
    return max(1, round(span.total_seconds()))


def key_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def who_is(office: Office, token: str, unused_for: timedelta) -> tuple[Person, SignIn] | None:
    """The person behind a cookie, unless signed out, unused for too long, or no longer of this shop."""
    now = office.clock()
    with office.store.reading() as unit:
        found = unit.sign_ins.get(key_of(token))
        person = unit.people.get(found.person) if found is not None else None
    if found is None or person is None or not person.active or now - found.seen_at > unused_for:
        return None
    if now - found.seen_at > unused_for / 12:
        with office.store.writing() as unit:
            if unit.sign_ins.get(found.id) is not None:
                unit.sign_ins.save(replace(found, seen_at=now))
                unit.commit()
    return person, found


# A contact written before somebody signed in can be heard just after.
FRESH = timedelta(seconds=30)


def end_other_sign_in(office: Office, token: str, person: str) -> bool:
    """End the sign-in behind a cookie when it is another person's than the one at this browser; whether it was."""
    with office.store.reading() as unit:
        found = unit.sign_ins.get(key_of(token))
    if found is None or found.person == person or office.clock() - found.began_at < FRESH:
        return False
    sign_out(office, token)
    return True


def sign_out(office: Office, token: str) -> None:
    with office.store.writing() as unit:
        unit.remove_sign_in(key_of(token))
        unit.commit()
