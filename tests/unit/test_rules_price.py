"""The price's own gate: work the customer has not agreed to is not recorded as done, at either end, and is kept."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain import entry as e
from app.domain.case import Reason
from app.domain.packet import Axle, Line, PriceState, packet_from_json
from app.domain.standing import open_points
from app.domain.view import view_of
from tests.builders import ADA, PLAY_TRIAL, Play, a_fastener, a_measure, a_packet, a_reading, a_step
from tests.twin_view import by_python, by_script
from tests.unit.test_view import scene

SHUT = (PriceState.WAITING, PriceState.CHANGED, PriceState.REFUSED)
LINE = Line("l1", "ball_joint", 1, "Ball joint", Axle.FRONT)
STEP = a_step("work", measures=(a_measure(),), trial=PLAY_TRIAL, fasteners=(a_fastener(),))


def priced(state: PriceState, edition: int = 2) -> Play:
    return Play(a_packet(STEP, gates=(), lines=(replace(LINE, price=state, price_edition=edition),)))


BODIES = (
    e.StepDone(step="work"),
    e.ReadingTaken(step="work", measure="gap", reading=a_reading("3 mm")),
    e.TestRecorded(step="work", choice="none", verdict="sound"),  # type: ignore[arg-type]
    e.SignedOff(step="work", fastener="nut", readings=(a_reading("110 N·m"),), wrench="W1"),
)


@pytest.mark.parametrize("state", SHUT)
@pytest.mark.parametrize("body", BODIES, ids=lambda body: type(body).__name__)
def test_nothing_of_a_step_counts_while_its_price_is_not_agreed(state: PriceState, body: e.Body):
    play = priced(state)

    ruling = play.does(ADA, body)

    assert (ruling.accepted, ruling.reason) == (False, Reason.NOT_AGREED)
    assert ruling.details == {"line": "Ball joint", "why": str(state), "edition": 2}
    assert [one.reason for one in play.sheet.asides.values()] == ["not_agreed"]
    assert play.sheet.step("work").done is None


@pytest.mark.parametrize("state", [PriceState.NONE, PriceState.AGREED, PriceState.PUT_BACK])
def test_agreed_work_unpriced_work_and_putting_back_go_on(state: PriceState):
    play = priced(state)

    assert play.signs("110 N·m").accepted
    assert play.measures("3 mm", step="work").accepted


def test_holds_notes_and_changes_of_support_never_wait_for_a_price():
    play = priced(PriceState.WAITING)

    assert play.does(ADA, e.NoteAdded(step="work", text="Noise at the left")).accepted
    assert play.does(ADA, e.HoldPlaced(step="work", reason="Wait")).accepted


def test_a_price_that_is_agreed_opens_the_step_and_settles_what_waited():
    play = Play(a_packet(a_step("work"), gates=(), lines=(replace(LINE, price=PriceState.WAITING, price_edition=1),)))
    play.finishes("work")
    agreed = replace(LINE, price=PriceState.AGREED, price_edition=1)
    packet = play.sheet.packet
    assert packet is not None

    assert play.pins(replace(packet, edition=2, lines=(agreed,))).accepted
    assert play.finishes("work").accepted
    assert [one.outcome for one in play.sheet.asides.values()] == ["done_since"]
    assert open_points(play.sheet) == ()


def test_a_price_that_changes_shuts_the_step_and_keeps_what_was_recorded():
    play = priced(PriceState.AGREED, 1)
    play.signs("110 N·m")
    packet = play.sheet.packet
    assert packet is not None

    play.pins(replace(packet, edition=2, lines=(replace(LINE, price=PriceState.CHANGED, price_edition=1),)))

    assert "nut" in play.sheet.step("work").signatures
    assert play.measures("3 mm", step="work").reason == Reason.NOT_AGREED


def test_a_packet_without_prices_keeps_the_form_and_the_hash_it_had():
    plain = a_packet().as_json()

    assert set(plain["lines"][0]) == {"id", "procedure", "version", "title", "axle", "corner"}


def test_a_packet_with_a_price_is_read_back_whole():
    packet = priced(PriceState.CHANGED).sheet.packet
    assert packet is not None

    assert packet_from_json(e.json_bytes(packet.as_json())) == packet


@pytest.mark.parametrize("state", list(PriceState))
def test_the_card_says_at_both_ends_why_the_price_keeps_it_shut(state: PriceState):
    shown = scene(priced(state), ADA)
    hand = view_of(shown)["hand"]

    assert by_script(shown) == by_python(shown)
    assert hand["price"]["shown"] == (state in SHUT)
    assert hand["open_here"] == (state not in SHUT)
    assert hand["mark"] == ("shut" if state in SHUT else "open")
