"""Whatever comes, comes to something: a form that is not known is kept whole and set aside, and nothing ever raises."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from app.domain import entry as e
from app.domain.canonical import LARGEST_WHOLE, NotCanonical, canonical
from app.domain.case import Reason
from app.domain.entry import Kind, entry_from, entry_json, read_body
from app.domain.packet import Support
from app.domain.sheet import Sheet, sheet_from
from tests.builders import ADA, CAST, FAY, STEPS, Play, a_packet, a_reading, an_entry, heard, the_rules, whole_job
from tests.made_up import ANY_BODY, FULL, HOSTILE, JSON_VALUES, bent_bodies


def read(body: Any, kind: str = "note_added", v: int = 1) -> e.Body | None:
    return read_body(an_entry(body, kind=kind, v=v))


# --- Forms that are known and forms that are not ---------------------------------------------------------------------


@pytest.mark.parametrize("kind", list(Kind))
def test_a_body_written_out_reads_back_as_it_was(kind: Kind):
    entry = an_entry(FULL[kind])

    assert read_body(entry) == FULL[kind]
    assert entry_from(json.loads(canonical(entry_json(entry)))) == replace(entry, body=dict(entry.body))


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("note_added", {}),
        ("note_added", {"text": "Seen", "invented": 1}),
        ("note_added", {"text": 81}),
        ("note_added", {"text": None}),
        ("note_added", {"text": "x" * 2_001}),
        ("note_added", {"text": "\ud800"}),
        ("invented", {"text": "Seen"}),
        ("Note_Added", {"text": "Seen"}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": 3.0}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": 3.5}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": float("nan")}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": "3000"}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": True}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": LARGEST_WHOLE + 1}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": {"value": 10**5_000}}),
        ("reading_taken", {"step": "fit", "measure": "gap", "reading": [3_000, "3", "mm"]}),
        ("signed_off", {"step": "stud", "fastener": "nut", "new_part": 1}),
        ("signed_off", {"step": "stud", "fastener": "nut", "new_part": "yes"}),
        ("signed_off", {"step": "stud", "fastener": "nut", "readings": {"value": 1}}),
        ("signed_off", {"step": "stud", "fastener": "nut", "readings": [{"value": 1}] * 51}),
        ("signed_off", {"step": "stud", "fastener": "nut", "extension": {"length_um": 1, "angle_deg": 45.0}}),
        ("support_changed", {"state": "on_a_jack", "axle": "front"}),
        ("support_changed", {"state": "on_ramp", "axle": "middle"}),
        ("gate_answered", {"gate": "g", "answers": [["shaken", True]]}),
        ("gate_answered", {"gate": "g", "answers": {"shaken": {"ready": 1}}}),
        ("gate_answered", {"gate": "g", "answers": {"x" * 2_001: {"ready": True}}}),
        ("gate_answered", {"gate": "g", "answers": {str(n): {} for n in range(51)}}),
        ("photo_added", {"sha256": "../../etc", "name": "x"}),
        ("photo_added", {"sha256": "A" * 64, "name": "x"}),
        ("packet_pinned", {"packet": None}),
        ("packet_pinned", {"packet": []}),
    ],
)
def test_a_body_in_another_form_is_not_read(kind: str, body: dict[str, Any]):
    """Text is no number, yes is not 1, a whole number has no point, and a key nobody knows is another form."""
    assert read(body, kind) is None


@pytest.mark.parametrize("v", [0, 2, -1, 10**6])
def test_another_form_number_is_not_read(v: int):
    assert read({"text": "Seen"}, v=v) is None


def test_nesting_without_end_is_not_read():
    deep: Any = {}
    for _ in range(100_000):
        deep = {"packet": deep}

    assert read(deep, "packet_pinned") is None
    assert read({"packet": 1, 2: "keys are text"}, "packet_pinned") is None


def test_an_unknown_form_is_kept_set_aside_and_waits_for_a_person():
    play = Play(a_packet())

    ruling = play.does(ADA, {"spring": "compressed"}, kind="spring_compressed", v=2)

    assert (ruling.reason, ruling.details["kind"]) == (Reason.UNKNOWN_FORM, "spring_compressed")
    one = play.sheet.asides[play.last_id]
    assert (one.kind, one.settled) == ("spring_compressed", None)
    assert play.does(FAY, e.Settled(aside=play.last_id, outcome="keep_as_note", reason="Newer tablet")).accepted


# --- The envelope ----------------------------------------------------------------------------------------------------

ENVELOPE = entry_json(an_entry(e.NoteAdded(text="Seen")))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("id", ""),
        ("id", "x" * 101),
        ("id", "two words"),
        ("id", "line\n"),
        ("id", "\ud800"),
        ("id", 7),
        ("person", "Zoë"),
        ("kind", ""),
        ("job", None),
        ("v", "1"),
        ("v", 1.0),
        ("v", True),
        ("seq", 2**53),
        ("noted_at_ms", 1.5),
        ("clock_offset_ms", "0"),
        ("body", []),
        ("body", None),
        ("basis", []),
        ("basis", {"step_revision": "1"}),
        ("basis", {"step_revision": True}),
        ("basis", {"holds": "e-1"}),
        ("basis", {"holds": [1]}),
        ("bundle", "\0"),
    ],
)
def test_an_envelope_that_is_none_is_refused(key: str, value: Any):
    """Names are plain ASCII, so that both ends sort them alike; whole numbers are such at both ends."""
    with pytest.raises(ValidationError):
        entry_from({**ENVELOPE, key: value})


@pytest.mark.parametrize("key", ["v", "id", "tablet", "seq", "job", "kind", "body", "person", "noted_at_ms"])
def test_an_envelope_without_one_of_its_parts_is_refused(key: str):
    with pytest.raises(ValidationError):
        entry_from({name: value for name, value in ENVELOPE.items() if name != key})


def test_an_envelope_with_more_than_is_known_is_read_all_the_same():
    """A newer tablet's entry has to reach the ledger to be set aside; its raw bytes are kept beside it."""
    entry = entry_from({**ENVELOPE, "v": 2, "mood": "good", "basis": {"weather": "rain"}})

    assert read_body(entry) is None
    assert entry.basis == e.Basis()


# --- Nothing raises --------------------------------------------------------------------------------------------------


def half_way() -> Sheet:
    """A sheet on stands with a bit of everything on it: gates, readings, holds, things set aside."""
    play = whole_job()
    play.sheet = Sheet(play.sheet.job)
    for one, ruling in play.history[:12]:
        play.sheet = play.rules.evolve(play.sheet, one, ruling)
    play.does(FAY, e.HoldPlaced(reason="Wait", step="snug"), id="e-9")
    play.signs("130 N·m", step="stud")
    play.holds_vehicle(Support.STANDS_FRAME)
    return play.sheet


RULES = the_rules()
SHEETS = (Sheet("job-1"), Play(a_packet()).sheet, half_way(), whole_job().sheet)


def rule_and_check(sheet: Sheet, kind: str, body: Any, who: int, basis: e.Basis, v: int = 1) -> None:
    one = heard(an_entry(body, CAST[who], kind=kind, v=v, id="e-new", basis=basis), CAST[who], order=99)

    ruling = RULES.decide(sheet, one)
    after = RULES.evolve(sheet, one, ruling)

    assert ruling.accepted or ruling.reason in set(Reason)
    assert after.entries == sheet.entries + 1
    text = canonical(after.as_json())
    assert sheet_from(json.loads(text), after.packet) == after
    if not ruling.accepted:
        assert after.asides["e-new"].reason == ruling.reason


BASES = st.builds(
    e.Basis,
    packet=st.sampled_from(["", "x", SHEETS[1].packet.hash]),  # type: ignore[union-attr]
    step_revision=st.sampled_from([None, 1, 2]),
    support_revision=st.sampled_from([None, 0, 1, 2]),
    gate_revision=st.none(),
    holds=st.sampled_from([None, (), ("e-9",)]),
)
WHO = st.integers(0, len(CAST) - 1)


@pytest.mark.parametrize("kind", list(Kind))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_no_bent_body_raises(kind: Kind, data: st.DataObject):
    """A body of its kind with something in it changed, taken away or added: ruled on, kept, hashed, read back."""
    body = data.draw(bent_bodies(kind, st.one_of(JSON_VALUES, HOSTILE)))

    rule_and_check(data.draw(st.sampled_from(SHEETS)), kind, body, data.draw(WHO), data.draw(BASES))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(
    sheet=st.sampled_from(SHEETS), kind=st.sampled_from([*Kind, "invented"]), body=ANY_BODY, who=WHO, basis=BASES,
    v=st.sampled_from([1, 1, 1, 0, 2]),
)  # fmt: skip
def test_no_body_at_all_raises(sheet: Sheet, kind: str, body: Any, who: int, basis: e.Basis, v: int):
    rule_and_check(sheet, kind, body, who, basis, v)


@settings(max_examples=150, deadline=None)
@given(
    step=st.sampled_from(["fit", "snug", "stud", "ride_height"]), fastener=st.sampled_from(["nut", "pivot"]),
    value=st.integers(-(2**53) + 1, 2**53 - 1), wrench=st.sampled_from(["W1", "W9", ""]),
    length=st.integers(-(2**53) + 1, 2**53 - 1), angle=st.integers(-(2**53) + 1, 2**53 - 1), count=st.integers(0, 3),
)  # fmt: skip
def test_no_reading_wrench_or_extension_raises(
    step: str, fastener: str, value: int, wrench: str, length: int, angle: int, count: int
):
    """The largest numbers that may come at all, at every place a sum is done."""
    readings = (e.Reading(value=value, text="x", unit="N·m"),) * count
    body = e.SignedOff(
        step=step, fastener=fastener, readings=readings, wrench=wrench, extension=e.Extension(length, angle)
    )
    seen = e.Basis(step_revision=1)

    rule_and_check(SHEETS[2], "signed_off", e.body_json(body), 0, seen)


# --- Canonical form --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("value", [1.0, float("nan"), {"a": [0.5]}, 2**53, -(2**53), b"x", {1: "x"}, {"a"}])
def test_what_the_two_ends_do_not_share_has_no_canonical_form(value: Any):
    with pytest.raises(NotCanonical):
        canonical(value)


def test_the_canonical_form_sorts_keys_and_leaves_no_spaces():
    assert canonical({"b": [1, True, None], "a": "µ"}) == '{"a":"µ","b":[1,true,null]}'.encode()
    assert a_reading("81 lbf·ft").value == 109_821


# --- The order of an object's keys does not count --------------------------------------------------------------------


def read_back(sheet: Sheet) -> Sheet:
    """The sheet as the store gives it: its keys sorted."""
    return sheet_from(json.loads(canonical(sheet.as_json())), sheet.packet)


def test_a_sheet_read_back_is_ruled_on_as_the_one_it_was():
    """Two tags, the later one with the lower id: the ruling names the tag hung first."""
    play = Play(a_packet())
    play.does(FAY, e.HoldPlaced(reason="First"), id="z")
    play.does(FAY, e.HoldPlaced(reason="Second"), id="a")
    one = heard(an_entry(e.StepDone(step="look"), basis=play.sees("look"), id="late"), ADA, order=9, at=play.now)

    rulings = [play.rules.decide(sheet, one) for sheet in (play.sheet, read_back(play.sheet))]

    assert [ruling.details["why"] for ruling in rulings] == ["First", "First"]


def test_notes_of_steps_that_are_gone_move_in_the_same_order_from_a_sheet_read_back():
    play = Play(a_packet())
    play.does(ADA, e.NoteAdded(text="Later in the alphabet", step="undo"))
    play.does(ADA, e.NoteAdded(text="Earlier in the alphabet", step="fit"))
    fewer = a_packet(STEPS[0], gates=(), edition=2)
    one = heard(an_entry(e.PacketPinned(fewer.as_json()), FAY, id="late"), FAY, order=9, at=play.now)

    states = [
        canonical(play.rules.evolve(sheet, one, play.rules.decide(sheet, one)).as_json())
        for sheet in (play.sheet, read_back(play.sheet))
    ]

    assert states[0] == states[1]
    assert b"Later in the alphabet" in states[0]


def test_a_packet_with_a_number_no_tablet_holds_can_still_be_set_aside():
    """The ruling carries the edition, so an edition that has no canonical form may not get that far."""
    play = Play(a_packet())

    ruling = play.does(FAY, e.PacketPinned({**a_packet().as_json(), "edition": 2**60}))

    assert ruling.reason == Reason.UNKNOWN_FORM
    assert canonical(play.sheet.as_json())
