"""Mistakes in procedure files are told by file and line, in a sentence, all at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.domain.procedure import FILE_LIMIT, Book, BookProblem, load_book, read_book
from tests.unit.procedure_cast import SHARED, the_book

LAYOUTS = (SHARED / "layouts.yaml").read_bytes()
GATES = (SHARED / "gates.yaml").read_bytes()
GOOD = """\
procedure: trial
title: Trial of {corner_word}
family: trial
version: 1
scope: corner
options:
  end:
    ask: Which end?
    choices: {upper: upper, lower: lower}
steps:
  - key: look
    title: Look
    do: Look at it.
    why: You see it.
    support: any
  - key: undo
    title: Undo
    do: Undo the {end_word} end.
    why: It has to come off.
    when: {all: [{layout: [strut]}, {stabiliser: ["yes"]}, {end: [upper]}]}
    support: work
    gates: [stands]
    measures:
      - {id: length, ask: Length, dimension: length, unit: mm}
    fasteners:
      - {id: bolt, figure: "{end}_bolt", place: "{end_word} bolt", tighten: final}
    after: [look]
"""


def read(text: str | bytes, name: str = "procedures/trial.yaml") -> Book:
    raw = text.encode() if isinstance(text, str) else text
    return read_book({"layouts.yaml": LAYOUTS, "gates.yaml": GATES, name: raw})


def told(text: str | bytes, name: str = "procedures/trial.yaml") -> list[str]:
    with pytest.raises(BookProblem) as caught:
        read(text, name)
    assert str(caught.value) == "\n".join(str(one) for one in caught.value.mistakes)
    return [str(one) for one in caught.value.mistakes]


def change(old: str, new: str) -> str:
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def test_the_text_these_tests_change_is_good() -> None:
    assert read(GOOD).procedures["trial"].steps[1].after == ("look",)


def test_the_products_own_files_are_good() -> None:
    book = the_book()

    families = {procedure.family for procedure in book.procedures.values()}
    assert families >= {
        "inspection", "shock_absorber", "strut", "ball_joint", "control_arm", "coil_spring", "stabiliser",
        "opening", "closing",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("    why: You see it.\n", "    why: You see it.\n    becaus: x\n", "unknown key `becaus`"),
        ("    gates: [stands]", "    gate: [stands]", "unknown key `gate`; is it `gates`?"),
        ("version: 1", "version: one", "`version` is `one`; it has to be a whole number"),
        ("version: 1", "version: true", "`version` is true; it has to be a whole number"),
        ("version: 1", "version: 0", "`version`: input should be greater than or equal to 1"),
        ("    title: Look\n", "    title: [Look]\n", "it has to be text; put it in quotes"),
        ("    title: Look\n", "    title: 7\n", "it has to be text; put it in quotes"),
        ("    title: Look\n", "    title:\n", "it has to be text; put it in quotes"),
        ("    title: Look\n", '    title: ""\n', "`title` is empty"),
        ("    title: Look\n", "", "entry 1 of `steps` needs `title`"),
        ("family: trial\n", "", "this file needs `family`"),
        ("scope: corner", "scope: wheel", "`scope` is `wheel`; it has to be 'corner', 'axle' or 'vehicle'"),
        ("tighten: final", "tighten: tight", "`tighten` is `tight`; it has to be 'snug' or 'final'"),
        ("    gates: [stands]", "    gates: [stand]", "unknown gate `stand`; is it `stands`?"),
        ("    gates: [stands]", "    gates: stands", "`gates` is `stands`; it has to be a list"),
        ("    support: work", "    support: floating", "`support` is `floating`; it has to be 'work'"),
        ("    support: work", "    support: [on_jack]", "is `on_jack`; it has to be 'on_wheels'"),
        ("{end_word} end", "{ends} end", "unknown placeholder `{ends}`; is it `{end}`?"),
        ("{end_word} end", "{end_word end", "the braces in this text cannot be read"),
        ("{end_word} end", "{end!r} end", "the braces in this text cannot be read"),
        ("{end_word} end", "{end.choices} end", "the braces in this text cannot be read"),
        ('"{end}_bolt"', '"{corner_word}_bolt"', "unknown placeholder `{corner_word}`"),
        ('stabiliser: ["yes"]', 'stabilizer: ["yes"]', "unknown fact `stabilizer` in a condition; is it `stabiliser`?"),
        ('stabiliser: ["yes"]', "stabiliser: [some]", "`stabiliser` is never `some`; it is one of yes, no"),
        ("layout: [strut]", "layout: [struts]", "`layout` is never `struts`"),
        ("{end: [upper]}", "{end: [both]}", "`end` is never `both`; it is one of upper, lower"),
        ("when: {all: [", "when: {some: [", "`some` in a condition needs one value or a list of values"),
        ("    after: [look]", "    after: [lock]", "`after` names no step here: `lock`; is it `look`?"),
        ("    after: [look]", "    after: [undo]", "these steps wait for each other: undo → undo"),
        ("    support: any\n", "    support: any\n    after: [undo]\n", "these steps wait for each other"),
        ("  - key: undo", "  - key: look", "the step `look` stands here a second time"),
        ("  - key: undo", "  - key: Undo it", "use small letters, digits and _ only"),
        ("unit: mm", "unit: furlong", "`furlong` is no unit of length; use one of"),
        ("unit: mm", "unit: kg", "`kg` is no unit of length"),
        ("unit: mm}", 'unit: mm, at_least: "3 mm"}', "`length` has a limit and needs its `source`"),
        ("unit: mm}", 'unit: mm, at_least: "3 kg", source: x}', "`3 kg` cannot be read as a length"),
        ("dimension: length", "dimension: lengths", "`dimension` is `lengths`; it has to be 'torque'"),
        ("procedure: trial", "procedure: trail", "the file of `trail` has to be called trail.yaml"),
        ("  end:\n", "  stabiliser:\n", "`stabiliser` is a fact or layout key already; name it otherwise"),
        ("    support: any\n", "    support: any\n    per_side: true\n", "a line on one corner has one side"),
        ("    support: any\n", "    support: any\n    per_axle: true\n", "only a line on the whole vehicle"),
        ("scope: corner", "scope: corner\nneeds_facts: [colour]", "unknown fact `colour`"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_file_and_line(old: str, new: str, sentence: str) -> None:
    """The line is that of the change, or of the block it is missing from; nothing else is called wrong before it."""
    text = change(old, new)

    messages = told(text)

    found = [message for message in messages if sentence in message]
    assert found, messages
    line = int(found[0].split(":")[1])
    first = next((n for n, (a, b) in enumerate(zip(text.split("\n"), GOOD.split("\n"), strict=False), 1) if a != b), 1)
    assert found[0].startswith("procedures/trial.yaml:")
    assert abs(line - first) <= 1 or "needs `" in sentence or "wait for each other" in sentence, (line, first)


@pytest.mark.parametrize(
    ("text", "where", "sentence"),
    [
        ("", 1, "this file is empty"),
        ("# only a comment\n", 1, "this file is empty"),
        ("- a\n- b\n", 1, "this file is a list; it has to be a block of keys"),
        ("just words\n", 1, "it has to be a block of keys"),
        ("a: 1\nb: [1, 2\nc: 3\n", 3, "this is not YAML"),
        ("a: b: c\n", 1, "this is not YAML"),
        ("a:\n\tb: 1\n", 2, "a tab character stands here; use spaces"),
        ("a: x\ty\n", 1, "a tab character stands here"),
        ("a: 1\nb: 2\na: 3\n", 3, "`a` stands here a second time; the first is on line 1"),
        ("a: &x 1\nb: *x\n", 1, "anchors (&) and aliases (*) are not read here"),
        ("a: !!python/object/apply:os.system ['true']\n", 1, "is not read here"),
        ("a: !!str 1\n", 1, "is not read here"),
        ("a: 1\n---\nb: 1\n", 2, "a second document begins here"),
        ("? [a, b]\n: 1\n", 1, "a key has to be a word"),
        ("a: 1\nb: " + "9" * 4_000 + "\n", 2, "is too long"),
        ("a: x\x00y\n", 1, "a control character (U+0000) stands here"),
    ],
)  # fmt: skip
def test_what_is_not_plain_yaml_is_refused_at_its_line(text: str, where: int, sentence: str) -> None:
    messages = told(text)

    assert any(
        message.startswith(f"procedures/trial.yaml:{where}: ") and sentence in message for message in messages
    ), messages


def test_text_that_is_not_utf_8_is_refused_at_its_line() -> None:
    assert told(b"a: 1\nb: \xff\xfe\n") == ["procedures/trial.yaml:2: this file is not text in UTF-8; save it as UTF-8"]


def test_aliases_that_multiply_are_refused_before_anything_is_built() -> None:
    """Nine levels of ten would be a thousand million items; the first anchor is as far as it gets."""
    levels = [f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 10)}]" for n in range(1, 10)]
    bomb = "l0: &l0 [x, x, x, x, x, x, x, x, x, x]\n" + "\n".join(levels) + "\n"

    assert told(bomb) == ["procedures/trial.yaml:1: anchors (&) and aliases (*) are not read here; write the text out"]


def test_nesting_without_end_is_refused() -> None:
    (message,) = told("a: " + "[" * 5_000 + "]" * 5_000 + "\n")

    assert message == "procedures/trial.yaml:1: this is nested more than 16 deep; no procedure needs that"


def test_a_file_too_large_is_refused() -> None:
    (message,) = told("# " + "x" * FILE_LIMIT)

    assert "larger than 512 kB" in message


def test_every_mistake_of_every_file_is_told_at_once() -> None:
    gates = GATES.replace(b"    signal: danger\n", b"    signal: loud\n", 1)
    text = change("    gates: [stands]", "    gates: [stand]")

    with pytest.raises(BookProblem) as caught:
        read_book({"layouts.yaml": b"", "gates.yaml": gates, "procedures/trial.yaml": text.encode()})

    assert {(one.file, one.sentence[:20]) for one in caught.value.mistakes} == {
        ("layouts.yaml", "this file is empty"),
        ("gates.yaml", "`signal` is `loud`; "),
    }


def test_mistakes_of_two_procedures_are_told_together() -> None:
    one = change("    gates: [stands]", "    gates: [stand]")
    two = change("unit: mm", "unit: kg").replace("procedure: trial", "procedure: other")

    with pytest.raises(BookProblem) as caught:
        read_book(
            {
                "layouts.yaml": LAYOUTS,
                "gates.yaml": GATES,
                "procedures/trial.yaml": one.encode(),
                "procedures/other.yaml": two.encode(),
            }
        )

    assert [mistake.file for mistake in caught.value.mistakes] == ["procedures/other.yaml", "procedures/trial.yaml"]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("brings: [lift]", "brings: [hoist]", "unknown gate `hoist`"),
        ("at_least: {reckon: stand_load}", "at_least: {reckon: guess}", "`reckon` is `guess`"),
        ("at_least: 30 min", "at_least: half an hour", "cannot be read as a duration"),
        ("        at_least: 30 min\n", "", "needs `at_least` or `at_most`; else it cannot fail"),
        ("halve_unless: [label_basis, each]", "halve_unless: [label_basis, all]", "names a check or choice"),
        ("{key: still, words: Stands still on every foot, passes: true}", "{key: still, words: x, passes: false}",
         "no choice of the check `shaken` can pass"),
        ("{key: moves, words: Rocks or creeps or a foot lifts, passes: false}", "{key: moves, words: x, passes: true}",
         "no choice of the check `shaken` can fail"),
        ("      - id: shaken", "      - id: floor", "the check `floor` stands here a second time"),
        ("when: {spring_kind: [air]}", "when: {spring_kind: [steam]}", "`spring_kind` is never `steam`"),
        ("stale: 15\n    shows", "stale: never\n    shows", "`never`; it has to be 'shop' or a whole number"),
        ("intro: A vehicle comes off a lift", "intro: A {car} comes off a lift", "unknown placeholder `{car}`"),
    ],
)  # fmt: skip
def test_a_gate_that_asks_nothing_or_names_nothing_is_refused(old: str, new: str, sentence: str) -> None:
    text = GATES.decode()
    assert old in text
    changed = text.replace(old, new, 1)

    with pytest.raises(BookProblem) as caught:
        read_book({"layouts.yaml": LAYOUTS, "gates.yaml": changed.encode()})

    at = line_of(text, old)
    assert [m for m in caught.value.mistakes if sentence in m.sentence and m.file == "gates.yaml" and m.line >= at - 12]


def test_a_layout_without_its_stand_words_is_refused() -> None:
    text = LAYOUTS.decode().replace("    work_support: [lift_frame, stands_frame]\n", "", 1)

    with pytest.raises(BookProblem, match=r"layouts.yaml:\d+: the layout `wishbone_lower_coil` needs `work_support`"):
        read_book({"layouts.yaml": text.encode(), "gates.yaml": GATES})


def test_yes_and_no_stay_the_answers_they_are() -> None:
    """YAML 1.1 would read a bare yes as true; then no condition on an answer could ever hold."""
    text = change('stabiliser: ["yes"]', "stabiliser: [yes]")

    assert read(text).procedures["trial"].steps[1].when == read(GOOD).procedures["trial"].steps[1].when


def test_windows_line_ends_and_a_byte_order_mark_are_read() -> None:
    text = "\ufeff" + GOOD.replace("\n", "\r\n")

    assert read(text).procedures["trial"] == read(GOOD).procedures["trial"]


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "layouts.yaml").write_bytes(LAYOUTS)

    with pytest.raises(BookProblem, match=r"gates.yaml:1: cannot be read"):
        load_book(tmp_path)
