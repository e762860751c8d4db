"""The words that are kept and the words that are typed: folded alike, whatever the script, and safe to hand on."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.search_words import (
    WORD_LIMIT,
    _folded,
    _plate_words,
    _split,
    asked_words,
    code_words,
    fits,
    part_words,
    words_in,
)

PLAIN = re.compile(r"[a-z0-9]+")
# Letters with and without case and signs, from everywhere, beyond the first plane too.
LETTERS = st.text(st.characters(categories=("Lu", "Ll", "Lo", "Nd")), min_size=1, max_size=12)
PLATES = st.text("ABCXYZ0123456789 -·ÄÖбЖ", min_size=1, max_size=20)


@given(st.text(max_size=200))
def test_whatever_is_typed_comes_to_plain_words_and_no_signs(typed: str) -> None:
    assert all(PLAIN.fullmatch(word) for word in words_in(typed))


@given(st.text(max_size=200))
def test_what_is_kept_is_found_by_itself(text: str) -> None:
    assert fits(words_in(text), asked_words(text))


@given(st.text(max_size=60))
def test_case_and_the_form_a_letter_is_written_in_make_no_difference(text: str) -> None:
    for form in ("NFC", "NFD", "NFKC", "NFKD"):
        assert words_in(unicodedata.normalize(form, text)) == words_in(text)
    assert words_in(text.casefold()) == words_in(text)


@given(LETTERS)
def test_what_is_written_out_in_plain_signs_can_be_read_back(text: str) -> None:
    """So that no two words that folding left apart are made alike."""
    assert [read_back(word) for word in words_in(text)] == [one[:WORD_LIMIT] for one in _split(_folded(text))]


def read_back(word: str) -> str:
    letters = re.findall(r"zz|z[0-9a-n][0-9a-z]{3}|[a-y0-9]", word)
    assert "".join(letters) == word
    return "".join("z" if one == "zz" else chr(int(one[1:], 36)) if one[0] == "z" else one for one in letters)


@given(PLATES, st.data())
def test_any_part_of_a_plate_finds_it_however_it_is_spaced(plate: str, data: st.DataObject) -> None:
    joined = "".join(words_in(plate))
    if not joined:
        return
    kept = tuple(_plate_words(plate))
    typed = "".join(letter + data.draw(st.sampled_from(["", "", " ", "-"])) for letter in plate)
    assert fits(kept, asked_words(typed))


@pytest.mark.parametrize(
    ("text", "typed"),
    [
        ("Bushing KX-4471.b, batch 9", "kx4471"),
        ("Bushing KX-4471.b, batch 9", "KX 4471 B"),
        ("Bushing KX4471", "kx 4471"),
        ("Ølstykke, Þórður, œuvre, ŁÓDŹ", "olstykke thordur oeuvre lodz"),
        ("İstanbul ISPARTA ısı", "istanbul isparta isi"),
        ("ﬁlter ½ № ＡＢＣ", "filter abc"),
        ("Τρίζει ΟΔΟΣ οδός", "τριζει οδος"),
        ("ёж Йод", "еж иод"),
    ],
)
def test_parts_and_letters_are_found_as_people_type_them(text: str, typed: str) -> None:
    assert fits(tuple(part_words(text)), asked_words(typed))


@pytest.mark.parametrize(
    ("text", "typed"),
    [("clunk", "clonk"), ("LK 14 TAL", "lk15"), ("naïve", "native"), ("山田", "山本"), ("मीरा", "मोर"), ("zz", "zzz")],
)
def test_what_is_another_word_is_not_found(text: str, typed: str) -> None:
    assert not fits((*words_in(text), *code_words(text)), asked_words(typed))


def test_endless_words_are_cut_alike_and_each_word_is_asked_once() -> None:
    endless = "é" * 5_000
    assert words_in(endless) == words_in("e" * WORD_LIMIT)
    assert asked_words("Clunk clunk CLUNKS") == ("clunk", "clunks")
    assert asked_words(" *:\"' AND") == ("and",)
    assert [list(code_words(code)) for code in ("", "-", "7", "12345")] == [[], [], ["7"], ["12345", "2345"]]
