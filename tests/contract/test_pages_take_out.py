"""The foreman's page that takes everything out: who may, the PIN once more, and that what is saved can be taken in."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI

from app.bootstrap import Wired, app_of, wire
from app.domain.entry import PhotoAdded
from app.domain.problems import NoRoom
from app.domain.records import PhotoNamed
from app.mail.folder import FolderPostman
from app.settings import Settings
from app.storage.chest import FolderChest
from app.storage.memory import MemoryStore
from app.storage.migrate import newest
from app.storage.photos import MemoryPhotos
from app.use_cases.take_everything_in import take_everything_in
from app.use_cases.verify import verify
from tests.builders import ADA, DEE, FAY, JOB
from tests.offices import PIN, Visitor, Workshop, a_small_job, a_visitor, an_office
from tests.tablets import a_tablet

PAGE = "/desk/workshop/take-out"


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    a_small_job(here)
    tablet = a_tablet(here)
    photo = here.office.photos.keep(b"\xff\xd8\xff a photo")
    assert tablet.answers(tablet.entry(PhotoAdded(photo, "The joint", "look")))[0]["kept"]
    return here


@pytest.fixture
def app(here: Workshop, tmp_path: Path) -> FastAPI:
    settings = Settings(_env_file=None, photos_folder=tmp_path / "data" / "photos")  # type: ignore[call-arg]
    return app_of(Wired(settings, here.office, here.hub, FolderPostman(settings.mail_folder)))


@pytest.fixture
def foreman(app: FastAPI) -> Visitor:
    return a_visitor(app, FAY)


def words_of(answer: Any) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def test_the_workshop_s_page_leads_there_for_a_foreman_alone(app: FastAPI, foreman: Visitor) -> None:
    assert f'href="{PAGE}"' in foreman.get("/desk/workshop").text
    desk = a_visitor(app, DEE)
    assert f'href="{PAGE}"' not in desk.get("/desk/workshop").text
    assert desk.get(PAGE).status_code == 403
    assert desk.sends(PAGE, {"pin": PIN}).status_code == 403
    assert a_visitor(app, ADA).sends(PAGE, {"pin": PIN}).status_code == 403


def test_what_is_saved_can_be_taken_in_and_verifies(foreman: Visitor, here: Workshop, tmp_path: Path) -> None:
    shown = words_of(foreman.get(PAGE))
    assert "Jobs 1" in shown
    assert "Photos 1" in shown
    assert "Keep the file as you keep the keys." in shown

    answer = foreman.sends(PAGE, {"pin": PIN})

    assert answer.status_code == 200
    assert answer.headers["content-disposition"] == 'attachment; filename="cotterpin-2026-06-08.zip"'
    assert int(answer.headers["content-length"]) == len(answer.content)
    assert answer.headers["cache-control"] == "no-store"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as file:
        file.extractall(tmp_path)
    target = replace(wire(Settings(_env_file=None), MemoryStore()).office, photos=MemoryPhotos())  # type: ignore[call-arg]
    told = take_everything_in(target, FolderChest(tmp_path / "cotterpin-2026-06-08"), newest())
    assert told.jobs == 1
    assert verify(target).breaches == ()
    assert target.photos.hashes() == here.office.photos.hashes()
    assert list((tmp_path / "data").iterdir()) == [], "the packed file has no name and stays nowhere"


def test_a_wrong_pin_takes_nothing_out_and_is_counted(foreman: Visitor, here: Workshop) -> None:
    answer = foreman.sends(PAGE, {"pin": "0000"})

    assert answer.status_code == 422
    assert "That PIN does not fit" in words_of(answer)
    assert "0000" not in answer.text
    assert here.get("people", FAY.id).wrong_tries == 1

    assert foreman.sends(PAGE, {"pin": ""}).status_code == 422
    assert foreman.sends(PAGE, {"pin": "1111"}).status_code == 422
    locked = foreman.sends(PAGE, {"pin": PIN})
    assert (locked.status_code, "Too many wrong PINs" in words_of(locked)) == (422, True)

    here.clock.forward(seconds=60)
    assert foreman.sends(PAGE, {"pin": PIN}).status_code == 200
    assert here.get("people", FAY.id).wrong_tries == 0


def test_a_full_disk_is_told(foreman: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise NoRoom("No space left on device")

    monkeypatch.setattr("app.bootstrap.take_out", full)

    answer = foreman.sends(PAGE, {"pin": PIN})

    assert answer.status_code == 422
    assert "The take-out was not finished: No space left on device." in words_of(answer)


def test_a_photo_that_was_lost_is_named(here: Workshop, foreman: Visitor) -> None:
    here.add("photos", PhotoNamed("entry-2", JOB, "0" * 64, here=True))

    shown = words_of(foreman.get(PAGE))

    assert "One file that a record names is not here." in shown
    assert f"photos/00/{'0' * 64}" in shown
