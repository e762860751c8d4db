"""The rules at both ends, side by side: whatever is heard goes through Python and through the tablet's script.

The script keeps its own sheet from entry to entry, as a tablet does, so that nothing is put right by what crosses over:
only what was heard goes in, and the ruling and the canonical state come out to be compared.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, fields
from functools import lru_cache
from itertools import count
from typing import Any

from app.domain.canonical import canonical
from app.domain.case import Ruling
from app.domain.entry import Entry, Heard
from app.domain.sheet import Sheet
from tests.builders import RULES_FILE, Play
from tests.js_engine import Engine

_DRIVER = """
const { canonical, parse } = modules["canonical.js"];
const { emptySheet, sheetFrom, stateOf } = modules["sheet.js"];
const { entryFrom, readBody } = modules["entry.js"];
const { packetFrom } = modules["packet.js"];
const rules = new modules["rules.js"].Rules(JSON.parse(%s));
const sheets = new Map();
const readHeard = (text) => {
  const heard = parse(text);
  return { ...heard, entry: entryFrom(heard.entry) };
};
globalThis.begin = (key, job) => {
  // The oldest is forgotten here and not when Python lets go of it: its collector may come by while the engine is busy.
  if (sheets.size >= 50) sheets.delete(sheets.keys().next().value);
  sheets.set(key, emptySheet(job));
};
globalThis.goOnFrom = (key, text) => {
  const { state, packet } = parse(text);
  sheets.set(key, sheetFrom(state, packet === null ? null : packetFrom(packet)));
};
globalThis.hear = (key, text) => {
  const heard = readHeard(text);
  const ruling = rules.decide(sheets.get(key), heard);
  sheets.set(key, rules.evolve(sheets.get(key), heard, ruling));
  return canonical({ ruling, state: stateOf(sheets.get(key)) });
};
globalThis.hashOf = (key) => modules["sheet.js"].hashOf(sheets.get(key));
globalThis.bodyOf = (text) => canonical(readBody(readHeard(text).entry));
"""


@lru_cache(maxsize=1)
def the_script() -> Engine:
    """One engine for all tests: starting one takes longer than many histories."""
    engine = Engine("rules.js")
    engine.run(f"{{ {_DRIVER % json.dumps(RULES_FILE.read_text(encoding='utf-8'))} }}")
    return engine


_numbers = count(1)


@dataclass
class Tablet:
    """A sheet as the script has it."""

    job: str
    key: int = field(default_factory=lambda: next(_numbers))

    def __post_init__(self) -> None:
        the_script().run(f"begin({self.key}, {json.dumps(self.job)})")

    def goes_on_from(self, sheet: Sheet) -> None:
        given = {"state": sheet.as_json(), "packet": sheet.packet.as_json() if sheet.packet else None}
        the_script().run(f"goOnFrom({self.key}, {_literal(given)})")

    def hears(self, heard: Heard) -> str:
        """Rule, go on, and give the ruling and the state in canonical form."""
        found: str = the_script().run(f"hear({self.key}, {_literal(heard_json(heard))})")
        return found

    def hash(self) -> str:
        found: str = the_script().run(f"hashOf({self.key})")
        return found


def body_by_script(heard: Heard) -> str:
    """The body as the script reads it, in canonical form; "null" where it does not know the form."""
    found: str = the_script().run(f"bodyOf({_literal(heard_json(heard))})")
    return found


def heard_json(heard: Heard) -> dict[str, Any]:
    """What was heard as plain JSON, its body exactly as it came."""
    entry = {one.name: getattr(heard.entry, one.name) for one in fields(Entry)}
    entry["basis"] = asdict(heard.entry.basis)
    return {
        "entry": entry,
        "order": heard.order,
        "heard_at_ms": heard.heard_at_ms,
        "name": heard.name,
        "roles": list(heard.roles),
    }


def _literal(value: Any) -> str:
    """A script's literal of the JSON text of a value. Half a surrogate pair is escaped, as JSON has it on the way."""
    return json.dumps(json.dumps(value))


def by_python(ruling: Ruling, sheet: Sheet) -> str:
    return canonical({"ruling": ruling, "state": sheet.as_json()}).decode()


@dataclass
class TwinPlay(Play):
    """A play in which the tablet hears everything too, and has to say and hold the same after every entry."""

    def __post_init__(self) -> None:
        self.tablet = Tablet(self.sheet.job)
        super().__post_init__()

    def hears(self, one: Heard) -> Ruling:
        ruling = super().hears(one)
        assert self.tablet.hears(one) == by_python(ruling, self.sheet), f"{one.entry.kind}: the two ends differ"
        return ruling
