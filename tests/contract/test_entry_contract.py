"""`shared/contracts` says what may be sent: checked from outside, by a JSON Schema validator, against what is read."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import ValidationError

from app.domain import entry as e
from app.domain.changes import CHANGES
from app.domain.entry import Kind, entry_from, entry_json, read_body
from app.domain.packet import packet_from
from app.domain.pinning import is_kept
from app.domain.questions import QUESTIONS
from tests.builders import RULES_FILE, a_packet, an_entry, the_rules, whole_job
from tests.contract.make_contracts import CONTRACTS, FILES, text_of
from tests.made_up import FULL, JSON_VALUES, bent_bodies

ENTRY: dict[str, Any] = json.loads((CONTRACTS / "entry.schema.json").read_text(encoding="utf-8"))
PACKET: dict[str, Any] = json.loads((CONTRACTS / "packet.schema.json").read_text(encoding="utf-8"))
ENTRIES = Draft202012Validator(ENTRY)
PACKETS = Draft202012Validator(PACKET)
SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


def body_validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": ENTRY["$defs"]})


@pytest.mark.parametrize("name", list(FILES))
def test_the_contract_on_file_is_the_one_in_force(name: str):
    """After a change of form run `python -m tests.contract.make_contracts`, and mind every tablet out there."""
    assert (CONTRACTS / name).read_text(encoding="utf-8") == text_of(FILES[name]())


def test_the_contracts_are_sound_schemas_without_a_number_that_has_a_point():
    for schema in (ENTRY, PACKET):
        Draft202012Validator.check_schema(schema)
        assert '"type": "number"' not in json.dumps(schema)


def test_every_kind_has_a_body_a_change_a_row_of_questions_and_nothing_else_does():
    table = the_rules().table

    assert {branch["if"]["properties"]["kind"]["const"] for branch in ENTRY["allOf"]} == set(Kind)
    assert set(FULL) == set(CHANGES) == set(table.kinds) == set(Kind)
    assert table.without_packet | table.after_handback <= set(Kind)


def test_every_question_is_asked_and_every_question_asked_is_there():
    table = the_rules().table
    asked = {question for row in table.kinds.values() for question in row.asks} | set(table.always)

    assert asked == set(QUESTIONS)


def test_the_tables_text_limit_is_the_one_in_force():
    data = json.loads(RULES_FILE.read_text(encoding="utf-8"))

    assert data["text_limit"] == e.TEXT_LIMIT


def test_the_tables_cosines_are_cosines():
    """0 to 90 whole degrees in millionths, rounded half even, against Python's own cosine."""
    wanted = [round(math.cos(math.radians(degrees)) * 1_000_000) for degrees in range(91)]

    assert list(the_rules().table.cosine_ppm) == wanted


@pytest.mark.parametrize("kind", list(Kind))
def test_a_full_entry_of_each_kind_meets_the_contract(kind: Kind):
    ENTRIES.validate(entry_json(an_entry(FULL[kind])))


def test_every_entry_of_a_whole_job_meets_the_contract():
    for one, _ in whole_job().history:
        ENTRIES.validate(entry_json(one.entry))


@pytest.mark.parametrize("kind", list(Kind))
@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(data=st.data())
def test_the_contract_and_the_reader_agree_on_every_bent_body(kind: Kind, data: st.DataObject):
    """Neither lets through what the other refuses."""
    body = data.draw(bent_bodies(kind))

    assert body_validator(kind).is_valid(body) is (read_body(an_entry(body, kind=kind)) is not None)


ENVELOPE = entry_json(an_entry(e.NoteAdded(text="Seen")))


@settings(max_examples=200, deadline=None, suppress_health_check=SLOW)
@given(
    key=st.sampled_from([*ENVELOPE, "basis.step_revision", "basis.holds", "basis.packet", "invented"]),
    value=JSON_VALUES.filter(lambda one: not (isinstance(one, str) and one.endswith("\n"))),
    kept=st.booleans(),
)
def test_the_contract_and_the_reader_agree_on_the_envelope(key: str, value: Any, kept: bool):
    """But for text ending in a line break: Python's `$` lets one pass, the reader does not."""
    sent = copy.deepcopy(ENVELOPE)
    inner = sent["basis"] if key.startswith("basis.") else sent
    if kept:
        inner[key.removeprefix("basis.")] = value
    else:
        inner.pop(key.removeprefix("basis."), None)
    try:
        entry_from(sent)
        is_read = True
    except ValidationError:
        is_read = False
    envelope_only = {name: part for name, part in ENTRY.items() if name != "allOf"}

    assert Draft202012Validator(envelope_only).is_valid(sent) is is_read


def test_the_packet_of_the_tests_meets_the_contract():
    PACKETS.validate(a_packet().as_json())


@settings(max_examples=200, deadline=None, suppress_health_check=SLOW)
@given(body=bent_bodies(Kind.PACKET_PINNED))
def test_a_packet_outside_the_contract_is_not_read_without_loss(body: dict[str, Any]):
    """What the contract forbids, `is_kept` finds out, and the other way round."""
    data = body.get("packet")
    try:
        is_read = isinstance(data, dict) and is_kept(data, packet_from(data).as_json())
    except ValueError:
        is_read = False

    assert PACKETS.is_valid(data) is is_read


@pytest.mark.parametrize("name", ["", "two words", "line\n", "Zoë", "x" * 101])
def test_names_that_the_two_ends_would_not_sort_alike_are_refused(name: str):
    with pytest.raises(ValidationError):
        entry_from({**ENVELOPE, "id": name})
