"""The cases of `shared/vectors/rules.json` through the rules: the ruling in the name, the details, the state's hash.

The hashes are regression values of our own; the reasons in the names were reasoned by hand. The tablet's twin is held
to the same file.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from app.domain.canonical import canonical, digest, plain
from app.domain.case import Reason
from app.domain.entry import Heard, Kind, entry_from
from app.domain.packet import packet_from
from app.domain.sheet import sheet_from
from tests.builders import ROOT, the_rules

FILE: dict[str, Any] = json.loads((ROOT / "shared" / "vectors" / "rules.json").read_text(encoding="utf-8"))
CASES: list[dict[str, Any]] = FILE["cases"]
PACKETS = {key: packet_from(data) for key, data in FILE["packets"].items()}
RULES = the_rules()


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_a_case_is_ruled_on_as_its_name_says(case: dict[str, Any]):
    sheet = sheet_from(case["before"], PACKETS.get(case["before"]["packet_hash"]))
    heard = Heard(
        **{**case["heard"], "entry": entry_from(case["heard"]["entry"]), "roles": tuple(case["heard"]["roles"])}
    )

    ruling = RULES.decide(sheet, heard)
    after = RULES.evolve(sheet, heard, ruling)

    assert (ruling.reason or "accepted") == case["name"].rpartition(" -> ")[2]
    assert canonical(sheet.as_json()) == canonical(case["before"])
    assert plain(ruling) == case["ruling"]
    assert after.hash == case["hash"]


def test_there_are_cases_enough_with_a_name_each():
    names = [case["name"] for case in CASES]

    assert len(names) >= 200
    assert len(set(names)) == len(names)


def test_every_kind_and_every_reason_has_a_case():
    kinds = {case["heard"]["entry"]["kind"] for case in CASES}
    reasons = {case["ruling"]["reason"] for case in CASES}

    assert set(Kind) <= kinds
    assert set(Reason) <= reasons


def test_the_packets_are_filed_under_their_hashes():
    assert {key: digest(data) for key, data in FILE["packets"].items()} == {key: key for key in FILE["packets"]}
    assert {key: packet.hash for key, packet in PACKETS.items()} == {key: key for key in FILE["packets"]}
