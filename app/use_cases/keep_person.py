"""Add people, change their roles, give a new PIN, let someone go. The last foreman always stays."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.records import Person, Role
from app.language.catalogue import LANGUAGES
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.sign_in import PIN_LENGTH

NAME_LIMIT = 80


@dataclass(frozen=True, slots=True)
class PersonWanted:
    """What was filled in. An empty PIN keeps the one there is (a new person needs one); no language is the shop's."""

    name: str
    roles: frozenset[Role]
    pin: str = ""
    pin_again: str = ""
    language: str = ""


def add_person(office: Office, wanted: PersonWanted) -> Person:
    """Raises: Refused with every problem found."""
    problems = [*_name_and_roles(wanted), *pin_problems(wanted.pin, wanted.pin_again)]
    if problems:
        raise Refused(problems)
    person = Person(
        id=office.new_id(), name=wanted.name.strip(), roles=wanted.roles, pin_hash=office.pins.hash(wanted.pin),
        language=wanted.language,
    )  # fmt: skip
    with office.store.writing() as unit:
        try:
            unit.people.add(person)
        except AlreadyThere as taken:
            raise Refused([Problem("name_taken", "name", {"name": person.name})]) from taken
        unit.commit()
    return person


def change_person(office: Office, person_id: str, wanted: PersonWanted, *, active: bool) -> Person:
    """Change name, roles, whether active; a PIN given replaces the old one and takes any lock away.

    Raises: Refused with every problem found; NotFound.
    """
    problems = _name_and_roles(wanted)
    if wanted.pin or wanted.pin_again:
        problems += pin_problems(wanted.pin, wanted.pin_again)
    with office.store.writing() as unit:
        person = unit.people.get(person_id)
        if person is None:
            raise NotFound("person", person_id)
        if _was_last_foreman(unit, person) and not (active and Role.FOREMAN in wanted.roles):
            problems.append(Problem("last_foreman", "roles"))
        if problems:
            raise Refused(problems)
        changed = replace(person, name=wanted.name.strip(), roles=wanted.roles, active=active, language=wanted.language)
        if wanted.pin:
            changed = replace(changed, pin_hash=office.pins.hash(wanted.pin), wrong_tries=0, locked_until=None)
        try:
            unit.people.save(changed)
        except AlreadyThere as taken:
            raise Refused([Problem("name_taken", "name", {"name": changed.name})]) from taken
        unit.commit()
    return changed


def unlock(office: Office, person_id: str) -> None:
    """Let someone who typed a wrong PIN too often try again now. Raises: NotFound."""
    with office.store.writing() as unit:
        person = unit.people.get(person_id)
        if person is None:
            raise NotFound("person", person_id)
        unit.people.save(replace(person, wrong_tries=0, locked_until=None))
        unit.commit()


def _name_and_roles(wanted: PersonWanted) -> list[Problem]:
    problems = []
    if not wanted.name.strip():
        problems.append(Problem("name_missing", "name"))
    if len(wanted.name) > NAME_LIMIT:
        problems.append(Problem("too_long", "name", {"limit": NAME_LIMIT}))
    if not wanted.roles:
        problems.append(Problem("roles_missing", "roles"))
    if wanted.language and wanted.language not in LANGUAGES:
        problems.append(Problem("language_unknown", "language"))
    return problems


def pin_problems(pin: str, again: str) -> list[Problem]:
    """What is wrong with a PIN. A run of one digit, or digits in a row, is what a stranger tries first."""
    if len(pin) not in PIN_LENGTH or not (pin.isascii() and pin.isdigit()):
        return [Problem("pin_form", "pin", {"least": PIN_LENGTH.start, "most": PIN_LENGTH.stop - 1})]
    steps = {(int(b) - int(a)) % 10 for a, b in itertools.pairwise(pin)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        return [Problem("pin_easy", "pin")]
    if pin != again:
        return [Problem("pin_differs", "pin_again")]
    return []


def _was_last_foreman(unit: Unit, person: Person) -> bool:
    foremen = [one.id for one in unit.people.all() if one.active and Role.FOREMAN in one.roles]
    return foremen == [person.id]
