"""Make a device a tablet of this shop: a foreman shows a one-time code, the device gives it back for its credential.

The store holds hashes only. A code ends after ten minutes or with its first use. Guessing is slowed and then locked as
it is for PINs (D-004), on every code that could be guessed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import AlarmKind, EnrolmentCode, Tablet, TabletAlarm
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.settle import reason_problems
from app.use_cases.sign_in import wait_after
from app.use_cases.tablet_alarms import who_worked
from app.use_cases.tablet_credential import hash_of, holder_of, names

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


def make_code(office: Office, person: str, choose: Callable[[str], str]) -> CodeShown:
    """Make a one-time code. choose: one of the letters by chance. The page's roles say who may."""
    code = "".join(choose(LETTERS) for _ in range(CODE_LENGTH))
    now = office.clock()
    with office.store.writing() as unit:
        unit.enrolment_codes.add(EnrolmentCode(hash_of(code), person, now, now + CODE_LASTS))
        unit.commit()
    return CodeShown(shown(code), now + CODE_LASTS)


def shown(code: str) -> str:
    """A code in two halves, as it is read out."""
    return f"{code[: CODE_LENGTH // 2]}-{code[CODE_LENGTH // 2 :]}"


def folded(code: str) -> str:
    """A code however it was typed: small letters, spaces, dashes."""
    return "".join(ch for ch in code.upper() if ch in LETTERS)


def enrol_tablet(
    office: Office,
    code: str,
    name: str,
    new_secret: Callable[[], str],
    was: str = "",
) -> Enrolled:
    """Take a code and a name, give the tablet its credential.

    was: the credential the device had before, if it had one: it stays the same tablet, with what still waits on it.
    Raises: Refused for a code that is none, was used or has ended, for too many tries, and for a name.
    """
    now, name = office.clock(), " ".join(name.split())
    with office.store.writing() as unit:
        problem = _try_code(unit, code, now)
        if problem is not None:
            unit.commit()
            raise Refused([problem])
        found = unit.enrolment_codes.get(hash_of(folded(code)))
        if found is None:
            raise NotFound("enrolment_code", "")
        before = holder_of(unit, was) or _without_its_secret(unit, was)
        problems = _name_problems(unit, name, but=before.id if before is not None else "")
        if problems:
            raise Refused(problems)
        secret = new_secret()
        tablet = replace(
            before or Tablet(office.new_id(), name),
            name=name,
            secret_hash=hash_of(secret),
            enrolled_at=now,
            enrolled_by=found.made_by,
            retired=False,
            retired_at=None,
            retired_by="",
            retired_because="",
        )
        if before is None:
            unit.tablets.add(tablet)
        else:
            unit.tablets.save(tablet)
        unit.enrolment_codes.save(replace(found, used_at=now, tablet=tablet.id))
        unit.commit()
    office.announce("floor")
    return Enrolled(tablet, secret)


def _without_its_secret(unit: Unit, header: str) -> Tablet | None:
    """The tablet that a device says it was, where this installation has no secret of it to hold that against.

    Secrets stay behind when everything is taken out and in elsewhere. Then the foreman's code vouches for the device,
    as it does for a new one, and what still waits on it can come.
    """
    tablet = unit.tablets.get(names(header)) if names(header) else None
    return tablet if tablet is not None and not tablet.secret_hash and tablet.enrolled_at is not None else None


def _try_code(unit: Unit, code: str, now: datetime) -> Problem | None:
    """Why this code cannot be used. A wrong one counts against every code that could be guessed at this moment."""
    live = [one for one in unit.enrolment_codes.where(used_at=None) if _is_live(one, now)]
    locked = [one.locked_until for one in live if one.locked_until is not None and one.locked_until > now]
    if locked:
        seconds = max(1, round((max(locked) - now).total_seconds()))
        return Problem("enrol_code_slow", "code", {"seconds": seconds})
    if any(one.id == hash_of(folded(code)) for one in live):
        return None
    for one in live:
        tries = one.wrong_tries + 1
        wait = wait_after(tries)
        unit.enrolment_codes.save(replace(one, wrong_tries=tries, locked_until=now + wait if wait else None))
    return Problem("enrol_code_unknown", "code")


def _is_live(code: EnrolmentCode, now: datetime) -> bool:
    return code.used_at is None and code.ends_at > now


def _name_problems(unit: Unit, name: str, but: str) -> list[Problem]:
    if not name:
        return [Problem("tablet_name_missing", "name")]
    if len(name) > NAME_LIMIT:
        return [Problem("too_long", "name", {"limit": NAME_LIMIT})]
    if any(one.name.casefold() == name.casefold() and one.id != but for one in unit.tablets.all()):
        return [Problem("tablet_name_taken", "name", {"name": name})]
    return []


def rename_tablet(office: Office, tablet_id: str, name: str) -> Tablet:
    """Raises: NotFound; Refused for a name that is empty, too long or another tablet's."""
    name = " ".join(name.split())
    with office.store.writing() as unit:
        tablet = _known(unit, tablet_id)
        problems = _name_problems(unit, name, but=tablet.id)
        if problems:
            raise Refused(problems)
        renamed = replace(tablet, name=name)
        unit.tablets.save(renamed)
        unit.commit()
    office.announce("floor")
    return renamed


def retire_tablet(office: Office, person: str, tablet_id: str, reason: str) -> Tablet:
    """Take a tablet out of use. What it sent stays; what it still owed goes on record as given up, with the reason.

    Its secret's hash stays, so that the same device can be enrolled again as the same tablet and send what it holds.
    Raises: NotFound; Refused without a reason.
    """
    now = office.clock()
    with office.store.writing() as unit:
        tablet = _known(unit, tablet_id)
        if tablet.retired:
            return tablet
        problems = reason_problems(reason)
        if problems:
            raise Refused(problems)
        because = reason.strip()
        if tablet.owes:
            unit.tablet_alarms.add(
                TabletAlarm(
                    id=office.new_id(),
                    tablet=tablet.id,
                    kind=AlarmKind.RETIRED,
                    raised_at=now,
                    since=tablet.owes_since,
                    count=tablet.owes,
                    first_seq=tablet.last_seq + 1,
                    last_seq=tablet.said_seq,
                    people=who_worked(unit, tablet.id, tablet.owes_since),
                    settled_at=now,
                    settled_by=person,
                    settled_because=because,
                )
            )
        retired = replace(tablet, retired=True, retired_at=now, retired_by=person, retired_because=because)
        unit.tablets.save(retired)
        unit.commit()
    office.announce("floor")
    return retired


def _known(unit: Unit, tablet_id: str) -> Tablet:
    tablet = unit.tablets.get(tablet_id)
    if tablet is None:
        raise NotFound("tablet", tablet_id)
    return tablet
