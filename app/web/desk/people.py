"""People: their names, roles and PINs. The foreman's."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Person, Role
from app.language.speech import _
from app.texts import time_words, word
from app.use_cases.keep_person import PersonWanted, add_person, change_person, unlock
from app.use_cases.office import Office, the_shop, zone_of
from app.web.desk.said import go, said_lines
from app.web.forms import Form, TheForm, told
from app.web.pages.form import NEVER_SHOWN_AGAIN, FormShown
from app.web.pages.people import PeoplePage, PersonLine, PersonPage
from app.web.rendering import page
from app.web.security import Foreman, TheOffice, Visitor

router = APIRouter()


@router.get("/desk/people")
def show(request: Request, office: TheOffice, visitor: Foreman) -> Response:
    with office.store.reading() as unit:
        people = sorted(unit.people.all(), key=lambda one: (not one.active, one.name.casefold()))
    lines = [PersonLine(f"/desk/people/{one.id}", one.name, _roles(one), _state(office, one)) for one in people]
    return page(request, "desk/people.html", PeoplePage(lines, said_lines(request.query_params)), visitor)


@router.get("/desk/people/new")
def new(request: Request, office: TheOffice, visitor: Foreman) -> Response:
    return _form_page(request, visitor, _new_page(FormShown()))


@router.post("/desk/people")
def add(request: Request, office: TheOffice, visitor: Foreman, form: TheForm) -> Response:
    try:
        add_person(office, _wanted(form))
    except Refused as refused:
        return _form_page(request, visitor, _new_page(_kept(form, refused.problems)), status=422)
    return go("/desk/people", "kept")


@router.get("/desk/people/{person_id}")
def one(request: Request, office: TheOffice, visitor: Foreman, person_id: str) -> Response:
    person = _get(office, person_id)
    values = {"name": person.name, "active": "yes" if person.active else "", "language": person.language}
    values |= {f"role_{role.value}": "yes" for role in person.roles}
    shown = _page(office, person, FormShown(values), said_lines(request.query_params))
    return _form_page(request, visitor, shown)


@router.post("/desk/people/{person_id}")
def change(request: Request, office: TheOffice, visitor: Foreman, person_id: str, form: TheForm) -> Response:
    person = _get(office, person_id)
    wanted = _wanted(form)
    try:
        change_person(office, person_id, wanted, active=form.text("active") == "yes")
    except Refused as refused:
        shown = _page(office, person, _kept(form, refused.problems), [])
        return _form_page(request, visitor, shown, status=422)
    return go(f"/desk/people/{person_id}", "pin" if wanted.pin else "kept")


@router.post("/desk/people/{person_id}/lock")
def lift_lock(office: TheOffice, visitor: Foreman, person_id: str, form: TheForm) -> Response:
    unlock(office, person_id)
    return go(f"/desk/people/{person_id}", "unlocked")


def _wanted(form: Form) -> PersonWanted:
    roles = frozenset(role for role in Role if form.text(f"role_{role.value}") == "yes")
    return PersonWanted(form.text("name"), roles, form.text("pin"), form.text("pin_again"), form.text("language"))


def _kept(form: Form, problems: tuple[Problem, ...]) -> FormShown:
    kept = {name: text for name, text in form.kept().items() if name not in NEVER_SHOWN_AGAIN}
    return FormShown(kept, told(problems))


def _get(office: Office, person_id: str) -> Person:
    with office.store.reading() as unit:
        person = unit.people.get(person_id)
    if person is None:
        raise NotFound("person", person_id)
    return person


def _roles(person: Person) -> str:
    return ", ".join(word(f"role.{role.value}") for role in Role if role in person.roles)


def _state(office: Office, person: Person) -> str:
    if not person.active:
        return _("not here any more")
    locked = _locked(office, person)
    return _("locked until {locked}", locked=locked) if locked else ""


def _locked(office: Office, person: Person) -> str:
    now = office.clock()
    if person.locked_until is None or person.locked_until <= now:
        return ""
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    return time_words(person.locked_until, now, zone)


def _role_choices() -> list[tuple[str, str]]:
    return [(f"role_{role.value}", word(f"role.{role.value}")) for role in Role]


def _new_page(form: FormShown) -> PersonPage:
    return PersonPage(_("New person"), "/desk/people", True, "", _role_choices(), form)


def _page(office: Office, person: Person, form: FormShown, said: list[str]) -> PersonPage:
    return PersonPage(
        person.name, f"/desk/people/{person.id}", False, _locked(office, person), _role_choices(), form, said
    )


def _form_page(request: Request, visitor: Visitor, shown: PersonPage, *, status: int = 200) -> Response:
    return page(request, "desk/person.html", shown, visitor, status=status)
