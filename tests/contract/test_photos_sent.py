"""The tablet's own script sending photos to the real office: every request it makes is made here, or lost here."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest

from app.domain import entry as e
from app.domain.photos import PHOTOS_A_JOB, PIECE_BYTES, cleaned
from app.domain.problems import NoRoom
from app.storage.photos import MemoryPhotos
from tests.js_engine import TABLET, Engine
from tests.offices import Workshop, a_small_job, an_office
from tests.pictures import a_picture, from_a_camera, sha256
from tests.tablets import ATablet, a_tablet

LARGE, SMALL = a_picture("PNG", 700, 500), a_picture("JPEG")

# A tablet's photos as `openPhotos` gives them, in memory; requests wait until they are answered from outside.
_DRIVER = """
const { sendPhotos, onlyPicture } = modules["photos.js"];
const hexOf = (bytes) => Array.from(new Uint8Array(bytes), (one) => one.toString(16).padStart(2, "0")).join("");
const bytesOf = (hex) => Uint8Array.from(hex.match(/../g) ?? [], (two) => parseInt(two, 16));
const kept = new Map();
const asked = [];
globalThis.read = 0;
const db = {
  all: async () => [...kept.values()].map(({ bytes, ...one }) => one),
  photoBytes: async (sha) => { read += 1; return kept.has(sha) ? kept.get(sha).bytes : null; },
  keep: async (sha, bytes, kept_ms) => {
    kept.set(sha, { sha256: sha, size: bytes.byteLength, kept_ms, refused: "", bytes });
  },
  refuse: async (sha, refused) => { kept.set(sha, { ...kept.get(sha), refused }); },
  forget: async (sha) => { kept.delete(sha); },
};
const fetch = (path, { method, headers, body }) => new Promise((resolve, reject) => {
  asked.push({ path, method, headers, body: body ? hexOf(body) : "", resolve, reject });
});
globalThis.take = (sha, hex) => { db.keep(sha, bytesOf(hex).buffer, kept.size); };
globalThis.begin = (id, secret) => {
  globalThis.outcome = "";
  sendPhotos({ fetch, tablet: { id, secret }, db })
    .then((found) => { outcome = found; }, (error) => { outcome = `${error.name}: ${error.message}`; });
};
globalThis.next = () => asked.length ? JSON.stringify(asked[0]) : "";
globalThis.lose = () => asked.shift().reject(new TypeError("gone"));
globalThis.answer = (status, headers, body) => {
  const found = JSON.parse(headers);
  const get = (name) => found[name.toLowerCase()] ?? null;
  asked.shift().resolve({ status, headers: { get }, json: async () => JSON.parse(body) });
};
globalThis.keptNow = () => JSON.stringify([...kept.values()].map((one) => [one.sha256, one.refused]));
globalThis.cleaned = (hex) => hexOf(onlyPicture(bytesOf(hex)));
"""


@dataclass
class Taker:
    """A tablet that has taken photos. `requests`: method, bytes and status of each."""

    here: Workshop
    tablet: ATablet
    engine: Engine = field(default_factory=lambda: Engine("photos.js"))
    requests: list[tuple[str, int, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.engine.run(f"{{ {_DRIVER} }}")

    def takes(self, data: bytes, *, named: bool = True) -> str:
        name = sha256(data)
        self.engine.run(f"take({json.dumps(name)}, {json.dumps(data.hex())})")
        if named:
            (answer,) = self.tablet.answers(self.tablet.entry(e.PhotoAdded(name, "", "look")))
            assert answer["kept"]
        return name

    def sends(self, meddle: Callable[[int, str], str] = lambda number, method: "") -> str:
        """One call of `sendPhotos`; gives what it came to. meddle: "lost" before the office hears, "cut" after."""
        secret = self.tablet.secret
        self.engine.run(f"begin({json.dumps(self.tablet.id)}, {json.dumps(secret)})")
        number = 0
        while waiting := self.engine.run("next()"):
            asked = json.loads(waiting)
            number += 1
            what = meddle(number, asked["method"])
            if what != "lost":
                answer = self.tablet.client.request(
                    asked["method"], asked["path"], content=bytes.fromhex(asked["body"]), headers=asked["headers"]
                )
                self.requests.append((asked["method"], len(asked["body"]) // 2, answer.status_code))
            if what:
                self.engine.run("lose()")
                continue
            given = json.dumps({name.lower(): value for name, value in answer.headers.items()})
            body = answer.text or "null"
            self.engine.run(f"answer({answer.status_code}, {json.dumps(given)}, {json.dumps(body)})")
        found: str = self.engine.run("outcome")
        return found

    @property
    def kept(self) -> list[tuple[str, str]]:
        return [tuple(one) for one in json.loads(self.engine.run("keptNow()"))]

    @property
    def photos(self) -> MemoryPhotos:
        photos = self.here.office.photos
        assert isinstance(photos, MemoryPhotos)
        return photos


@pytest.fixture
def taker() -> Taker:
    here = an_office()
    a_small_job(here)
    return Taker(here, a_tablet(here))


def test_a_photo_goes_in_pieces_and_leaves_once_it_is_whole(taker: Taker) -> None:
    name = taker.takes(LARGE)

    assert taker.sends() == "answered"

    assert taker.photos.read(name) == LARGE
    assert taker.kept == []
    assert [size for method, size, _ in taker.requests if method == "POST"][:2] == [PIECE_BYTES, PIECE_BYTES]


def test_nothing_to_send_asks_nothing(taker: Taker) -> None:
    assert taker.sends() == "answered"
    assert taker.requests == []


@pytest.mark.parametrize("what", ["lost", "cut"])
@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_cut_off_anywhere_it_goes_on_from_what_is_there(taker: Taker, what: str, number: int) -> None:
    """Lost before the office hears it, or its answer lost: nothing is sent again that is there."""
    name = taker.takes(LARGE)
    pieces = -(-len(LARGE) // PIECE_BYTES)
    assert pieces == 3

    outcome = taker.sends(lambda count, _: what if count == number else "")

    assert outcome == "TypeError: gone"
    assert [sha for sha, _ in taker.kept] == [name]
    assert taker.sends() == "answered"
    assert taker.photos.read(name) == LARGE
    assert taker.kept == []
    assert sum(size for method, size, _ in taker.requests if method == "POST") == len(LARGE)


def test_a_photo_whose_entry_has_not_come_waits_and_keeps_none_back(taker: Taker) -> None:
    waits = taker.takes(LARGE, named=False)
    goes = taker.takes(SMALL)

    assert taker.sends() == "answered"

    assert taker.kept == [(waits, "")]
    assert taker.photos.has(goes)
    assert taker.engine.run("read") == 1


def test_only_a_few_pieces_go_at_a_time_so_that_entries_need_not_wait(taker: Taker) -> None:
    pictures = [a_picture("PNG", 700, 500, seed) for seed in range(3)]
    names = [taker.takes(one) for one in pictures]

    assert taker.sends() == "more"

    assert sum(1 for method, _, _ in taker.requests if method == "POST") == 8
    while taker.sends() == "more":
        pass
    assert [taker.photos.read(name) for name in names] == pictures
    assert taker.kept == []


def test_what_the_office_never_takes_is_kept_and_not_sent_again(taker: Taker) -> None:
    says_more = from_a_camera()
    name, other = taker.takes(says_more), taker.takes(SMALL)

    assert taker.sends() == "answered"
    assert taker.kept == [(name, "photo_says_more")]
    assert taker.photos.has(other)
    taker.requests.clear()
    assert taker.sends() == "answered"
    assert taker.requests == []


def test_a_job_that_has_enough_is_told_before_any_piece_goes(taker: Taker) -> None:
    for number in range(PHOTOS_A_JOB):
        taker.tablet.answers(taker.tablet.entry(e.PhotoAdded(f"{number:064x}", "", "look")))
    name = taker.takes(SMALL)

    assert taker.sends() == "answered"

    assert taker.kept == [(name, "photos_full")]
    assert taker.requests == [("HEAD", 0, 409)]


def test_a_full_office_is_tried_again_later(taker: Taker, monkeypatch: pytest.MonkeyPatch) -> None:
    name = taker.takes(LARGE)

    def full(*_: Any) -> int:
        raise NoRoom("no space")

    with monkeypatch.context() as patched:
        patched.setattr(taker.photos, "add_piece", full)
        assert taker.sends() == "answered"
    with monkeypatch.context() as patched:
        patched.setattr(taker.photos, "keep", full)
        assert taker.sends() == "answered"
    assert taker.kept == [(name, "")]
    assert taker.photos.come(name) == len(LARGE)

    assert taker.sends() == "answered"
    assert taker.photos.read(name) == LARGE
    assert taker.kept == []


def test_pieces_spoilt_at_the_office_are_sent_anew(taker: Taker) -> None:
    name = taker.takes(LARGE)
    taker.sends(lambda count, _: "lost" if count == 3 else "")
    taker.photos._coming[name] = b"\0" * len(taker.photos._coming[name])

    for _ in range(2):
        assert taker.sends() == "answered"

    assert taker.photos.read(name) == LARGE
    assert taker.kept == []


def test_a_tablet_the_office_does_not_know_keeps_everything(taker: Taker) -> None:
    name = taker.takes(SMALL)
    taker.tablet.secret = "guessed"

    assert taker.sends() == "unknown"
    assert taker.kept == [(name, "")]


def test_a_photo_the_office_has_already_leaves_without_being_sent(taker: Taker) -> None:
    """Its last answer was lost, or another tablet sent the same."""
    taker.takes(SMALL)
    taker.photos.keep(SMALL)

    assert taker.sends() == "answered"

    assert taker.kept == []
    assert [method for method, _, _ in taker.requests] == ["HEAD"]


@pytest.mark.parametrize("turned", [1, 6])
def test_a_tablet_cleans_a_photo_as_the_office_would(taker: Taker, turned: int) -> None:
    """Of a picture just made by a browser, whatever it writes beside it: the office finds nothing left to take away."""
    made = from_a_camera(turned=turned)
    made = made[: made.rindex(b"\xff\xd9") + 2]

    kept = bytes.fromhex(taker.engine.run(f"cleaned({json.dumps(made.hex())})"))

    assert cleaned(kept) == kept
    assert kept != made
    assert kept == bytes.fromhex(taker.engine.run(f"cleaned({json.dumps(kept.hex())})"))


def test_both_ends_mean_the_same_piece() -> None:
    assert "export const PIECE_BYTES = 256 * 1024;" in (TABLET / "photos.js").read_text(encoding="utf-8")
    assert PIECE_BYTES == 256 * 1024
