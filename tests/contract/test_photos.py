"""Photos through HTTP: a tablet's pieces, the sheet's form without script, and a photo by its address."""

from __future__ import annotations

import errno
import json
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI

from app.domain import entry as e
from app.domain.photos import PHOTO_BYTES, PHOTOS_A_JOB, PIECE_BYTES, REFUSED_FOR_GOOD, cleaned
from app.domain.problems import NoRoom
from app.domain.records import AlarmKind
from app.storage.photos import FolderPhotos, MemoryPhotos
from app.use_cases.enrol_tablet import retire_tablet
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import record_form
from tests.builders import ADA, DEE, FAY, JOB
from tests.js_engine import TABLET
from tests.offices import Visitor, Workshop, a_small_job, a_visitor, an_office
from tests.pictures import HTML, SECRETS, SVG, a_picture, from_a_camera, pixels, sha256, way_up
from tests.sheet_forms import forms_in
from tests.tablets import ATablet, a_tablet, the_whole_app

SHEET, FORM = "/jobs/1001/sheet?step=look", "/jobs/1001/photos"
LARGE = a_picture("PNG", 700, 500)
SMALL = a_picture("JPEG")


@dataclass
class At:
    """A workshop with one job, a tablet, and whoever signs in."""

    here: Workshop
    app: FastAPI
    tablet: ATablet
    visitors: dict[str, Visitor] = field(default_factory=dict)

    def who(self, someone: Any) -> Visitor:
        return self.visitors.setdefault(someone.id, a_visitor(self.app, someone))

    @property
    def photos(self) -> MemoryPhotos:
        assert isinstance(self.here.office.photos, MemoryPhotos)
        return self.here.office.photos

    def names(self, data: bytes | str, step: str = "look", who: Any = ADA) -> str:
        """The tablet sends the entry that names a photo; gives the photo's hash."""
        name = data if isinstance(data, str) else sha256(data)
        (answer,) = self.tablet.sends(self.tablet.entry(e.PhotoAdded(name, "The joint", step), who)).json()["answers"]
        assert answer["kept"]
        return name

    def piece(self, name: str, data: bytes, offset: int = 0, size: int | None = None) -> Any:
        size = len(data) if size is None else size
        return self.tablet.posts(f"/sync/photos/{name}?offset={offset}&size={size}", data)

    def sends(self, name: str, data: bytes, piece: int = PIECE_BYTES) -> Any:
        """Every piece in its turn, as long as they are taken; gives the last answer."""
        answer = None
        for at in range(0, len(data), piece):
            answer = self.piece(name, data[at : at + piece], at, len(data))
            if answer.status_code != 200:
                break
        return answer

    def have(self, name: str) -> tuple[int, str, str]:
        answer = self.tablet.client.head(f"/sync/photos/{name}", headers={"Authorization": self.tablet.header})
        return answer.status_code, answer.headers.get("x-photo-have", ""), answer.headers.get("x-photo-whole", "")

    def form(self, who: Any = ADA) -> dict[str, str]:
        """What the form of the step in hand carries besides its file."""
        return dict(forms_in(self.who(who).get(SHEET).text)["step-photo"].hidden)

    def adds(self, data: bytes | None, words: str = "", file_name: str = "x.jpg", **over: str) -> Any:
        """The sheet's own form, as a browser without script sends it."""
        return self.posts({**self.form(), "name": words, **over}, data, file_name)

    def posts(self, fields: dict[str, str], data: bytes | None, file_name: str = "x.jpg", who: Any = ADA) -> Any:
        files = {"file": (file_name if data is not None else "", data or b"", "image/jpeg")}
        return self.who(who).client.post(FORM, data=fields, files=files, follow_redirects=False)

    def notes(self) -> list[tuple[str, str]]:
        sheet = self.here.sheet(self.here.get("jobs", JOB))
        return [(one.text, one.photo) for one in sheet.step("look").notes]


@pytest.fixture
def at() -> At:
    here = an_office()
    a_small_job(here)
    app = the_whole_app(here)
    return At(here, app, a_tablet(here, app))


# --- A tablet's pieces --------------------------------------------------------------------------------------------


def test_a_photo_in_one_piece_is_whole_and_can_be_looked_at(at: At) -> None:
    name = at.names(SMALL)

    answer = at.piece(name, SMALL)

    assert (answer.status_code, answer.json()) == (200, {"have": len(SMALL), "whole": True})
    assert at.have(name) == (200, str(len(SMALL)), "yes")
    assert at.who(ADA).get(f"/photos/{name}").content == SMALL


def test_a_photo_in_pieces_is_whole_with_the_last(at: At) -> None:
    assert len(LARGE) > 2 * PIECE_BYTES
    name = at.names(LARGE)

    first = at.piece(name, LARGE[:PIECE_BYTES], 0, len(LARGE))

    assert first.json() == {"have": PIECE_BYTES, "whole": False}
    assert at.have(name) == (200, str(PIECE_BYTES), "no")
    assert at.who(ADA).get(f"/photos/{name}").status_code == 404
    assert at.sends(name, LARGE).json() == {"have": len(LARGE), "whole": True}
    assert at.photos.read(name) == LARGE
    assert at.photos.come(name) == 0


def test_after_a_cut_it_goes_on_from_what_is_there(at: At) -> None:
    """The answer to a piece was lost: sent again it counts once, and the office says where to go on."""
    name = at.names(LARGE)
    at.piece(name, LARGE[:1_000], 0, len(LARGE))

    again = at.piece(name, LARGE[:1_000], 0, len(LARGE))
    assert again.json() == {"have": 1_000, "whole": False}
    _, have, _ = at.have(name)
    start = int(have)
    for begin in range(start, len(LARGE), PIECE_BYTES):
        last = at.piece(name, LARGE[begin : begin + PIECE_BYTES], begin, len(LARGE))

    assert last.json()["whole"]
    assert at.photos.read(name) == LARGE


def test_a_piece_beyond_a_gap_is_answered_with_where_to_go_on(at: At) -> None:
    name = at.names(LARGE)
    at.piece(name, LARGE[:1_000], 0, len(LARGE))

    answer = at.piece(name, LARGE[5_000:6_000], 5_000, len(LARGE))

    assert (answer.status_code, answer.json()["problem"], answer.json()["have"]) == (409, "photo_gap", 1_000)
    assert "byte 1000" in answer.json()["words"]


def test_a_photo_sent_twice_is_answered_twice_and_kept_once(at: At) -> None:
    name = at.names(SMALL)
    first, second = at.piece(name, SMALL), at.piece(name, SMALL)

    assert first.json() == second.json() == {"have": len(SMALL), "whole": True}
    assert at.photos.read(name) == SMALL


def test_bytes_that_are_not_the_photo_named_are_thrown_away_and_it_can_be_sent_anew(at: At) -> None:
    name = at.names(SMALL)
    other = a_picture("JPEG", seed=2)

    answer = at.piece(name, other)

    assert (answer.status_code, answer.json()["problem"], answer.json()["have"]) == (422, "photo_wrong_hash", 0)
    assert "thrown away" in answer.json()["words"]
    assert at.have(name) == (200, "0", "no")
    assert not at.photos.has(sha256(other))
    assert at.piece(name, SMALL).json()["whole"]


def test_a_photo_of_a_smaller_size_than_what_has_come_begins_anew(at: At) -> None:
    name = at.names(SMALL)
    at.piece(name, b"\xff\xd8\xff" + b"x" * 2_000, 0, 9_000)

    answer = at.piece(name, SMALL[:10], 0, 10)

    assert answer.json()["problem"] == "photo_wrong_hash"
    assert at.piece(name, SMALL).json()["whole"]


@pytest.mark.parametrize(
    "data", [SVG, HTML, b"GIF89a" + b"\0" * 50, b"%PDF-1.7" + b"\0" * 50], ids=["svg", "html", "gif", "pdf"]
)
def test_another_kind_of_file_is_refused_at_its_first_bytes(at: At, data: bytes) -> None:
    name = at.names(data)

    answer = at.piece(name, data)

    assert (answer.status_code, answer.json()["problem"]) == (422, "photo_kind")
    assert at.have(name) == (200, "0", "no")


def test_a_kind_hidden_by_tiny_pieces_is_found_at_the_end(at: At) -> None:
    name = at.names(SVG)

    answer = at.sends(name, SVG, piece=5)

    assert (answer.status_code, answer.json()["problem"], answer.json()["have"]) == (422, "photo_kind", 0)
    assert not at.photos.has(name)


def test_a_page_disguised_as_a_picture_is_not_kept(at: At) -> None:
    """Readable as a picture and as a page: what hangs on behind the picture is no part of one."""
    disguised = SMALL + HTML
    name = at.names(disguised)

    assert at.piece(name, disguised).json()["problem"] == "photo_says_more"
    assert not at.photos.has(name)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_that_still_says_where_it_was_taken_is_not_kept(at: At, kind: str) -> None:
    data = from_a_camera(kind)
    name = at.names(data)

    assert at.piece(name, data).json()["problem"] == "photo_says_more"
    assert at.sends(at.names(cleaned(data)), cleaned(data)).json()["whole"]


def test_what_is_too_large_is_refused_before_it_comes(at: At) -> None:
    name = at.names(SMALL)

    whole = at.piece(name, SMALL, 0, PHOTO_BYTES + 1)
    piece = at.piece(name, b"\xff\xd8\xff" + b"x" * PIECE_BYTES, 0, PHOTO_BYTES)

    assert (whole.status_code, whole.json()["problem"]) == (413, "photo_too_large")
    assert (piece.status_code, piece.json()["problem"]) == (413, "photo_piece_too_large")
    assert at.have(name) == (200, "0", "no")


@pytest.mark.parametrize(
    "asked",
    ["", "?offset=0", "?size=100", "?offset=-1&size=100", "?offset=x&size=y", "?offset=0&size=1", "?offset=99&size=100",
     "?offset=0&size=99999999999999999999", "?offset=1.5&size=100"],
)  # fmt: skip
def test_a_piece_that_does_not_say_where_it_belongs_is_told(at: At, asked: str) -> None:
    answer = at.tablet.posts(f"/sync/photos/{at.names(SMALL)}{asked}", SMALL)

    assert (answer.status_code, answer.json()["problem"]) == (422, "photo_piece_wrong")


def test_an_empty_piece_is_no_piece(at: At) -> None:
    name = at.names(SMALL)

    for offset, size in ((0, len(SMALL)), (0, 0), (5, 10)):
        assert at.piece(name, b"", offset, size).json()["problem"] == "photo_piece_wrong"


def test_a_photo_that_no_entry_names_is_not_taken(at: At) -> None:
    name = sha256(SMALL)

    answer = at.piece(name, SMALL)

    assert (answer.status_code, answer.json()["problem"]) == (404, "photo_unknown")
    assert at.have(name) == (404, "0", "no")
    assert at.photos.come(name) == 0


@pytest.mark.parametrize("name", ["nothing-here", "A" * 64, "a" * 63, "..%2F..%2Fetc%2Fpasswd", "%00" * 8])
def test_what_is_no_hash_names_nothing(at: At, name: str) -> None:
    assert at.piece(name, SMALL).status_code == 404
    assert at.who(ADA).get(f"/photos/{name}").status_code == 404
    assert at.tablet.client.get(f"/sync/photos/{name}", headers={"Authorization": at.tablet.header}).status_code == 404


def test_a_job_takes_so_many_photos_and_no_more(at: At) -> None:
    pictures = [a_picture("JPEG", 8, 8, seed) for seed in range(PHOTOS_A_JOB + 1)]
    names = [at.names(one) for one in pictures]

    assert at.piece(names[PHOTOS_A_JOB - 1], pictures[PHOTOS_A_JOB - 1]).json()["whole"]
    answer = at.piece(names[PHOTOS_A_JOB], pictures[PHOTOS_A_JOB])

    assert (answer.status_code, answer.json()["problem"]) == (409, "photos_full")
    assert not at.photos.has(names[PHOTOS_A_JOB])


def test_a_photo_of_an_entry_set_aside_is_kept_all_the_same(at: At) -> None:
    """Who took it had another role: the entry waits for the foreman, who has to see what it is about."""
    name = at.names(SMALL, who=DEE)

    assert at.notes() == []
    assert at.piece(name, SMALL).json()["whole"]
    assert at.who(FAY).get(f"/photos/{name}").content == SMALL


def test_only_a_tablet_in_use_may_send_or_ask(at: At) -> None:
    name = at.names(SMALL)
    path = f"/sync/photos/{name}"
    bad = [{}, {"Authorization": f"Tablet {at.tablet.id}.guessed"}, {"Authorization": "Bearer x"}]
    for headers in bad:
        for method in ("HEAD", "POST", "GET"):
            answer = at.who(ADA).client.request(
                method,
                f"{path}?offset=0&size={len(SMALL)}",
                content=SMALL if method == "POST" else None,
                headers=headers,
            )
            assert answer.status_code == 401
    retire_tablet(at.here.office, FAY.id, at.tablet.id, "lost")

    assert at.piece(name, SMALL).status_code == 401
    assert at.photos.come(name) == 0


def test_too_much_from_a_stranger_is_not_answered_with_anything_of_ours(at: At) -> None:
    answer = at.tablet.client.post(f"/sync/photos/{'a' * 64}", content=b"x" * (PIECE_BYTES + 1))

    assert answer.status_code == 401


def test_a_tablet_gets_photos_that_others_took(at: At) -> None:
    name = at.names(SMALL)
    path, header = f"/sync/photos/{name}", {"Authorization": at.tablet.header}
    assert at.tablet.client.get(path, headers=header).status_code == 404

    at.piece(name, SMALL)

    answer = at.tablet.client.get(path, headers=header)
    assert (answer.content, answer.headers["content-type"]) == (SMALL, "image/jpeg")
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_full_disk_is_said_and_sent_again_it_is_kept(at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    name = at.names(LARGE)
    at.piece(name, LARGE[:PIECE_BYTES], 0, len(LARGE))

    def full(*_: Any) -> int:
        raise NoRoom("no space")

    with monkeypatch.context() as patched:
        patched.setattr(at.photos, "add_piece", full)
        answer = at.piece(name, LARGE[PIECE_BYTES:][:PIECE_BYTES], PIECE_BYTES, len(LARGE))
    assert (answer.status_code, answer.json()["problem"], answer.json()["have"]) == (507, "photo_no_room", PIECE_BYTES)
    with monkeypatch.context() as patched:
        patched.setattr(at.photos, "keep", full)
        assert at.sends(name, LARGE).status_code == 507
    assert at.have(name) == (200, str(len(LARGE)), "no")

    assert at.piece(name, b"", len(LARGE), len(LARGE)).json() == {"have": len(LARGE), "whole": True}
    assert at.photos.read(name) == LARGE


def test_pieces_outlive_the_office(at: At, tmp_path: Path) -> None:
    """The office dies between two pieces, the second half written: what it had brought to the disk is gone on from."""
    folder = tmp_path / "photos"
    name = at.names(LARGE)
    object.__setattr__(at.here.office, "photos", FolderPhotos(folder))
    at.piece(name, LARGE[:PIECE_BYTES], 0, len(LARGE))
    with (folder / "coming" / name).open("ab") as file:
        file.write(LARGE[PIECE_BYTES:][:777])
    object.__setattr__(at.here.office, "photos", FolderPhotos(folder))

    _, have, _ = at.have(name)
    assert have == str(PIECE_BYTES + 777)
    for begin in range(int(have), len(LARGE), PIECE_BYTES):
        answer = at.piece(name, LARGE[begin : begin + PIECE_BYTES], begin, len(LARGE))
    assert answer.json()["whole"]
    assert (folder / name[:2] / name).read_bytes() == LARGE


def test_a_piece_torn_on_the_disk_is_found_out_by_the_hash(at: At, tmp_path: Path) -> None:
    folder = tmp_path / "photos"
    name = at.names(LARGE)
    object.__setattr__(at.here.office, "photos", FolderPhotos(folder))
    at.piece(name, LARGE[:PIECE_BYTES], 0, len(LARGE))
    os.truncate(folder / "coming" / name, 100)
    os.truncate(folder / "coming" / name, PIECE_BYTES)

    begin = PIECE_BYTES
    while begin < len(LARGE):
        answer = at.piece(name, LARGE[begin : begin + PIECE_BYTES], begin, len(LARGE))
        begin += PIECE_BYTES
    assert answer.json()["problem"] == "photo_wrong_hash"
    assert at.sends(name, LARGE).json()["whole"]


def test_open_pages_hear_that_a_photo_has_come(at: At) -> None:
    name = at.names(SMALL)
    at.here.announced.clear()

    at.piece(name, SMALL)

    assert at.here.announced == [f"sheet:{JOB}"]


def test_a_tablet_hears_of_it_too(at: At) -> None:
    """Another tablet shows it as not here yet, until it is: that is part of what a contact brings when it changes."""
    name = at.names(SMALL)
    assert at.tablet.meets()["jobs"][JOB]["about"]["photos_missing"] == [name]
    assert at.tablet.meets()["jobs"] == {}

    at.piece(name, SMALL)

    assert at.tablet.meets()["jobs"][JOB]["about"]["photos_missing"] == []


# --- A photo that is never taken in ---------------------------------------------------------------------------------


def test_a_photo_never_taken_in_is_said_on_its_sheet_and_to_the_foreman_once(at: At) -> None:
    data = from_a_camera()
    name = at.names(data)
    at.here.announced.clear()

    for _ in range(2):
        assert at.piece(name, data).json()["problem"] == "photo_says_more"

    assert at.here.announced == [f"sheet:{JOB}", "floor"]
    sheet = at.who(ADA).get(SHEET).text
    assert "not kept by the office: only on the tablet that took it" in sheet
    assert "not here yet" not in sheet
    (alarm,) = at.here.all("tablet_alarms")
    assert (alarm.kind, alarm.count, alarm.people, alarm.job) == (AlarmKind.PHOTO_REFUSED, 1, (ADA.name,), JOB)
    floor = at.who(FAY).get("/floor").text
    assert "1 photo of job 1001 cannot be kept by this office, now or later. What was taken is on Bench alone." in floor
    assert f"Taken by {ADA.name}." in floor
    assert "what is missing there counts as not done" not in floor
    for address in ("/jobs/1001", "/desk"):
        assert "only on" in at.who(FAY).get(address).text


def test_a_tablet_goes_on_saying_it_until_the_foreman_has_settled_it(at: At) -> None:
    other = a_tablet(at.here, at.app, "Another")
    first, second = from_a_camera(), from_a_camera("PNG")
    names = [at.names(one) for one in (first, second)]
    assert at.tablet.meets()["photos_refused"] == 0
    for name, data in zip(names, (first, second), strict=True):
        at.piece(name, data)

    told = at.tablet.meets()
    assert told["photos_refused"] == 2
    assert told["jobs"][JOB]["about"]["photos_missing"] == sorted(names)
    assert told["jobs"][JOB]["about"]["photos_refused"] == sorted(names)
    assert other.meets()["photos_refused"] == 0

    (alarm,) = at.here.all("tablet_alarms")
    page = f"/floor/tablets/{alarm.id}"
    assert at.who(ADA).sends(page, {"reason": "Seen."}).status_code == 403
    assert at.who(FAY).fills_in(page, page, {"reason": ""}).status_code == 422
    assert at.tablet.meets()["photos_refused"] == 2
    assert at.who(FAY).fills_in(page, page, {"reason": "Taken again."}).status_code == 303

    assert at.tablet.meets()["photos_refused"] == 0
    assert "2 photos of job 1001" in at.who(FAY).get(f"/desk/tablets/{at.tablet.id}").text
    # Asked once more, the office says no more than it did.
    at.piece(names[0], first)
    assert at.tablet.meets()["photos_refused"] == 0
    assert len(at.here.all("tablet_alarms")) == 1


def test_one_photo_too_many_is_told_when_it_is_asked_after(at: At) -> None:
    for number in range(PHOTOS_A_JOB):
        at.names(f"{number:064x}")
    name = at.names(SMALL)

    assert at.have(name)[0] == 409

    assert at.tablet.meets()["photos_refused"] == 1
    assert at.here.get("photos", f"{at.tablet.id}-{at.tablet.seq}").refused == "photos_full"


def test_what_can_still_come_is_no_alarm(at: At) -> None:
    """Other bytes under its name, a piece beyond a gap, a piece too large: the next try may be right."""
    name = at.names(LARGE)
    assert at.piece(name, SMALL).json()["problem"] == "photo_wrong_hash"
    assert at.piece(name, LARGE[:9], 9, len(LARGE)).json()["problem"] == "photo_gap"
    assert at.piece(name, LARGE[: PIECE_BYTES + 1], 0, len(LARGE)).status_code == 413

    assert [one.refused for one in at.here.all("photos")] == [""]
    assert not at.here.all("tablet_alarms")


def test_a_photo_that_comes_whole_after_all_is_shown(at: At) -> None:
    name = at.names(SMALL)
    assert at.piece(name, HTML.ljust(20), 0, len(SMALL)).json()["problem"] == "photo_kind"
    assert "only on the tablet that took it" in at.who(ADA).get(SHEET).text

    assert at.piece(name, SMALL).json()["whole"]

    sheet = at.who(ADA).get(SHEET).text
    assert f'src="/photos/{name}"' in sheet
    assert "only on the tablet that took it" not in sheet
    assert at.tablet.meets()["jobs"][JOB]["about"]["photos_refused"] == []


def test_both_ends_hold_the_same_for_final() -> None:
    listed = re.search(r"FOR_GOOD = (\[[^\]]*\])", (TABLET / "photos.js").read_text("utf-8"))
    assert listed is not None
    assert set(json.loads(listed[1])) == REFUSED_FOR_GOOD


# --- A photo by its address ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "mime"), [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp")])
def test_a_photo_is_given_as_a_picture_and_as_nothing_else(at: At, kind: str, mime: str) -> None:
    data = a_picture(kind)
    name = at.names(data)
    at.piece(name, data)

    answer = at.who(DEE).get(f"/photos/{name}")

    assert (answer.status_code, answer.content) == (200, data)
    assert answer.headers["content-type"] == mime
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
    ending = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp"}[kind]
    assert answer.headers["content-disposition"] == f'inline; filename="photo-{name[:12]}.{ending}"'


def test_a_photo_that_no_entry_names_is_not_shown_though_its_bytes_are_there(at: At) -> None:
    name = at.photos.keep(SMALL)

    assert at.who(ADA).get(f"/photos/{name}").status_code == 404


def test_a_photo_not_here_yet_is_said_so_and_not_remembered(at: At) -> None:
    answer = at.who(ADA).get(f"/photos/{at.names(SMALL)}")

    assert answer.status_code == 404
    assert "not here yet" in answer.text
    assert answer.headers["cache-control"] == "no-store"


def test_a_stranger_sees_no_photo(at: At) -> None:
    name = at.names(SMALL)
    at.piece(name, SMALL)

    answer = at.tablet.client.get(f"/photos/{name}", follow_redirects=False)

    assert (answer.status_code, answer.headers["location"][:8]) == (303, "/sign-in")


# --- The form -----------------------------------------------------------------------------------------------------


def test_the_form_keeps_a_photo_and_records_who_took_it(at: At) -> None:
    data = from_a_camera("JPEG", turned=6)

    answer = at.adds(data, "Lower joint, before", "IMG_0001.JPG")

    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/1001/sheet?step=look#in-hand")
    ((words, name),) = at.notes()
    assert words == "Lower joint, before"
    kept = at.photos.read(name) or b""
    assert pixels(kept) == pixels(data)
    assert way_up(kept) == 6
    assert [secret for secret in SECRETS if secret in kept] == []
    page = at.who(ADA).get(SHEET).text
    assert f'src="/photos/{name}"' in page
    assert f"Photo by {ADA.name}, " in page
    assert "IMG_0001" not in page


def test_the_photo_is_known_in_the_ledger_by_its_hash(at: At) -> None:
    at.adds(SMALL)

    with at.here.store.reading() as unit:
        row = unit.ledger.of_job(JOB)[-1]
    assert (row.heard.entry.kind, row.heard.entry.body["sha256"], row.accepted) == ("photo_added", sha256(SMALL), True)
    assert row.heard.entry.person == ADA.id


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (None, "Take or choose a photo first"),
        (b"", "Take or choose a photo first"),
        (SVG, "not a JPEG, PNG or WebP picture"),
        (HTML, "not a JPEG, PNG or WebP picture"),
        (SMALL[:-2], "cannot be read to its end"),
        (b"\xff\xd8\xff" + b"x" * PHOTO_BYTES, "more than 4 MB"),
        (b"\xff\xd8\xff" + b"x" * 30_000_000, "more than 4 MB"),
    ],
    ids=["none", "empty", "svg", "html", "cut", "large", "thirty megabytes"],
)
def test_what_cannot_be_kept_is_said_beside_its_field_and_the_words_stay(
    at: At, data: bytes | None, words: str
) -> None:
    answer = at.adds(data, "Typed <words>")

    assert answer.status_code == 422
    assert words in answer.text
    assert 'id="step-photo-file-trouble"' in answer.text
    assert "Typed &lt;words&gt;" in answer.text
    assert at.notes() == []


def test_a_form_larger_than_any_photo_is_refused_whole(at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.forms.READ_LIMIT", 100_000)
    answer = at.adds(b"\xff\xd8\xff" + b"x" * 100_000)

    assert answer.status_code == 413
    assert at.notes() == []


def test_a_full_disk_is_said_and_everything_else_can_still_be_recorded(at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: bytes) -> str:
        raise NoRoom(os.strerror(errno.ENOSPC))

    monkeypatch.setattr(at.photos, "keep", full)

    answer = at.adds(SMALL, "Kept words")

    assert answer.status_code == 422
    assert "disk may be full" in answer.text
    assert "Kept words" in answer.text
    assert at.notes() == []
    form = forms_in(at.who(ADA).get(SHEET).text)["step-note"].hidden
    noted = at.who(ADA).sends("/jobs/1001/entries", {**form, "text": "A note"})
    assert noted.status_code == 303
    assert at.notes() == [("A note", "")]


def test_the_same_form_sent_twice_records_once(at: At) -> None:
    form = at.form()
    for _ in range(2):
        assert at.posts(form, SMALL).status_code == 303

    assert [photo for _, photo in at.notes()] == [sha256(SMALL)]


def test_a_page_gone_back_to_adds_a_second_photo(at: At) -> None:
    """The form still has the id of the entry it made. Another photo in it is another entry, not the first again."""
    form, second = at.form(), a_picture("JPEG", seed=2)
    for data in (SMALL, second):
        assert at.posts(form, data).status_code == 303

    assert [photo for _, photo in at.notes()] == [sha256(SMALL), sha256(second)]


def test_the_form_takes_no_more_than_a_sheet_holds(at: At) -> None:
    with at.here.store.reading() as unit:
        sheet = unit.sheets.get(JOB)
    assert sheet is not None
    form = at.form()
    for number in range(PHOTOS_A_JOB):
        body = e.PhotoAdded(f"{number:064x}", "", "look")
        record_form(at.here.office, office_entry(at.here.office, ADA.id, sheet, body))

    answer = at.posts(form, SMALL)

    assert answer.status_code == 422
    assert f"{PHOTOS_A_JOB} photos are on this sheet" in answer.text
    assert not at.photos.has(sha256(SMALL))


def test_who_may_not_add_photos_has_no_form_and_what_they_send_is_set_aside(at: At) -> None:
    desk = at.who(DEE)
    assert "step-photo" not in forms_in(desk.get(SHEET).text)
    assert "sheet-photo" not in forms_in(desk.get(SHEET).text)

    answer = at.posts({"csrf": desk.csrf, "step": "look"}, SMALL, who=DEE)

    assert answer.status_code == 200
    assert "set aside" in answer.text
    assert at.notes() == []


def test_a_forged_form_keeps_nothing(at: At) -> None:
    answer = at.posts({"csrf": "guessed", "step": "look"}, SMALL)

    assert answer.status_code == 403
    assert not at.photos.has(sha256(SMALL))


def test_a_form_of_another_kind_becomes_a_photo_all_the_same(at: At) -> None:
    """This door makes photos and nothing else, whatever a hidden field says."""
    at.adds(SMALL, kind="hold_lifted", step="look")

    assert [photo for _, photo in at.notes()] == [sha256(SMALL)]


@pytest.mark.parametrize("job", ["9999", "..", "1001%2F.."])
def test_a_photo_for_a_job_that_is_not_there(at: At, job: str) -> None:
    visitor = at.who(ADA)
    answer = visitor.client.post(
        f"/jobs/{job}/photos", data={"csrf": visitor.csrf}, files={"file": ("a.jpg", SMALL, "image/jpeg")}
    )

    assert answer.status_code == 404
    assert not at.photos.has(sha256(SMALL))


# --- Foreman and desk ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("who", "address"), [(FAY, "/jobs/1001"), (DEE, "/desk"), (FAY, "/desk")])
def test_foreman_and_desk_see_photos_with_whose_they_are(at: At, who: Any, address: str) -> None:
    coming = a_picture("JPEG", seed=3)
    at.sends(at.names(SMALL), SMALL)
    at.names(coming, step="")

    page = at.who(who).get(address).text

    assert f'src="/photos/{sha256(SMALL)}"' in page
    assert re.search(rf'alt="Photo by {ADA.name}, 11:0\d: Look: The joint"', page)
    assert f"/photos/{sha256(coming)}" not in page
    assert "not here yet" in page
