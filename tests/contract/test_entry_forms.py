"""Every form an entry was ever sent in is read for ever, at both ends: a tablet may come back after a year in a drawer.

`shared/entry_forms/N.json` holds one entry of each kind as form N was first sent, on a sheet of that day. The files are
never changed; a new form gets a file of its own, and `read_body` a way to read the old one.
"""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any

import pytest

from app.domain.entry import Heard, Kind, body_json, entry_from, read_body
from app.domain.packet import packet_from
from app.domain.sheet import Sheet, sheet_from
from tests.builders import ROOT, the_rules
from tests.twin import Tablet, body_by_script, by_python

FORMS = sorted((ROOT / "shared" / "entry_forms").glob("*.json"))
# What each file was when it was filed.
FILED = {"1.json": "105a90d281994423cb708eb5c74ca4efbc8a771f0a77be5be137d274286ad266"}
CASES = [
    pytest.param(form["packets"], case, id=f"{path.stem}: {case['heard']['entry']['kind']}")
    for path in FORMS
    for form in [json.loads(path.read_text("utf-8"))]
    for case in form["cases"]
]


def on_its_sheet(packets: dict[str, Any], case: dict[str, Any]) -> tuple[Sheet, Heard]:
    packet = packets.get(case["before"]["packet_hash"])
    entry = entry_from(case["heard"]["entry"])
    heard = Heard(**{**case["heard"], "entry": entry, "roles": tuple(case["heard"]["roles"])})
    return sheet_from(case["before"], packet_from(packet) if packet else None), heard


@pytest.mark.parametrize(("packets", "case"), CASES)
def test_an_old_form_is_read_without_loss_at_both_ends(packets: dict[str, Any], case: dict[str, Any]):
    _, heard = on_its_sheet(packets, case)
    sent = case["heard"]["entry"]["body"]

    for body in (read_body(heard.entry), json.loads(body_by_script(heard))):
        assert body is not None
        read = body if isinstance(body, dict) else body_json(body)
        assert {key: read[key] for key in sent} == sent


@pytest.mark.parametrize(("packets", "case"), CASES)
def test_an_old_form_still_counts_and_both_ends_agree_on_what_it_did(packets: dict[str, Any], case: dict[str, Any]):
    sheet, heard = on_its_sheet(packets, case)
    rules, tablet = the_rules(), Tablet(sheet.job)
    tablet.goes_on_from(sheet)

    ruling = rules.decide(sheet, heard)

    assert (ruling.accepted, ruling.reason) == (True, "")
    assert tablet.hears(heard) == by_python(ruling, rules.evolve(sheet, heard, ruling))


def test_each_kind_is_filed_in_the_newest_form():
    newest = json.loads(FORMS[-1].read_text("utf-8"))

    assert {case["heard"]["entry"]["kind"] for case in newest["cases"]} == set(Kind)
    assert {case["heard"]["entry"]["v"] for case in newest["cases"]} == {newest["v"]}


def test_what_was_filed_is_what_is_there():
    assert {path.name: sha256(path.read_bytes()).hexdigest() for path in FORMS} == FILED
