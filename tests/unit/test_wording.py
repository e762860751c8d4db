"""Procedures in the language of who reads them: nothing missing, nothing changed on the way, the same at both ends."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache, partial
from typing import Any

import pytest
from babel import Locale

from app import texts
from app.bootstrap import texts_beside
from app.domain.canonical import canonical
from app.domain.compiling import compile_packet
from app.domain.dates import MONTHS, date_words
from app.domain.packet import Packet
from app.domain.pictures import pictures_for, words_of_pictures
from app.domain.procedure import load_book
from app.domain.records import JobLine, SpringFacts
from app.domain.view import view_of
from app.domain.view_parts import Voice
from app.domain.wording import COMPOSED, PACKET_TEXTS, book_in, packet_in, packet_texts, texts_of
from app.language.catalogue import ENGLISH, LANGUAGES, PROCEDURES
from app.language.gather import complaints, known_in
from app.language.procedures import said, said_as_far, said_in
from app.language.speech import speaking
from app.use_cases.in_language import book_said, packet_said, sheet_said
from app.use_cases.shop_time import DAYS
from tests.builders import ROOT, RULES_FILE, a_packet
from tests.js_engine import Engine
from tests.twin_view import scene_json
from tests.unit.procedure_cast import AXLES, a_vehicle, an_axle, an_order, the_book
from tests.unit.test_compiling_matrix import CHOOSABLE, every_case, result_of

OTHERS = tuple(language for language in LANGUAGES if language != ENGLISH)
in_spanish = partial(said_in, language="es")
LETTERS = re.compile(r"[A-Za-z]{3,}")
# What stands in the packets' texts and is the same in every language: numbers with their units, tags, names.
ALIKE = re.compile(r"[\d.,]+ (kg|mm|N|J|min|s)|\d+ CFR .*|TM .*|No|Total")


# --- The catalogue ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_of_every_file_has_a_translation_with_its_blanks_and_numbers(language: str) -> None:
    assert complaints(texts_of(the_book()), known_in(language, PROCEDURES)) == []


def test_what_is_wrong_between_texts_and_a_catalogue_is_told() -> None:
    known = {
        "Take the wheel off.": "Quite la rueda.",
        "Wait {minutes} minutes.": "Espere {horas} minutos.",
        "Wait 10 minutes after.": "Espere 15 minutos.",
        "Chain the coil to the lower arm": "Encadene el muelle al brazo inferior",
        "Nobody says it now": "Nadie lo dice ya",
        "Empty": "",
    }
    found = [
        "Take the wheel off.", "Wait {minutes} minutes.", "Wait 10 minutes after.", "Chain the coil to the upper arm",
        "Empty", "A new one.",
    ]  # fmt: skip
    assert complaints(found, known) == [
        "'Chain the coil to the upper arm' was changed from 'Chain the coil to the lower arm'",
        "'Empty' has no translation",
        "'A new one.' has no translation",
        "'Chain the coil to the lower arm' is said nowhere any more",
        "'Nobody says it now' is said nowhere any more",
        "'Wait {minutes} minutes.' has other blanks than its translation",
        "'Wait 10 minutes after.' has other numbers than its translation",
    ]


def test_the_texts_of_the_files_are_gathered_with_where_they_stand() -> None:
    found = texts_of(the_book())
    assert found["Ball joint, {joint_position_word}, {corner_word}"] == {"shared/procedures/ball_joint.yaml"}
    assert found["Stands under the vehicle"] == {"shared/gates.yaml"}
    assert found["Long and short arms, coil on the lower arm"] == {"shared/layouts.yaml"}
    assert "shared/procedures/ball_joint.yaml" in found["lower"]
    # A text that is nothing but a blank is its layout's own; a source is cited in every language alike.
    assert not {"{arm_stand_words}", "29 CFR 1910.252(a)(2)(iii)"} & found.keys()
    assert set(COMPOSED) <= found.keys()


# --- What is said -----------------------------------------------------------------------------------------------------


def test_a_text_with_its_blanks_filled_is_said_with_them_in_words() -> None:
    assert said_in("Ball joint, lower, front left", "es") == "Rótula, inferior, delantera izquierda"
    assert said_in("at least 3 mm and at most 5 mm", "es") == "como mínimo 3 mm y como máximo 5 mm"
    assert said_in("ST-1 (until 30 Sep 2026)", "es") == "ST-1 (hasta el 30 sep 2026)"
    told = said_in("Away with it. In the crib these would do: ST-1 (until 1 Jan 2027), ST-2.", "es")
    assert told == "Away with it. Del pañol servirían: ST-1 (hasta el 1 ene 2027), ST-2."


def test_a_text_is_said_whole_or_not_at_all() -> None:
    """A pattern is no match for words it does not know: half a sentence in each language could be misread."""
    assert said_in("Shock absorber, upper eye bolt, rear left", "es").startswith("Amortiguador, ")
    assert "upper" not in said_in("Shock absorber, upper eye bolt, rear left", "es")
    assert said_in("Strut, something of another release", "es") == "Strut, something of another release"
    assert said_in("Hold it under the arms, then lower it {x}", "es") == "Hold it under the arms, then lower it {x}"


def test_a_reminder_is_said_as_far_as_it_is_a_procedures() -> None:
    with speaking("es"):
        told = said_as_far("Joint noise, left: Creaks or squeaks, Creaks at full lock, no play felt yet")
        assert told.endswith(", Creaks at full lock, no play felt yet")
        assert "Joint noise" not in told
        assert said_as_far("Typed by hand: and more") == "Typed by hand: and more"
    assert said_as_far("Joint noise, left: x") == "Joint noise, left: x"


@pytest.mark.parametrize(
    "text", ["", "A text of an old packet", "Mira Okonjo", "120 N·m", "{x}", "to the wall, with a nail", "a and b"]
)
def test_a_text_that_nobody_knows_any_more_is_shown_as_it_is(text: str) -> None:
    assert said_in(text, "es") == text
    assert said_in(text, "xx") == text


def test_in_english_every_text_is_its_own() -> None:
    with speaking("en"):
        assert said("Ball joint, lower, front left") == "Ball joint, lower, front left"
        packet = a_packet()
        assert packet_said(packet) is packet
        assert book_said(the_book()) is the_book()
    with speaking("es"):
        assert said("Ball joint, lower, front left") == "Rótula, inferior, delantera izquierda"


# --- Packets ----------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def packets() -> list[tuple[str, Packet]]:
    """One of each procedure on every axle that it is for, with each way it can be chosen; then the whole vehicle."""
    made = []
    for key in CHOOSABLE:
        for layout, place in AXLES:
            seen = set()
            for facts, options, axle in every_case(key, layout, place):
                if str(options) in seen:
                    continue
                seen.add(str(options))
                packet = result_of(key, layout, place, facts, options, axle)
                if isinstance(packet, Packet):
                    made.append((f"{key} {layout} {place} {options}", packet))
    # What a gate says where nobody has noted any figure of the vehicle.
    bare = a_vehicle(
        an_axle(mass_g=None, spring=SpringFacts()), an_axle(spring=SpringFacts()), wheelbase_um=None, high_voltage=True
    )
    for _, options, axle in list(every_case("coil_spring", "wishbone_lower_coil", ""))[:1]:
        line = JobLine("work", "coil_spring", axle, "left", tuple(options.items()))
        packet = compile_packet(the_book(), an_order(line, vehicle=bare))
        assert isinstance(packet, Packet), packet
        made.append(("without figures", packet))
    return made


def texts_in(value: Any, name: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield name, value
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from texts_in(one, key)
    elif isinstance(value, list):
        for one in value:
            yield from texts_in(one, name)


def test_nothing_of_any_packet_is_left_in_english() -> None:
    left: dict[str, str] = {}
    numbers = re.compile(r"\d+")
    for label, packet in packets():
        for name, text in texts_in(packet.as_json()):
            if name not in PACKET_TEXTS or ALIKE.fullmatch(text) or not LETTERS.search(text):
                continue
            words = said_in(text, "es")
            if words == text:
                left.setdefault(f"{name}: {text}", label)
            assert sorted(numbers.findall(words)) == sorted(numbers.findall(text)), text
            assert "{" not in words
    assert left == {}


def test_a_packet_said_keeps_its_hash_and_everything_that_is_no_text() -> None:
    for _, packet in packets()[::40]:
        with speaking("es"):
            made = packet_said(packet)
            assert made.hash == packet.hash
        assert made != packet
        before, after = list(texts_in(packet.as_json())), list(texts_in(made.as_json()))
        assert [one for one in before if one[0] not in PACKET_TEXTS] == [
            one for one in after if one[0] not in PACKET_TEXTS
        ]
        assert replace(made, lines=(), steps=(), gates=()) == replace(packet, lines=(), steps=(), gates=())


def test_a_packets_table_says_it_whole() -> None:
    for _, packet in packets()[::40]:
        table = packet_texts(packet, in_spanish)
        assert packet_in(packet, lambda text, table=table: table.get(text, text)) == packet_in(packet, in_spanish)
        assert all(one != other for one, other in table.items())


def test_the_book_said_has_the_same_keys_and_conditions() -> None:
    with speaking("es"):
        book = book_said(the_book())
    assert book.procedures["ball_joint"].title == "Rótula, {joint_position_word}, {corner_word}"
    assert book.procedures["ball_joint"].options["joint_position"].choices["lower"] == "inferior"
    assert book_in(book, lambda text: text) == book
    for key, procedure in the_book().procedures.items():
        said_one = book.procedures[key]
        assert [one.key for one in said_one.steps] == [one.key for one in procedure.steps]
        assert [one.when for one in said_one.steps] == [one.when for one in procedure.steps]
        assert [one.when for one in said_one.refuse] == [one.when for one in procedure.refuse]
    assert load_book(ROOT / "shared").digests == book.digests


# --- Both ends --------------------------------------------------------------------------------------------------------

_DRIVER = """
const { canonical, parse } = modules["canonical.js"];
const { packetFrom, indexOf } = modules["packet.js"];
const { packetIn, picturesIn } = modules["wording.js"];
const units = new modules["units.js"].Units(JSON.parse(%s));
const table = JSON.parse(%s);
globalThis.packetSaid = (packet, said) => {
  const made = packetIn(packetFrom(parse(packet)), { mark: "es", packet: parse(said), pictures: {} });
  return canonical({ packet: made, hash: indexOf(made).hash });
};
globalThis.viewSaid = (text) => {
  const { state, packet, beside, words, pictures, ...given } = parse(text);
  const texts = modules["texts.js"].textsOf(words).of(beside.packet);
  let drawn = 0;
  return canonical(modules["view.js"].viewOf({
    ...given, table, units,
    sheet: modules["sheet.js"].sheetFrom(state, packetIn(packetFrom(packet), { mark: "es", ...beside })),
    waiting: new Set(given.waiting),
    pictures: picturesIn(pictures, { mark: "es", ...beside }),
    voice: { say: texts.sayRuling, word: texts.word, when: (atMs) => `t${atMs}`, newId: () => `id-${(drawn += 1)}` },
  }));
};
"""


@lru_cache(maxsize=1)
def the_script() -> Engine:
    engine = Engine("view.js", "texts.js", "wording.js")
    units = (ROOT / "shared" / "units.json").read_text(encoding="utf-8")
    engine.run(f"{{ {_DRIVER % (json.dumps(units), json.dumps(RULES_FILE.read_text('utf-8')))} }}")
    return engine


def literal(value: Any) -> str:
    return json.dumps(json.dumps(value, sort_keys=True))


def test_a_tablet_says_a_packet_as_the_office_does() -> None:
    for label, packet in packets()[::25]:
        beside = texts_beside(packet, "es")
        with speaking("es"):
            office = {"packet": packet_said(packet).as_json(), "hash": packet.hash}
        found = the_script().run(f"packetSaid({literal(packet.as_json())}, {literal(beside['packet'])})")
        assert found == canonical(office).decode(), label


def test_the_sheet_in_spanish_is_the_same_at_both_ends() -> None:
    """Every state of the invented workshop, as a Spanish reader has it at the office and on a tablet."""
    from tests.unit.test_twin_view import sheets_shown

    with speaking("es"):
        words = texts.table()
    brought: dict[str, tuple[Any, Any]] = {}
    for where, scene in sheets_shown()[::7]:
        packet = scene.sheet.packet
        if packet is None:
            continue
        with speaking("en"):
            beside, pictures = brought.setdefault(
                packet.hash,
                (texts_beside(packet, "es"), pictures_for(packet, lambda group, key: texts.word(f"{group}.{key}"))),
            )
        ids = iter(range(1, 10_000))
        with speaking("es"):
            voice = Voice(texts.say_ruling, texts.word, lambda at_ms: f"t{at_ms}", lambda ids=ids: f"id-{next(ids)}")
            office = canonical(view_of(replace(scene, sheet=sheet_said(scene.sheet), voice=voice))).decode()
        plain = {
            **scene_json(scene), "packet": packet.as_json(), "beside": beside, "words": words, "pictures": pictures,
        }  # fmt: skip
        assert the_script().run(f"viewSaid({literal(plain)})") == office, where


def test_pictures_say_one_thing_for_each_english_word() -> None:
    """A drawing's words are looked up by the English: nothing may be two things there."""
    for _, packet in packets()[::10]:
        made = {}
        for language in LANGUAGES:
            with speaking(language):
                made[language] = pictures_for(packet, lambda group, key: texts.word(f"{group}.{key}"))
        table = words_of_pictures(made["en"], made["es"])
        assert table
        assert words_of_pictures(told(made["en"], table), made["es"]) == {}


# Where a picture's words stand, as in the tablet's script.
WORDED = {"parts", "words", "side", "bears", "path_words", "joint_words", "spring_words"}


def told(value: Any, table: Mapping[str, str], name: str = "") -> Any:
    if isinstance(value, str):
        return table.get(value, value) if name in WORDED else value
    if isinstance(value, dict):
        return {key: told(one, table, key) for key, one in value.items()}
    return [told(one, table, name) for one in value] if isinstance(value, (list, tuple)) else value


# --- Months and weekdays ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_months_and_weekdays_are_those_of_the_language(language: str) -> None:
    """Against CLDR's abbreviated names, as Babel has them; an abbreviation may be shorter there, never another word."""
    locale = Locale.parse(language)
    with speaking(language):
        months = [texts.word(f"month.{number}") for number in range(1, 13)]
        days = [texts._(day) for day in DAYS]
    for ours, theirs in zip(months, (locale.months["format"]["abbreviated"][one] for one in range(1, 13)), strict=True):
        assert theirs.strip(".").startswith(ours), (ours, theirs)
    for ours, theirs in zip(days, (locale.days["format"]["abbreviated"][one] for one in range(7)), strict=True):
        assert theirs.strip(".").startswith(ours), (ours, theirs)


def test_a_date_is_in_words_of_who_reads_it_and_pinned_ones_are_english() -> None:
    with speaking("es"):
        assert date_words("2026-01-30", texts.word) == "30 ene 2026"
        assert texts.say_ruling("tool_unfit", {"tag": "TW-1", "why": "out_of_date", "due": "2026-08-01"}).count(
            "1 ago 2026"
        )
        assert date_words("2026-01-30") == f"30 {MONTHS[0]} 2026"
