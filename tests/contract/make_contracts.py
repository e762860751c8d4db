"""Writes `shared/contracts/*.json`: JSON Schema (2020-12) of what tablets and the office send, and of a take-out.

Run `python -m tests.contract.make_contracts` after a change to an entry's, a packet's or a record's form. The shapes
are read off the domain's own types; `test_entry_contract` and `test_take_out` then check them from outside, with a
JSON Schema validator, against what the rules really read and what a take-out really holds.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from app.domain import entry as e
from app.domain import taken_out
from app.domain.canonical import LARGEST_WHOLE
from app.domain.packet import Packet
from app.sync.contact import ContactSent
from tests.builders import ROOT

CONTRACTS = ROOT / "shared" / "contracts"
DIALECT = "https://json-schema.org/draft/2020-12/schema"
WHOLE_NUMBERS = (
    "Numbers are whole and written without a point or exponent, between the bounds given, so that Python and "
    "JavaScript hold the same."
)


def entry_contract() -> dict[str, Any]:
    """The envelope, and a body per kind in `$defs`. What it does not know is not refused: it is kept and set aside."""
    shape = _schema_of(e.Entry)
    definitions: dict[str, Any] = dict(shape.pop("$defs"))
    for body, kind in e._KIND_BY_TYPE.items():
        of_body = _schema_of(body)
        definitions |= of_body.pop("$defs", {})
        definitions[str(kind)] = of_body
    shape["allOf"] = [
        {
            "if": {"properties": {"kind": {"const": str(kind)}, "v": {"const": e.ENTRY_FORM}}},
            "then": {"properties": {"body": {"$ref": f"#/$defs/{kind}"}}},
        }
        for kind in e.Kind
    ]
    about = (
        f"{shape['description']} {WHOLE_NUMBERS} An entry whose kind or form (`v`) is not among these, or whose body "
        "does not fit its kind, is kept whole and set aside as unknown_form; it is never refused for that."
    )
    return {"$schema": DIALECT, "title": "Entry", **shape, "description": about, "$defs": definitions}


def packet_contract() -> dict[str, Any]:
    """A packet, with nothing beside what is listed: a key nobody knows would be lost, so it is not pinned."""
    shape = _closed(_schema_of(Packet))
    shape["description"] = f"{shape['description']} {WHOLE_NUMBERS}"
    return {"$schema": DIALECT, "title": "Packet", **shape}


def contact_contract() -> dict[str, Any]:
    """What a tablet says at a contact. Keys beyond these are left alone."""
    shape = _schema_of(ContactSent)
    for member in shape["properties"].values():
        if "patternProperties" in member:
            member["additionalProperties"] = False
    shape["description"] = f"{shape['description']} See sync.md. {WHOLE_NUMBERS}"
    return {"$schema": DIALECT, "title": "Contact", **shape}


def take_out_contract() -> dict[str, Any]:
    """The manifest of a take-out, and in `$defs`, by the file's name, what each line of each file is."""
    shape = _written_whole(_schema_of(taken_out.Manifest))
    definitions: dict[str, Any] = dict(shape.pop("$defs"))
    for path, kind in taken_out.lines_in().items():
        of_line = _written_whole(_schema_of(kind))
        definitions |= of_line.pop("$defs", {})
        definitions[path] = of_line
    definitions[taken_out.PACKETS]["properties"]["packet"] = {"$ref": "packet.schema.json"}
    secret = definitions[taken_out.records_path("tablets")]["properties"]["secret_hash"]
    secret |= {"const": "", "description": "Stays behind: the tablet is enrolled again."}
    return {"$schema": DIALECT, "title": "Take-out", **shape, "$defs": dict(sorted(definitions.items()))}


def _written_whole(node: Any) -> Any:
    """Objects have all their keys and no others, whatever they are left at when somebody types one."""
    closed = _closed(node)
    for one in (closed, *closed.get("$defs", {}).values()):
        if "properties" in one:
            one["required"] = list(one["properties"])
    return closed


def _schema_of(shape: Any) -> dict[str, Any]:
    found: dict[str, Any] = _untitled(TypeAdapter(shape).json_schema())
    return found


def _untitled(node: Any) -> Any:
    """Without the titles made from field names, and with the plain words of docstrings on one line."""
    if isinstance(node, list):
        return [_untitled(one) for one in node]
    if not isinstance(node, dict):
        return node
    if "properties" in node:
        node = {**node, "properties": {key: _untitled(one) for key, one in node["properties"].items()}}
    kept = {
        key: one if key == "properties" else _untitled(one)
        for key, one in node.items()
        if not (key == "title" and isinstance(one, str))
    }
    if isinstance(kept.get("description"), str):
        kept["description"] = " ".join(kept["description"].split())
    return kept


def _closed(node: Any) -> Any:
    """Objects take no further keys, whole numbers get the bounds both ends share."""
    if isinstance(node, list):
        return [_closed(one) for one in node]
    if not isinstance(node, dict):
        return node
    closed = {key: _closed(one) for key, one in node.items()}
    if closed.get("type") == "integer":
        closed = {"minimum": -LARGEST_WHOLE, "maximum": LARGEST_WHOLE, **closed}
    if "properties" in closed and isinstance(closed["properties"], dict) and closed.get("type") == "object":
        closed["additionalProperties"] = False
    return closed


FILES = {
    "contact.schema.json": contact_contract,
    "entry.schema.json": entry_contract,
    "packet.schema.json": packet_contract,
    "take_out.schema.json": take_out_contract,
}


def text_of(contract: dict[str, Any]) -> str:
    return json.dumps(contract, indent=2, ensure_ascii=False) + "\n"


def write(folder: Path = CONTRACTS) -> None:
    for name, make in FILES.items():
        (folder / name).write_text(text_of(make()), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write()
