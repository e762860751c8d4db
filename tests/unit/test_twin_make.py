"""What a form becomes on the tablet against what it becomes in the office: the same entries or the same problems, then
the same words on the page, which looks at the same thing next.

Forms are those of the invented workshop's own pages, filled in well, badly, oddly and not at all; and forms made up for
jobs no book would compile. The office asks pint about units outside the table; here it is kept from it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from functools import lru_cache
from itertools import count
from typing import Any

import pytest
from hypothesis import HealthCheck, event, example, given, settings
from hypothesis import strategies as st

from app import texts
from app.domain.canonical import canonical
from app.domain.case import Reason, Ruling
from app.domain.entry import TEXT_LIMIT, Entry, entry_json
from app.domain.packet import Axle, CheckKind, Packet, Support, Verdict
from app.domain.problems import Problem
from app.domain.reply import LOOKED_AT, NEVER_KEPT, Outcome, look_after, told_of
from app.domain.sheet import Sheet
from app.domain.view import view_of
from app.domain.view_parts import Look, Scene
from app.texts import say_ruling
from app.trade import units
from app.trade.quantity import Dimension
from app.trade.units import TABLE_PATH
from app.use_cases.make_entry import _MAKERS, Sent, entries_from
from app.use_cases.typed_amount import EXAMPLES
from app.web.rendering import environment
from demo.examples.states import everything_shown, workshop
from tests import odd_jobs
from tests.builders import ADA, BEN, Play, a_packet, a_wrench, whole_job
from tests.js_engine import Engine
from tests.sheet_forms import PageForm, forms_in
from tests.unit.test_twin_units import typed
from tests.unit.test_view import scene as scene_of_play

NOW_MS = 1_778_600_000_000
ASK_PINT = units._pint_unit
PEOPLE = {ADA.id: ADA.name, BEN.id: BEN.name, "__proto__": "Odd"}

_DRIVER = """{
const { canonical, parse } = modules["canonical.js"];
const { packetFrom } = modules["packet.js"];
const { sheetFrom } = modules["sheet.js"];
const units = new modules["units.js"].Units(JSON.parse(%s));
const texts = modules["texts.js"].textsOf(JSON.parse(%s));
const packets = new Map();
const sheetOf = (state) => sheetFrom(state, packets.get(state.packet_hash) ?? null);
globalThis.has = (hash) => packets.has(hash);
globalThis.bring = (hash, text) => {
  if (packets.size >= 50) packets.delete(packets.keys().next().value);
  packets.set(hash, packetFrom(parse(text)));
};
globalThis.made = (text) => {
  const { state, ...given } = parse(text);
  let drawn = 0;
  const newId = () => `id-${(drawn += 1)}`;
  const { problems, entries } = modules["make_entry.js"].entriesFrom({ ...given, sheet: sheetOf(state), units, newId });
  const bodies = entries.map((one) => modules["entry.js"].readBody(one));
  return canonical({ problems, entries, bodies });
};
globalThis.replied = (text) => {
  const { fields, problems, rulings, state } = parse(text);
  const { lookAfter, toldOf } = modules["reply.js"];
  return canonical({
    look: lookAfter(fields, problems, rulings, sheetOf(state)),
    told: toldOf(fields, problems, rulings, texts),
  });
};
}"""


@lru_cache(maxsize=1)
def the_script() -> Engine:
    engine = Engine("make_entry.js", "reply.js", "texts.js", "entry.js")
    table = json.dumps(json.dumps(texts.table()))
    engine.run(_DRIVER % (json.dumps(TABLE_PATH.read_text("utf-8")), table))
    return engine


@pytest.fixture(autouse=True, scope="module")
def no_units_outside_the_table() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(units, "_pint_unit", lambda key, dimension: "")
        yield


def literal(value: Any) -> str:
    return json.dumps(json.dumps(value))


def by_tablet(function: str, sheet: Sheet, **given: Any) -> Any:
    if sheet.packet is not None and not the_script().run(f"has({json.dumps(sheet.packet.hash)})"):
        the_script().run(f"bring({json.dumps(sheet.packet.hash)}, {literal(sheet.packet.as_json())})")
    return json.loads(the_script().run(f"{function}({literal({'state': sheet.as_json(), **given})})"))


def plain_problem(one: Problem) -> dict[str, Any]:
    return {"code": one.code, "field": one.field, "details": dict(one.details)}


def made_by_tablet(sheet: Sheet, fields: Mapping[str, str]) -> Any:
    return by_tablet("made", sheet, fields=fields, person=ADA.id, now_ms=NOW_MS, people=PEOPLE)


def made_by_office(sheet: Sheet, fields: Mapping[str, str]) -> Any:
    ids = count(1)
    made = entries_from(Sent(fields, sheet, ADA.id, NOW_MS, PEOPLE, lambda: f"id-{next(ids)}"))
    entries = [one for one in made if isinstance(one, Entry)]
    # As JSON, through the one way to write it: what has no such form would fail here.
    return json.loads(canonical({
        "problems": [plain_problem(one) for one in made if isinstance(one, Problem)],
        "entries": [entry_json(one) for one in entries],
        "bodies": [dict(one.body) for one in entries],
    }))  # fmt: skip


def both_make(sheet: Sheet, fields: Mapping[str, str]) -> Any:
    """What both ends make of a form. Every body it makes is one that the rules can read."""
    here, there = made_by_office(sheet, fields), made_by_tablet(sheet, fields)
    assert there == here
    return here


# --- What is typed into a field ------------------------------------------------------------------------------------

ODD_TEXT = st.one_of(
    st.sampled_from([
        "", " ", "\x85", "\ufeff", "\u3000x\u3000", "yes", "no", "YES", "sound", "watch", "replace", "stands_arm",
        "on_ramp",
        "front", "both", "100", "110 N·m", "81 lbf·ft", "90°", "3 mm", "1 1/16 in", "1,234", "0", "-1", "1e16", "∞",
        "two", "5 parsnips", "½", "W1", "W08", ADA.id, "__proto__", "constructor", "\U0001f529" * 70, "a\nb", "{name}",
    ]),
    typed(),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
)  # fmt: skip
HUGE = st.sampled_from(
    ["x" * TEXT_LIMIT, "x" * (TEXT_LIMIT + 1), "\U0001f529" * TEXT_LIMIT, "\U0001f529" * (TEXT_LIMIT + 1)]
)
IDS = st.one_of(st.uuids().map(str), st.uuids().map(lambda one: f" {str(one).upper()} "), ODD_TEXT)
BASIS = st.one_of(
    st.sampled_from(
        ["", "0", " 7 ", "007", "999999999", "1000000000", "٣", "²", "-1", "1.0", "a b\x1fc", "h\u00a0i ü j"]
    ),
    st.lists(st.text("abc", min_size=1, max_size=2), max_size=1_100).map(" ".join),
    st.text("x", min_size=99, max_size=101),
)


def likely_for(name: str) -> st.SearchStrategy[str]:
    """What a person might put into a field of this name."""
    if name.startswith(("value.", "answer.", "reading.")) or name in ("extension", "angle"):
        return st.one_of(st.integers(0, 400).map(str), typed(), ODD_TEXT)
    if name.startswith("part.") or name == "new_part":
        return st.sampled_from(["yes", "yes", "on", ""])
    if name.startswith("basis_"):
        return BASIS
    return ODD_TEXT


@st.composite
def bent(draw: st.DrawFn, fields: dict[str, str], names: list[str]) -> dict[str, str]:
    """A form with what a person filled in: some of its fields changed, left out, or far too long."""
    filled = dict(fields)
    for name in draw(st.lists(st.sampled_from(names), max_size=6, unique=True)) if names else ():
        how = draw(st.integers(0, 19))
        if how == 0:
            filled.pop(name, None)
        else:
            filled[name] = draw(HUGE if how == 1 else likely_for(name))
    return filled


# --- Forms of real pages -------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def pages() -> list[tuple[Sheet, list[PageForm]]]:
    """States of a sheet with the forms of its page, as a browser would find them: every fourth one of the invented
    workshop, and a whole job as its second person sees it after every entry, wrench in hand.
    """
    template = environment().get_template("tablet/_sheet_view.html")
    scenes = [one.scene for one in everything_shown(workshop()) if one.scene is not None][::4]
    found = [
        (one.sheet, list(forms_in(template.render(view=view_of(one), csrf="")).values()))
        for one in (*scenes, *whole_job_seen_by_the_second())
    ]
    return [(sheet, forms) for sheet, forms in found if forms]


def whole_job_seen_by_the_second() -> Iterator[Scene]:
    played = Play()
    for heard, _ in whole_job().history:
        played.hears(heard)
        played.wait(seconds=1)
        for step in ("stud", "road_test"):
            yield scene_of_play(played, BEN, Look(step, "nut", "W1"))


def as_it_stands(form: PageForm) -> dict[str, str]:
    return {**form.typed, **form.hidden}


def test_the_pages_have_forms_of_every_kind():
    assert set(forms_by_kind()) - {""} == {str(kind) for kind in _MAKERS}


def test_every_form_sent_as_it_stands_becomes_the_same():
    sent = 0
    for sheet, forms in pages()[::3]:
        for form in forms:
            sent += 1
            both_make(sheet, as_it_stands(form))

    assert sent > 500


@settings(max_examples=700, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data(), kind=st.sampled_from(sorted(_MAKERS)))
def test_a_form_of_a_page_becomes_the_same_however_it_is_filled_in(data: st.DataObject, kind: str):
    of_kind = forms_by_kind()[kind]
    sheet, form = of_kind[data.draw(st.integers(0, len(of_kind) - 1))]
    fields = as_it_stands(form)
    careless = data.draw(st.booleans())
    for name in form.shown:
        good = choices_in(sheet, name)
        fields[name] = data.draw(st.one_of(good, likely_for(name)) if careless else good)
    if careless:
        fields = data.draw(bent(fields, [*form.shown, *form.hidden]))

    made = both_make(sheet, fields)

    event(f"{kind}: {'problems' if made['problems'] else 'entries'}")


@lru_cache(maxsize=1)
def forms_by_kind() -> dict[str, list[tuple[Sheet, PageForm]]]:
    found: dict[str, list[tuple[Sheet, PageForm]]] = {}
    for sheet, forms in pages():
        for form in forms:
            found.setdefault(form.hidden.get("kind", ""), []).append((sheet, form))
    return found


def choices_in(sheet: Sheet, name: str) -> st.SearchStrategy[str]:
    """A key that a field of this name offers somewhere on the sheet, for questions with a closed set of answers."""
    packet = sheet.packet
    assert packet is not None
    keys = {"choice": [one.key for step in packet.steps if step.trial is not None for one in step.trial.choices]}
    for gate in packet.gates:
        for check in gate.checks:
            keys[f"answer.{check.id}"] = [one.key for one in check.choices] or ["yes", "no"]
            if check.kind is CheckKind.VALUE:
                keys[f"answer.{check.id}"] = ["12", "1,5", f"1500 {check.unit}"]
    closed = {"verdict": list(Verdict), "state": list(Support), "axle": list(Axle), "to": list(PEOPLE)}
    return st.sampled_from(keys.get(name) or closed.get(name) or ["5", "5", "12.5", "yes"]).map(str)


# --- Forms of jobs no book would compile -----------------------------------------------------------------------------

WORDS = st.sampled_from(["", " Because ", "漢\U0001f527", "\x85"])


@st.composite
def made_up_forms(draw: st.DrawFn, packet: Packet) -> dict[str, str]:
    """A form about something on this packet, or nearly: with names that every object has of its own."""
    step = draw(st.sampled_from(packet.steps))
    gate = draw(st.sampled_from([*packet.gates, None]))
    fields = {
        "kind": draw(st.sampled_from([*(str(kind) for kind in _MAKERS), "handed_back", "toString"])),
        "step": draw(st.sampled_from([step.id, step.id, step.id, "nowhere", "", f" {step.id} "])),
        "gate": gate.id if gate is not None else "valueOf",
        "fastener": draw(st.sampled_from([*(one.id for one in step.fasteners), "no such", ""])),
        "wrench": draw(st.sampled_from([*(one.tag for one in packet.wrenches), "W1", "W9"])),
        "extension": draw(st.sampled_from(["", "", "150", "6 in", "3 m", "0", "-1", "long"])),
        "angle": draw(st.sampled_from(["", "0", "90°", " 45 ° ", "181", "1000", "٣", "-5", "°"])),
        "verdict": draw(st.sampled_from(["sound", "watch", "replace", "fine"])),
        "choice": draw(st.sampled_from(["yes", "no", "tight", "loose", ""])),
        "reason": draw(WORDS),
        "seen": draw(WORDS),
        "text": draw(WORDS),
        "note": draw(WORDS),
        "bears": draw(WORDS),
        "state": draw(st.sampled_from(["on_wheels", "stands_arm", "upside_down"])),
        "axle": draw(st.sampled_from(["front", "both", "", "middle"])),
        "to": draw(st.sampled_from([ADA.id, BEN.id, "__proto__", "toString", ""])),
        "hold": draw(st.sampled_from(["h-1", ""])),
        "new_part": draw(st.sampled_from(["yes", ""])),
        "entry": draw(IDS),
    }
    amounts = st.one_of(st.sampled_from(["", "100", "110 N·m", "81 lbf·ft", "90 °", "3 mm"]), typed())
    fields |= {f"reading.{place}": draw(amounts) for place in range(draw(st.integers(0, 3)))}
    fields |= {f"value.{one.id}": draw(amounts) for one in step.measures}
    fields |= {f"entry.{one.id}": draw(IDS) for one in step.measures}
    fields |= {f"part.{one.id}": draw(st.sampled_from(["yes", ""])) for one in step.one_time}
    for check in gate.checks if gate is not None else ():
        fields[f"answer.{check.id}"] = draw(st.one_of(st.sampled_from(["yes", "no", ""]), amounts, ODD_TEXT))
    names = ["basis_packet", "basis_step", "basis_support", "basis_gate", "basis_holds"]
    return draw(bent(fields, [*fields, *names, *names]))


@settings(max_examples=500, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data(), packet=odd_jobs.odd_packets())
def test_a_form_of_an_odd_job_becomes_the_same(data: st.DataObject, packet: Packet):
    fields = data.draw(made_up_forms(packet))

    made = both_make(Play(packet).sheet, fields)

    kind = fields.get("kind", "")
    event(f"{kind if kind in _MAKERS else 'no kind'}: {'problems' if made['problems'] else 'entries'}")


# --- By hand ---------------------------------------------------------------------------------------------------------


def test_several_values_typed_together_are_an_entry_each():
    sheet = Play(a_packet()).sheet
    step = next(one for one in sheet.packet.steps if one.measures)  # type: ignore[union-attr]
    an_id = "0190a1b2-c3d4-7000-8000-00000000000a"
    fields = {"kind": "reading_taken", "step": step.id, "value.gap": "1 1/16 in", "entry.gap": an_id, "basis_step": "1"}

    made = both_make(sheet, fields)

    assert [one["id"] for one in made["entries"]] == [an_id]
    assert made["bodies"][0]["reading"] == {"value": 26_988, "text": "1 1/16", "unit": "in"}
    assert made["entries"][0]["basis"]["step_revision"] == 1
    assert made["entries"][0]["basis"]["holds"] is None


@pytest.mark.parametrize(
    ("fields", "codes"),
    [
        ({}, [("kind_unknown", "")]),
        ({"kind": "handed_back"}, [("kind_unknown", "")]),
        ({"kind": "note_added", "text": "\u3000"}, [("note_missing", "text")]),
        ({"kind": "hold_placed", "reason": ""}, [("reason_missing", "reason")]),
        ({"kind": "support_changed", "state": "stands_arm"}, [("support_axle_missing", "axle")]),
        ({"kind": "handed_over", "to": "toString"}, [("person_missing", "to")]),
        ({"kind": "signed_off", "step": "stud", "fastener": "nut"}, [("wrench_missing", "wrench")]),
        (
            {"kind": "signed_off", "step": "stud", "fastener": "nut", "wrench": "W1", "reading.0": "81 lbf·ft",
             "extension": "1 mile"},
            [("extension_length", "extension"), ("wrench_unit", "reading.0")],
        ),
        (
            {"kind": "note_added", "z": "x" * 2_001, "a": "\U0001f529" * 2_001, "text": "\U0001f529" * 2_000},
            [("too_long", "a"), ("too_long", "z")],
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_form_is_told_beside_its_fields(fields: dict[str, str], codes: list[tuple[str, str]]):
    made = both_make(Play(a_packet()).sheet, fields)

    assert [(one["code"], one["field"]) for one in made["problems"]] == codes
    assert made["entries"] == []


def test_a_part_that_was_new_before_is_not_asked_for_again():
    play = whole_job()
    sheet = replace(play.sheet, steps={**play.sheet.steps, "fit": replace(play.sheet.steps["fit"], done=None)})

    again = both_make(sheet, {"kind": "step_done", "step": "fit"})
    first = both_make(Play(a_packet()).sheet, {"kind": "step_done", "step": "fit"})

    assert again["bodies"] == [{"step": "fit", "new_parts": []}]
    assert [one["field"] for one in first["problems"]] == ["part.cotter"]


def test_a_basis_names_a_thousand_tags_and_no_more():
    """As the contract of an entry says; what is no name is not counted."""
    tags = [f"h-{number}" for number in range(1_200)]
    fields = {"kind": "note_added", "text": "x", "basis_holds": " ".join(["ünnamed", *tags])}

    made = both_make(Play(a_packet()).sheet, fields)

    assert made["entries"][0]["basis"]["holds"] == tags[:1_000]


@pytest.mark.parametrize(
    ("scale", "typed_text", "problem"),
    [
        ("lbf·ft", "81", None),
        ("lbf·ft", "81 lb-ft", None),
        ("lbf·ft", "110 N·m", "wrench_unit"),
        ("N·m", "110", None),
        ("N·m", "81 lbf·ft", "wrench_unit"),
        ("", "81 lbf·ft", None),
        ("", "81", "amount_unclear"),
    ],
)
def test_a_torque_is_read_in_the_unit_of_the_wrenchs_scale(scale: str, typed_text: str, problem: str | None):
    sheet = Play(a_packet(wrenches=[a_wrench(unit=scale)])).sheet
    fields = {"kind": "signed_off", "step": "stud", "fastener": "nut", "wrench": "W1", "reading.0": typed_text}

    made = both_make(sheet, fields)

    assert [one["code"] for one in made["problems"]] == ([problem] if problem else [])


@pytest.mark.parametrize(("count_of", "told"), [(64, "\U0001f529" * 64), (65, "\U0001f529" * 64 + "…")])
def test_what_was_typed_is_told_up_to_so_many_characters(count_of: int, told: str):
    fields = {"kind": "reading_taken", "step": "fit", "value.gap": "\U0001f529" * count_of}

    made = both_make(Play(a_packet()).sheet, fields)

    assert [one["details"]["typed"] for one in made["problems"]] == [told]


def test_without_a_packet_no_form_is_known():
    made = both_make(Sheet("j-1"), {"kind": "note_added", "text": "Rattles"})

    assert [one["code"] for one in made["problems"]] == ["kind_unknown"]


def test_a_unit_outside_the_table_is_taken_by_the_office_alone():
    """The tablet has no pint: it says so beside the field, and the person types a unit it knows."""
    sheet, fields = Play(a_packet()).sheet, {"kind": "reading_taken", "step": "fit", "value.gap": "0.001 fathom"}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(units, "_pint_unit", ASK_PINT)
        here = made_by_office(sheet, fields)

    there = made_by_tablet(sheet, fields)

    assert [one["reading"]["value"] for one in here["bodies"]] == [1_829]
    assert [(one["code"], one["details"]["why"]) for one in there["problems"]] == [("amount_unclear", "unit_unknown")]


def test_both_ends_give_the_same_examples():
    there = json.loads(the_script().run('JSON.stringify(modules["typed_amount.js"].EXAMPLES)'))

    assert {kind: dict(rows) for kind, rows in there.items()} == {str(kind): dict(of) for kind, of in EXAMPLES.items()}
    assert [rows[0][0] for rows in there.values()] == [next(iter(EXAMPLES[Dimension(kind)])) for kind in there]


# --- What the page says afterwards -----------------------------------------------------------------------------------

FIELD_NAMES = st.sampled_from([
    "sheet_form", "kind", "step", "look", "fastener", "wrench", "extension", "angle", "reading.0", "value.gap",
    "answer.c",
    "part.pin", "new_part", "reason", "__proto__", "text", "readings", "partly", "xvalue.",
])  # fmt: skip
FIELD_TEXTS = st.one_of(
    st.sampled_from(
        ["", "stud", "look", "nowhere", "step_done", "signed_off", "constructor", "\U0001f529" * 201, "x" * 201]
    ),
    ODD_TEXT,
)
DETAILS = st.dictionaries(
    st.sampled_from(["typed", "example", "why", "missing", "unequal", "now", "wanted", "what", "name", "due", "tag"]),
    st.one_of(ODD_TEXT, st.integers(-5, 5), st.sampled_from(["state", "on_wheels", "technician, desk", "2026-04-01"])),
    max_size=5,
)
CODES = st.sampled_from(sorted({code.partition(".")[0] for code in texts.table()["sentences"]}))
PROBLEMS = st.builds(Problem, CODES, st.sampled_from(["", "text", "reading.0", "__proto__"]), DETAILS)
ACCEPTED = Ruling(accepted=True)
RULINGS = st.one_of(
    st.just(ACCEPTED), st.builds(Ruling, st.just(False), st.sampled_from([one for one in Reason if one.value]), DETAILS)
)


def replied_by_office(fields: dict[str, str], outcome: Outcome) -> Any:
    told = asdict(told_of(fields, outcome, say_ruling))
    return json.loads(canonical({"look": asdict(look_after(fields, outcome)), "told": told}))


def both_reply(fields: dict[str, str], outcome: Outcome, sheet: Sheet) -> Any:
    here = replied_by_office(fields, outcome)
    problems = [plain_problem(one) for one in outcome.problems]
    rulings = [asdict(one) for one in outcome.rulings]
    assert by_tablet("replied", sheet, fields=fields, problems=problems, rulings=rulings) == here
    return here


@lru_cache(maxsize=1)
def sheets() -> list[Sheet]:
    return [Play(a_packet()).sheet, whole_job().sheet, Sheet("j-1")]


@settings(max_examples=500, deadline=None)
@given(
    fields=st.dictionaries(FIELD_NAMES, FIELD_TEXTS),
    problems=st.lists(PROBLEMS, max_size=3),
    rulings=st.lists(RULINGS, max_size=3),
    which=st.integers(0, 2),
)
@example(fields={"step": "stud", "kind": "step_done"}, problems=[], rulings=[ACCEPTED], which=1)
@example(fields={"look": "stud"}, problems=[], rulings=[ACCEPTED, ACCEPTED], which=0)
def test_the_page_says_the_same_and_looks_at_the_same(
    fields: dict[str, str], problems: list[Problem], rulings: list[Ruling], which: int
):
    sheet = sheets()[which]
    outcome = Outcome(tuple(problems), () if problems else tuple(rulings), None if problems or not rulings else sheet)

    both_reply(fields, outcome, sheet)


def test_what_was_set_aside_is_kept_but_for_what_belonged_to_that_moment():
    fields = {"sheet_form": "sign-nut", "step": "stud", "fastener": "nut", "wrench": "W1", "reading.0": "150",
              "new_part": "yes", "reason": "As seen"}  # fmt: skip
    aside = Ruling(accepted=False, reason=Reason.HANDED_BACK, details={"name": "Ada"})

    reply = both_reply(fields, Outcome(rulings=(aside,), sheet=sheets()[0]), sheets()[0])

    assert set(reply["told"]["typed"]) == {"sheet_form", "step", "fastener", "wrench", "reason"}
    look = {"step": "stud", "fastener": "nut", "wrench": "W1", "extension": "", "angle": "", "seen": ""}
    assert reply["look"] == look
    assert reply["told"]["lines"] == [["", "Ada has handed this job back. Open a new job for further work."]]


def test_a_step_just_closed_gives_way_and_one_that_is_open_stays():
    done, open_one = sheets()[1], sheets()[0]
    recorded = {"kind": "step_done", "step": "stud"}

    gone = both_reply(recorded, Outcome(rulings=(ACCEPTED,), sheet=done), done)
    stays = both_reply(recorded, Outcome(rulings=(ACCEPTED,), sheet=open_one), open_one)

    assert (gone["look"]["step"], stays["look"]["step"]) == ("", "stud")
    assert gone["told"]["recorded"]


def test_the_first_thing_wrong_with_a_field_stands_beside_it():
    problems = (Problem("seen_missing", "seen"), Problem("note_missing", "seen"), Problem("kind_unknown"))

    reply = both_reply({"seen": ""}, Outcome(problems), sheets()[0])

    assert reply["told"]["troubles"] == {"seen": texts.SENTENCES["seen_missing"]}
    assert len(reply["told"]["lines"]) == 3


def test_what_is_looked_at_is_cut_by_characters():
    reply = both_reply({"step": "\U0001f529" * 300, "wrench": " W" * 150}, Outcome(), sheets()[0])

    assert (len(reply["look"]["step"]), len(reply["look"]["wrench"])) == (LOOKED_AT, LOOKED_AT)
    assert "reading." in NEVER_KEPT
