"""Every problem the house can raise has a sentence; no sentence scolds, and none has a blank that nobody fills.

The codes are read out of the sources, so that a new one cannot be forgotten here.
"""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from app.domain.case import Reason
from app.texts import FILLED, SENTENCES, VARIANTS, WORDS, sentence
from app.web.desk.said import WORDS as SAID

APP = Path(__file__).resolve().parents[2] / "app"
BANNED = re.compile(r"\b(invalid|errors?|successful(ly)?|oops|please|illegal|forbidden)\b", re.IGNORECASE)

# Calls whose first word is a problem's code: the value itself, and the reader of forms.
RAISERS = {"Problem": 0, "wrong": 0}

# Not sentences by themselves: they stand after a wrench's or a bay's name, or as a line in a sheet's head.
CLAUSES = ("wrench_unfit.", "lift_short.", "saved.", "shown.")


@dataclass(frozen=True)
class Raised:
    """A code where it is raised. `details` are the blanks it fills; None when the source does not spell them out."""

    code: str
    where: str
    details: frozenset[str] | None


def raised() -> Iterator[Raised]:
    for path in sorted(APP.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                where = f"{path.relative_to(APP)}:{node.lineno}"
                yield from _codes(node, where)


def _codes(call: ast.Call, where: str) -> Iterator[Raised]:
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    if name in RAISERS and call.args:
        for code in _texts(call.args[0]):
            yield Raised(code, where, _wrong_details(call) if name == "wrong" else _problem_details(call))
    for keyword in call.keywords:
        if keyword.arg == "missing" and name == "words":
            for code in _texts(keyword.value):
                yield Raised(code, where, frozenset())


def _texts(node: ast.expr) -> Iterator[str]:
    """The texts an argument may be: itself, or either side of a choice."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)


def _problem_details(call: ast.Call) -> frozenset[str] | None:
    given = call.args[2] if len(call.args) > 2 else next((k.value for k in call.keywords if k.arg == "details"), None)
    if given is None:
        return frozenset()
    if isinstance(given, ast.Dict) and all(isinstance(key, ast.Constant) for key in given.keys):
        return frozenset(str(key.value) for key in given.keys if isinstance(key, ast.Constant))
    return None


def _wrong_details(call: ast.Call) -> frozenset[str] | None:
    names = [keyword.arg for keyword in call.keywords]
    return None if None in names else frozenset(name for name in names if name)


ALL_RAISED = tuple(raised())


def blanks(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_the_reading_finds_codes() -> None:
    """A reading that finds nothing would pass everything below."""
    codes = {one.code for one in ALL_RAISED}
    assert {"last_foreman", "figure_doubt", "tag_missing", "complaint_missing", "pin_easy"} <= codes
    assert len(codes) > 60


@pytest.mark.parametrize("code", sorted({one.code for one in ALL_RAISED}))
def test_every_problem_has_a_sentence(code: str) -> None:
    assert code in SENTENCES, [one.where for one in ALL_RAISED if one.code == code]


@pytest.mark.parametrize("reason", [one.value for one in Reason if one.value])
def test_every_reason_of_a_ruling_has_a_sentence(reason: str) -> None:
    assert reason in SENTENCES or any(code.startswith(f"{reason}.") for code in SENTENCES)


@pytest.mark.parametrize("one", [x for x in ALL_RAISED if x.details is not None], ids=lambda x: f"{x.code}@{x.where}")
def test_a_sentence_has_no_blank_that_nobody_fills(one: Raised) -> None:
    details = one.details or frozenset()
    if set(VARIANTS) & details:
        return
    assert blanks(SENTENCES[one.code]) <= details, one.where


@pytest.mark.parametrize("text", [*SENTENCES.values(), *WORDS.values(), *SAID.values()])
def test_no_sentence_scolds(text: str) -> None:
    assert not BANNED.search(text)


@pytest.mark.parametrize("code", [code for code in SENTENCES if not code.startswith(CLAUSES)])
def test_a_sentence_begins_and_ends_as_one(code: str) -> None:
    text = SENTENCES[code].strip()
    assert text[0].isupper() or text[0] in "“{"
    assert text[-1] in ".?:!}"


@pytest.mark.parametrize("code", sorted(SENTENCES))
def test_the_blanks_of_a_sentence_can_be_read(code: str) -> None:
    filled = sentence(code, **dict.fromkeys(blanks(SENTENCES[code]), "x"))
    assert "{" not in filled
    assert "}" not in filled


def test_blanks_that_are_put_into_words_name_a_group_that_is_there() -> None:
    """A day, or a text of the packet, is put into words by its own rule, not by a list."""
    groups = {key.partition(".")[0] for key in WORDS}
    assert {group for blanks_of in FILLED.values() for group in blanks_of.values()} <= {*groups, "date", "packet"}


def test_a_code_without_a_sentence_is_named_and_not_hidden() -> None:
    assert "never_heard_of" in sentence("never_heard_of")
