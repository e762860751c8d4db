"""Hypothesis strategies for entries: bodies that fit their kind, bodies bent a little, and anything at all."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import strategies as st

from app.domain import entry as e
from app.domain.entry import Kind
from app.domain.packet import Axle, Support, Verdict
from tests.builders import STANDS_OPEN, a_packet, a_reading

# One full body of each kind, with every key present, so that bending one reaches every key.
FULL: dict[Kind, e.Body] = {
    Kind.PACKET_PINNED: e.PacketPinned(a_packet().as_json()),
    Kind.GATE_ANSWERED: e.GateAnswered(gate="stands:front", answers=STANDS_OPEN),
    Kind.READING_TAKEN: e.ReadingTaken(step="fit", measure="gap", reading=a_reading("3 mm")),
    Kind.SIGNED_OFF: e.SignedOff(
        step="stud", fastener="nut", readings=(a_reading("110 N·m"),), wrench="W1", extension=e.Extension(40_000, 90),
        new_part=True,
    ),
    Kind.COUNTERSIGNED: e.Countersigned(
        step="stud", fastener="nut", readings=(a_reading("110 N·m"),), wrench="W1", extension=e.Extension(40_000, 90),
        seen="Tight",
    ),
    Kind.STEP_DONE: e.StepDone(step="fit", new_parts=("cotter",)),
    Kind.STEP_REOPENED: e.StepReopened(step="fit", reason="Look again"),
    Kind.SUPPORT_CHANGED: e.SupportChanged(state=Support.STANDS_FRAME, axle=Axle.FRONT, bears="the frame"),
    Kind.HOLD_PLACED: e.HoldPlaced(reason="Wait", step="fit"),
    Kind.HOLD_LIFTED: e.HoldLifted(hold="e-9", reason="Here"),
    Kind.HANDED_OVER: e.HandedOver(to="p-ben", to_name="Ben", note="Hand tight"),
    Kind.TEST_RECORDED: e.TestRecorded(step="look", choice="none", verdict=Verdict.SOUND, reason="Still"),
    Kind.NOTE_ADDED: e.NoteAdded(text="Seen", step="fit"),
    Kind.PHOTO_ADDED: e.PhotoAdded(sha256="0" * 64, name="before", step="fit"),
    Kind.SETTLED: e.Settled(aside="e-9", outcome="keep_as_note", reason="Known"),
    Kind.HANDED_BACK: e.HandedBack(note="Keys at the desk"),
}  # fmt: skip

WORDS = st.sampled_from(
    ["", "fit", "stud", "look", "nut", "gap", "stands:front", "W1", "__proto__", "constructor", "0"]
)
PLAIN_TEXT = st.one_of(
    WORDS, st.text(st.characters(exclude_categories=["Cs"]), max_size=30), st.builds(lambda: "x" * 2_001)
)
WHOLE = st.one_of(
    st.integers(-3, 200_000), st.sampled_from([2**53 - 1, 2**53, -(2**53) + 1, -(2**53), 10**30, -(10**40)])
)
# No float that is a whole number: JSON Schema counts 1.0 as one, and the domain is stricter on purpose.
BROKEN = st.floats(allow_nan=False, allow_infinity=False).filter(lambda one: not one.is_integer())
SCALARS = st.one_of(st.none(), st.booleans(), WHOLE, BROKEN, PLAIN_TEXT)
JSON_VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(PLAIN_TEXT, inner, max_size=4)),
    max_leaves=8,
)
# What only a broken or hostile client sends.
HOSTILE = st.one_of(
    st.sampled_from([float("nan"), float("inf"), -0.0, 1e308, "\ud800", "a\udfff", "\0"]),
    st.builds(lambda: "x" * 100_000),
    st.builds(lambda: 10**5_000),
    st.builds(lambda: [[] for _ in range(200)]),
)


def _places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in inner:
        found += _places(value, (*path, key))
    return found


@st.composite
def bent_bodies(draw: st.DrawFn, kind: Kind, values: st.SearchStrategy[Any] = JSON_VALUES) -> dict[str, Any]:
    """A full body with up to three places changed, taken away or added."""
    body = copy.deepcopy(e.body_json(FULL[kind]))
    for _ in range(draw(st.integers(0, 3))):
        places = _places(body)
        if not places:
            break
        *way, last = draw(st.sampled_from(places))
        inner: Any = body
        for key in way:
            inner = inner[key]
        match draw(st.sampled_from(["change", "take", "add"])):
            case "change":
                inner[last] = copy.deepcopy(draw(values))
            case "take" if isinstance(inner, dict):
                del inner[last]
            case "add" if isinstance(inner, dict):
                inner[draw(PLAIN_TEXT)] = copy.deepcopy(draw(values))
            case _ if isinstance(inner, list):
                inner.append(copy.deepcopy(draw(values)))
    return body


ANY_BODY = st.dictionaries(PLAIN_TEXT, st.one_of(JSON_VALUES, HOSTILE), max_size=6)
