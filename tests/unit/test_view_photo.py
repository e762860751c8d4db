"""Photos on a sheet, at both ends: where they are shown, what is said of one not here yet, and when it is enough."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.domain import entry as e
from app.domain.photos import PHOTOS_A_JOB, photos_of
from app.domain.view import view_of
from app.domain.view_parts import Look, Scene
from app.web.rendering import environment
from tests.builders import ADA, DEE, FAY, Play, a_packet
from tests.js_engine import TABLET
from tests.twin_view import by_python, by_script
from tests.unit.test_view import scene

HERE, COMING = "a" * 64, "b" * 64


def with_photos() -> Play:
    play = Play(a_packet())
    play.does(ADA, e.NoteAdded(text="Seized bolt.", step="look"))
    play.does(ADA, e.PhotoAdded(sha256=HERE, name="The <bolt>", step="look"))
    play.does(FAY, e.PhotoAdded(sha256=COMING, name="", step="look"))
    play.does(FAY, e.PhotoAdded(sha256=HERE, name="As it came", step=""))
    return play


def seen(play: Play, look: Look = Look("look"), who: Any = ADA) -> Scene:
    return scene(play, who, look, photos_missing=(COMING,))


def test_photos_hang_on_the_card_of_their_step_and_notes_stay_notes():
    hand = view_of(seen(with_photos()))["hand"]

    assert [one["text"] for one in hand["notes"]] == ["Seized bolt."]
    assert [(one["address"], one["here"]) for one in hand["photos"]] == [
        (f"/photos/{HERE}", True),
        (f"/photos/{COMING}", False),
    ]
    assert [one["alt"] for one in hand["photos"]] == [
        f"Photo by {ADA.name}, {hand['photos'][0]['at']}: The <bolt>",
        f"Photo by {FAY.name}, {hand['photos'][1]['at']}",
    ]


def test_photos_hang_on_the_line_of_a_folded_step_and_on_the_whole_sheet():
    view = view_of(seen(with_photos(), Look("fit")))

    rows = {row["id"]: row for group in view["groups"] for row in (*group["folded"], *group["rows"])}
    assert (len(rows["look"]["photos"]), rows["look"]["photos_shown"]) == (2, True)
    assert (rows["undo"]["photos"], rows["undo"]["photos_shown"]) == ([], False)
    assert [one["text"] for one in view["photos"]] == ["As it came"]


def test_a_photo_not_here_yet_is_said_so_and_asked_for_nowhere():
    for look in (Look("look"), Look("fit")):
        page = (
            environment()
            .get_template("tablet/_sheet_view.html")
            .render(view=view_of(seen(with_photos(), look)), csrf="")
        )

        assert COMING not in page
        assert "not here yet" in page
        assert f'src="/photos/{HERE}"' in page
        assert "The &lt;bolt&gt;" in page


def test_a_sheet_with_enough_photos_says_so_in_place_of_the_form():
    play = Play(a_packet())
    for number in range(PHOTOS_A_JOB - 1):
        play.does(ADA, e.PhotoAdded(sha256=f"{number:064x}", name="", step="look"))
    play.does(ADA, e.PhotoAdded(sha256=f"{0:064x}", name="the same once more", step=""))
    assert len(photos_of(play.sheet)) == PHOTOS_A_JOB - 1
    assert not view_of(seen(play))["hand"]["photo_form"]["full"]

    play.does(ADA, e.PhotoAdded(sha256="f" * 64, name="", step=""))

    form = view_of(seen(play))["hand"]["photo_form"]
    assert form["full"]
    page = environment().get_template("tablet/_photo_form.html").render(photo=form, view={}, csrf="")
    assert f"{PHOTOS_A_JOB} photos are on this sheet" in page
    assert "<form" not in page


def test_the_desk_may_look_but_adds_none():
    view = view_of(seen(with_photos(), who=DEE))

    assert view["hand"]["photos_shown"]
    assert not view["hand"]["photo_form"]["shown"]
    assert not view["photo_form"]["shown"]


@pytest.mark.parametrize("look", [Look("look"), Look("fit"), Look()])
@pytest.mark.parametrize("missing", [(), (COMING,), (HERE, COMING)])
def test_both_ends_show_the_same_photos(look: Look, missing: tuple[str, ...]):
    play = with_photos()
    shown = scene(play, ADA, look, photos_missing=missing, photos_refused=missing[:1])
    shown = replace(shown, waiting=frozenset({play.last_id}))

    assert by_script(shown) == by_python(shown)


def test_both_ends_have_enough_at_the_same_number():
    assert f"export const PHOTOS_A_JOB = {PHOTOS_A_JOB};" in (TABLET / "view_photo.js").read_text(encoding="utf-8")
