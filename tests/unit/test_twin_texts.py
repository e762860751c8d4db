"""What the tablet says by itself against what the office says: the same sentences, words, dates and times of day.

The tablet carries a part of the office's sentences; whatever its own scripts can say has to be in that part.
"""

from __future__ import annotations

import ast
import json
import re
import string
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app import texts
from app.domain.case import Reason
from app.domain.dates import MONTHS, date_words, time_words
from app.domain.problems import Problem
from app.texts import FILLED, SENTENCES, TABLET_CODES, TABLET_WORDS, VARIANTS, WORDS, say, say_ruling, sentence, word
from tests.builders import ROOT
from tests.js_engine import TABLET, Engine

TABLE = texts.table()
CARRIED: dict[str, str] = TABLE["sentences"]
MANY = settings(max_examples=400, deadline=None)

# What the office says from the sources that have a twin, or that a tablet's page is made of.
TWINNED = (
    *(ROOT / "app" / "domain").glob("view*.py"),
    ROOT / "app" / "domain" / "reply.py",
    ROOT / "app" / "use_cases" / "make_entry.py",
    ROOT / "app" / "use_cases" / "record_sheet_form.py",
    ROOT / "app" / "use_cases" / "typed_amount.py",
    ROOT / "app" / "web" / "tablet" / "sheet.py",
)


@lru_cache(maxsize=1)
def the_script() -> Engine:
    engine = Engine("texts.js", "dates.js")
    engine.run(
        "globalThis.dateWords = (day) => modules['dates.js'].dateWords(day, texts.word);"
        "globalThis.timeWords = (at, now, zone) => modules['dates.js'].timeWords(at, now, zone, texts.word);"
    )
    engine.run(f"globalThis.texts = modules['texts.js'].textsOf(JSON.parse({json.dumps(json.dumps(TABLE))}));")
    return engine


def by_tablet(function: str, *arguments: Any) -> Any:
    found = the_script().run(f"JSON.stringify({function}(...JSON.parse({json.dumps(json.dumps(arguments))})))")
    return json.loads(found)


# --- What the tablet carries --------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", sorted(CARRIED))
def test_a_sentence_of_the_tablet_keeps_to_plain_blanks(code: str):
    """`{name}` is all that both ends fill alike: no doubled braces, no format, no attribute, no place."""
    for _, name, form, conversion in string.Formatter().parse(CARRIED[code]):
        assert name is None or re.fullmatch(r"[a-z_]+", name)
        assert not form
        assert conversion is None
    assert "{{" not in CARRIED[code]
    assert "}}" not in CARRIED[code]


def test_every_family_and_group_the_tablet_carries_is_there():
    assert {code.partition(".")[0] for code in CARRIED} == TABLET_CODES
    assert {
        one for one in TABLET_WORDS if not any(key in (one, f"{one}.{key.partition('.')[2]}") for key in WORDS)
    } == set()


@pytest.mark.parametrize("reason", [one.value for one in Reason if one.value])
def test_every_reason_of_a_ruling_is_carried(reason: str):
    assert reason in TABLET_CODES


def texts_in(path: Any) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def said_by_the_office() -> set[str]:
    """Texts in the sources that have a twin which are codes, or the beginning of codes up to a dot."""
    families = {code.partition(".")[0] for code in SENTENCES}
    said = {one for path in TWINNED for one in texts_in(path)}
    return {one for one in said if one in SENTENCES or (one.endswith(".") and one[:-1] in families)}


def said_by_the_tablet() -> set[str]:
    """Texts in the tablet's own scripts that are codes, or the beginning of codes up to a dot."""
    found: set[str] = set()
    for path in TABLET.glob("*.js"):
        text = path.read_text("utf-8")
        found |= {one for one in re.findall(r'"([a-z_]+(?:\.[a-z_0-9]+)?)"', text) if one in SENTENCES}
        found |= {f"{one}." for one in re.findall(r"say\(`([a-z_]+)\.", text)}
        found |= {f"{one}." for one in re.findall(r"sentence\(`([a-z_]+)\.", text)}
    return found


@pytest.mark.parametrize("said", [said_by_the_office, said_by_the_tablet])
def test_the_tablet_carries_every_sentence_its_sheet_can_say(said: Any):
    codes = said()

    assert {"kind_unknown", "amount_beyond", "gate_again.begun", "gate_again.", "wrench_unfit."} <= codes
    # What sends looks for these in the office's answers, and says none of them.
    heard = {
        "seq_gap", "tablet_unknown", "photo_gap", "photo_too_large", "photo_not_whole", "photo_too_many_pixels",
        "photo_says_more",
    }  # fmt: skip
    assert {one for one in codes if one.partition(".")[0] not in TABLET_CODES} <= heard


def test_the_tablet_carries_every_word_its_sheet_can_say():
    asked: set[str] = set()
    for path in TABLET.glob("*.js"):
        text = path.read_text("utf-8")
        asked |= {f"{group}." for group in re.findall(r'wordOf\(scene, "([a-z_]+)", (?!")', text)}
        asked |= {f"{group}.{key}" for group, key in re.findall(r'wordOf\(scene, "([a-z_]+)", "([a-z_]+)"', text)}
    asked |= {f"{group}." for groups in TABLE["filled"].values() for group in groups.values()}
    asked -= {"date.", "packet."}
    carried = {*TABLE["words"], *(f"{key.partition('.')[0]}." for key in TABLE["words"])}

    assert {"support.", "kind.", "signal.", "drawing.star", "role.", "thing."} <= asked
    assert asked - carried == set()


def test_groups_of_words_are_carried_whole():
    groups = {one for one in TABLET_WORDS if "." not in one}
    assert {key for key in WORDS if key.partition(".")[0] in groups} <= set(TABLE["words"])


# --- The same sentences -------------------------------------------------------------------------------------------

ODD = st.one_of(
    st.sampled_from(["", "{name}", "{{", "}", "$&", "$1", "<b>", "“4½”", "\U0001f529", "__proto__", "time", "1"]),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
)
VALUES = st.one_of(ODD, st.integers(-(2**53) + 1, 2**53 - 1))


def blanks_of(code: str) -> list[str]:
    return [name for _, name, _, _ in string.Formatter().parse(SENTENCES[code]) if name]


@MANY
@given(data=st.data(), code=st.sampled_from(sorted(CARRIED)))
def test_a_sentence_with_its_blanks_is_the_same(data: st.DataObject, code: str):
    """With some of its blanks left open, and with details it has no blank for."""
    names = st.sampled_from([*blanks_of(code), "more", "toString", "__proto__"])
    blanks = data.draw(st.dictionaries(names, VALUES, max_size=6))

    assert by_tablet("texts.sentence", code, blanks) == sentence(code, **blanks)


def keys_for(group: str) -> st.SearchStrategy[str]:
    if group == "date":
        return st.sampled_from(["2026-09-30", "2026-13-01", "soon", ""])
    known = [key.partition(".")[2] for key in WORDS if key.startswith(f"{group}.")]
    one = st.sampled_from([*known, " odd_one ", "", "constructor"])
    return st.lists(one, min_size=1, max_size=3).flatmap(
        lambda keys: st.sampled_from([",".join(keys), ", ".join(keys)])
    )


@st.composite
def rulings(draw: st.DrawFn) -> tuple[str, dict[str, str | int]]:
    """A reason with details; what is the matter with it is often one that has a closer sentence."""
    reason = draw(st.sampled_from(sorted({code.partition(".")[0] for code in CARRIED} | {"nobody_knows"})))
    closer = [code.partition(".")[2] for code in CARRIED if code.startswith(f"{reason}.")]
    family = [code for code in CARRIED if code.partition(".")[0] == reason]
    details: dict[str, str | int] = draw(
        st.dictionaries(st.sampled_from([*(name for code in family for name in blanks_of(code)), "more"]), VALUES)
    )
    for name in draw(st.lists(st.sampled_from(VARIANTS), unique=True)):
        details[name] = draw(st.one_of(st.sampled_from([*closer, "none of them"]), st.integers(0, 2)))
    for name, group in FILLED.get(reason, {}).items():
        details[name] = draw(keys_for(group))
    return reason, details


@MANY
@given(ruling=rulings())
@example(ruling=("already_signed", {"name": "Ada", "first": "110", "second": "99", "unequal": 1}))
@example(ruling=("already_signed", {"name": "Ada", "first": "110", "second": "110", "unequal": 0}))
@example(ruling=("wrong_support", {"now": "on_wheels", "wanted": "stands_frame,lift_frame", "why": "moved"}))
@example(ruling=("tool_unfit", {"tag": "W1", "why": "out_of_date", "due": "2026-04-01"}))
def test_a_ruling_is_told_in_the_same_words(ruling: tuple[str, Mapping[str, str | int]]):
    reason, details = ruling

    assert by_tablet("texts.sayRuling", reason, details) == say_ruling(reason, details)
    problem = {"code": reason, "field": "x", "details": details}
    assert by_tablet("texts.say", problem) == say(Problem(reason, "x", details))


@MANY
@given(
    key=st.one_of(st.sampled_from(sorted(TABLE["words"])), st.sampled_from(["a.b.c_d", "plain", "", ".x", "toString"]))
)
def test_a_word_is_the_same(key: str):
    assert by_tablet("texts.word", key) == word(key)


def test_a_code_without_a_sentence_is_named_and_not_hidden():
    assert "never_heard_of" in by_tablet("texts.sentence", "never_heard_of", {})


# --- Dates and times ----------------------------------------------------------------------------------------------


def test_both_ends_know_the_same_months():
    assert [by_tablet("texts.word", f"month.{number}") for number in range(1, 13)] == list(MONTHS)


PARTS = st.one_of(st.integers(0, 99_999_999_999_999_999_999).map(str), st.sampled_from(["", "09", "٣", "²", "-1", "x"]))


@MANY
@given(day=st.one_of(st.dates().map(str), st.lists(PARTS, max_size=4).map("-".join), ODD))
@example(day="2026-01-31")
@example(day="2026-00-10")
@example(day="2026-12-01\n")
def test_a_date_reads_the_same(day: str):
    assert by_tablet("dateWords", day) == date_words(day)


ZONES = ("UTC", "Europe/Helsinki", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "Pacific/Chatham",
         "Pacific/Kiritimati", "Africa/Casablanca", "America/St_Johns", "Asia/Tokyo")  # fmt: skip
INSTANTS = st.integers(946_684_800_000, 1_830_297_600_000)  # 2000 to 2027: what both ends' time zone data agree on


@MANY
@given(now=INSTANTS, data=st.data(), zone=st.sampled_from(ZONES))
def test_a_time_of_day_reads_the_same(now: int, data: st.DataObject, zone: str):
    """Now, within a day of now, about a new year, or any time; in zones with every kind of offset."""
    near = st.integers(-100_000_000, 100_000_000).map(lambda apart: now + apart)
    new_year = st.integers(2001, 2027).flatmap(
        lambda year: st.integers(-80_000_000, 80_000_000).map(
            lambda apart: int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) * 1_000 + apart
        )
    )
    at = data.draw(st.one_of(near, new_year, INSTANTS))

    assert by_tablet("timeWords", at, now, zone) == by_office(at, now, zone)


def by_office(at: int, now: int, zone: str) -> str:
    moments = (datetime.fromtimestamp(one // 1_000, UTC) for one in (at, now))
    return time_words(*moments, ZoneInfo(zone))


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (datetime(2026, 5, 12, 21, 5, tzinfo=UTC), "00:05"),
        (datetime(2026, 5, 12, 20, 59, tzinfo=UTC), "12 May, 23:59"),
        (datetime(2026, 4, 12, 22, 30, tzinfo=UTC), "13 Apr, 01:30"),
        (datetime(2025, 5, 12, 22, 30, tzinfo=UTC), "13 May 2025, 01:30"),
        (datetime(2025, 12, 31, 21, 59, tzinfo=UTC), "31 Dec 2025, 23:59"),
        (datetime(2025, 12, 31, 22, 0, tzinfo=UTC), "1 Jan, 00:00"),
    ],
)
def test_the_shops_midnight_parts_the_days(at: datetime, words: str):
    """Helsinki: three hours ahead of UTC in summer, two in winter (IANA time zone database)."""
    now = datetime(2026, 5, 12, 21, 30, tzinfo=UTC)
    stamps = [int(one.timestamp() * 1_000) for one in (at, now)]

    assert by_office(*stamps, "Europe/Helsinki") == words
    assert by_tablet("timeWords", *stamps, "Europe/Helsinki") == words


def test_a_zone_the_browser_does_not_know_gives_the_tablets_own_time():
    own = the_script().run("new Intl.DateTimeFormat().resolvedOptions().timeZone")
    at = 1_778_600_000_000

    found = by_tablet("timeWords", at, at, "Nowhere/At_all")

    assert found == by_tablet("timeWords", at, at, own)
    assert re.fullmatch(r"\d\d:\d\d", found)
