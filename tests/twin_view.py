"""The view of a sheet at both ends, side by side.

The voice of these tests is made up, the same at both ends: a sentence is its reason with all its details, so that
whatever the view hands to it is compared too. Ids are counted. With `house` it is the house's own, from the table that
a tablet has.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from functools import lru_cache
from itertools import count
from typing import Any

from app import texts
from app.domain.canonical import canonical
from app.domain.packet import Packet
from app.domain.pictures import pictures_for
from app.domain.view import view_of
from app.domain.view_parts import Scene, Voice
from tests.builders import ROOT, RULES_FILE
from tests.js_engine import Engine

_DRIVER = """
const { canonical, parse } = modules["canonical.js"];
const { packetFrom } = modules["packet.js"];
const units = new modules["units.js"].Units(JSON.parse(%s));
const table = JSON.parse(%s);
const texts = modules["texts.js"].textsOf(JSON.parse(%s));
const packets = new Map();
globalThis.bring = (hash, text) => {
  if (packets.size >= 50) packets.delete(packets.keys().next().value);
  const { packet, pictures } = parse(text);
  packets.set(hash, { packet: packetFrom(packet), pictures });
};
globalThis.has = (hash) => packets.has(hash);
const sceneOf = (text) => {
  const { state, house, ...given } = parse(text);
  const kept = packets.get(state.packet_hash + (house ? " in the house's words" : ""));
  const { packet, pictures } = kept ?? { packet: null, pictures: null };
  let drawn = 0;
  return {
    ...given,
    sheet: modules["sheet.js"].sheetFrom(state, packet),
    table,
    units,
    pictures,
    waiting: new Set(given.waiting),
    voice: {
      say: house ? texts.sayRuling : (reason, details) => `${reason} ${canonical(details)}`,
      word: house ? texts.word : (key) => `«${key}»`,
      when: (atMs) => `t${atMs}`,
      newId: () => `id-${(drawn += 1)}`,
    },
  };
};
globalThis.viewWithoutPictures = (text) =>
  canonical(modules["view.js"].viewOf({ ...sceneOf(text), pictures: null }));
globalThis.findingsFrom = (text) => {
  const [step, readings] = parse(text);
  const { findingText, findings } = modules["findings.js"];
  return canonical(findings(step, readings).map((one) => [
    one.key, String(one.value), findingText(units, one), one.madeFrom,
  ]));
};
globalThis.viewFrom = (text) => canonical(modules["view.js"].viewOf(sceneOf(text)));
"""


def say(reason: str, details: Mapping[str, str | int]) -> str:
    return f"{reason} {canonical(dict(details)).decode()}"


def word(key: str) -> str:
    return f"«{key}»"


def spoken(scene: Scene, *, house: bool = False) -> Scene:
    """The scene with the voice of these tests, its ids counted from the first."""
    ids = count(1)
    speaks = (texts.say_ruling, texts.word) if house else (say, word)
    return replace(scene, voice=Voice(*speaks, lambda at_ms: f"t{at_ms}", lambda: f"id-{next(ids)}"))


@lru_cache(maxsize=1)
def the_script() -> Engine:
    engine = Engine("view.js", "texts.js")
    units = (ROOT / "shared" / "units.json").read_text(encoding="utf-8")
    tables = (units, RULES_FILE.read_text(encoding="utf-8"), json.dumps(texts.table()))
    engine.run(f"{{ {_DRIVER % tuple(map(json.dumps, tables))} }}")
    return engine


def by_python(scene: Scene, *, house: bool = False) -> str:
    return canonical(view_of(spoken(scene, house=house))).decode()


def by_script(scene: Scene, *, pictures: bool = True, house: bool = False) -> str:
    """The view as the tablet builds it. The sheet's keys are sorted on the way, as those of a stored one are."""
    packet = scene.sheet.packet
    engine = the_script()
    if packet is not None:
        # Pictures come with their words in them, so that each voice has its own.
        kept_as = json.dumps(packet.hash + (" in the house's words" if house else ""))
        if not engine.run(f"has({kept_as})"):
            brought = {"packet": packet.as_json(), "pictures": pictures_of(packet, house=house)}
            engine.run(f"bring({kept_as}, {literal(brought)})")
    builds = "viewFrom" if pictures else "viewWithoutPictures"
    found: str = engine.run(f"{builds}({literal({**scene_json(scene), 'house': house})})")
    return found


def pictures_of(packet: Packet, *, house: bool = False) -> dict[str, Any]:
    speaks = texts.word if house else word
    return pictures_for(packet, lambda group, key: speaks(f"{group}.{key}"))


def scene_json(scene: Scene) -> dict[str, Any]:
    """What of a scene is plain."""
    return {
        "state": scene.sheet.as_json(),
        "viewer": asdict(scene.viewer),
        "now_ms": scene.now_ms,
        "about": asdict(scene.about),
        "look": asdict(scene.look),
        "told": {**asdict(scene.told), "typed": dict(scene.told.typed), "troubles": dict(scene.told.troubles)},
        "waiting": sorted(scene.waiting),
    }


def literal(value: Any) -> str:
    """A script's literal of the canonical JSON of a value."""
    return json.dumps(json.dumps(value, sort_keys=True))
