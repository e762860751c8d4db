"""Make a device a tablet of this shop: a foreman shows a one-time code, the device gives it back and gets its credential.

The store holds hashes only. A code ends after ten minutes or with its first use, whichever comes first.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Enrolment, Tablet
from app.ports import Unit
from app.use_cases.office import Office

CODE_LASTS = timedelta(minutes=10)
# Read off a screen and typed with gloves: nothing that looks like something else. Ten of 32 are 50 bits.
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
CODE_LENGTH = 10
NAME_LIMIT = 60


@dataclass(frozen=True, slots=True)
class CodeShown:
    """The code as it is shown, once, and until when it can be used."""

    code: str
    ends_at: datetime


@dataclass(frozen=True, slots=True)
class Enrolled:
    """`secret` goes to the tablet and nowhere else."""

    tablet: Tablet
    secret: str


def show_code(office: Office, person: str) -> CodeShown:
    """Make a one-time code. The page's roles say who may."""
    code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
    now = office.clock()
    with office.store.writing() as unit:
        unit.enrolments.add(Enrolment(key_of(code), person, now, now + CODE_LASTS))
        unit.commit()
    return CodeShown(f"{code[:5]}-{code[5:]}", now + CODE_LASTS)


def enrol(office: Office, code: str, name: str) -> Enrolled:
    """Take a code and a name, give the tablet its credential.

    Raises: Refused for a code that is not one, was used or has ended; for a name that is empty, too long or taken.
    """
    now, name = office.clock(), " ".join(name.split())
    with office.store.writing() as unit:
        found = unit.enrolments.get(key_of(folded(code)))
        problems = [] if found is not None and found.tablet is None and found.ends_at > now else [
            Problem("enrol_code", "code")
        ]  # fmt: skip
        problems += _name_problems(unit, name, but="")
        if problems or found is None:
            raise Refused(problems)
        secret = secrets.token_hex(32)
        tablet = Tablet(
            id=office.new_id(), name=name, secret_hash=key_of(secret), enrolled_at=now, enrolled_by=found.made_by
        )
        unit.tablets.add(tablet)
        unit.enrolments.save(replace(found, tablet=tablet.id))
        unit.commit()
    office.announce("floor")
    return Enrolled(tablet, secret)


def _name_problems(unit: Unit, name: str, but: str) -> list[Problem]:
    if not name:
        return [Problem("tablet_name_missing", "name")]
    if len(name) > NAME_LIMIT:
        return [Problem("tablet_name_long", "name", {"limit": NAME_LIMIT})]
    if any(one.name.casefold() == name.casefold() and one.id != but for one in unit.tablets.all()):
        return [Problem("tablet_name_taken", "name", {"name": name})]
    return []


def rename_tablet(office: Office, tablet: str, name: str) -> None:
    """Raises: NotFound, Refused."""
    name = " ".join(name.split())
    with office.store.writing() as unit:
        known = _known(unit, tablet)
        problems = _name_problems(unit, name, but=tablet)
        if problems:
            raise Refused(problems)
        unit.tablets.save(replace(known, name=name))
        unit.commit()


def retire_tablet(office: Office, tablet: str, reason: str) -> None:
    """Take a tablet's credential from it. What it sent stays; what it still holds can come only if enrolled again.

    Raises: NotFound, Refused.
    """
    with office.store.writing() as unit:
        known = _known(unit, tablet)
        if not reason.strip():
            raise Refused([Problem("reason_missing", "reason")])
        unit.tablets.save(replace(known, retired=True, secret_hash="", retired_because=reason.strip()))
        unit.commit()
    office.announce("floor")


def _known(unit: Unit, tablet: str) -> Tablet:
    known = unit.tablets.get(tablet)
    if known is None:
        raise NotFound("tablet", tablet)
    return known


def tablet_by_credential(unit: Unit, credential: str) -> Tablet | None:
    """The tablet that a credential "id.secret" is of; None for any other, and for a retired one."""
    key, _, secret = credential.partition(".")
    known = unit.tablets.get(key)
    if known is None or known.retired or not known.secret_hash:
        return None
    return known if hmac.compare_digest(known.secret_hash, key_of(secret)) else None


def folded(code: str) -> str:
    """A code however it was typed: small letters, spaces, dashes."""
    return "".join(ch for ch in code.upper() if ch in LETTERS)


def key_of(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
