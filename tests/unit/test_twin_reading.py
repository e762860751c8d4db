"""What both ends read, write and reckon with: canonical form, hashes, bodies, sums."""

from __future__ import annotations

import hashlib
import json
import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain import entry as e
from app.domain.canonical import LARGEST_WHOLE, canonical, digest
from app.domain.entry import Kind, body_json, entry_from, entry_json, read_body
from app.domain.standing import date_of
from app.domain.torque import at_fastener, setting_for
from tests.builders import RULES_FILE, an_entry, heard
from tests.js_engine import Engine, Refused
from tests.made_up import JSON_VALUES, PLAIN_TEXT, SCALARS, bent_bodies
from tests.twin import body_by_script, the_script

ENGINE: Engine = the_script()
MANY = settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
WHOLE = st.integers(-LARGEST_WHOLE, LARGEST_WHOLE)

# --- Text and hashes -------------------------------------------------------------------------------------------------

# NIST, "Examples with Intermediate Values", SHA-256 (one and two blocks), and the empty message of the same collection.
KNOWN = {
    "": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
}


def sha256_by_script(*texts: str) -> list[str]:
    given_texts = json.dumps(json.dumps(texts))
    script = f"JSON.stringify(JSON.parse({given_texts}).map((one) => sha(bytes(one))))"
    return list(json.loads(ENGINE.run(f"{{ const {{ sha256: sha, utf8: bytes }} = modules['sha256.js']; {script} }}")))


def test_the_standards_examples_are_hashed_as_printed():
    assert sha256_by_script(*KNOWN) == list(KNOWN.values())


def test_messages_of_every_length_over_three_blocks_are_hashed_as_hashlib_does():
    texts = ["a" * length for length in range(200)]

    assert sha256_by_script(*texts) == [hashlib.sha256(text.encode()).hexdigest() for text in texts]


@MANY
@given(text=st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_becomes_the_same_bytes(text: str):
    assert sha256_by_script(text) == [hashlib.sha256(text.encode()).hexdigest()]


def canonical_by_script(value: Any) -> str:
    found = ENGINE.call("canonical.js", "canonical", value)
    return str(found)


@MANY
@given(value=JSON_VALUES)
def test_any_value_has_the_same_canonical_form_or_none_at_both_ends(value: Any):
    try:
        expected = canonical(value).decode()
    except TypeError:
        with pytest.raises(Refused, match="go to 9007199254740991"):
            canonical_by_script(value)
        return

    assert canonical_by_script(value) == expected


@MANY
@given(keys=st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=3), unique=True))
def test_keys_are_sorted_by_code_point_beyond_the_basic_plane_too(keys: list[str]):
    value: dict[str, Any] = dict.fromkeys([*keys, "\uffee", "\U0001f527", "1", "__proto__"], 1)

    assert canonical_by_script(value) == canonical(value).decode()
    assert ENGINE.call("canonical.js", "digest", value) == digest(value)


def test_half_a_surrogate_pair_has_no_canonical_form():
    for value in ("\ud800", {"\udfff": 1}):
        with pytest.raises(Refused, match="surrogate"):
            canonical_by_script(value)


def test_every_character_python_calls_a_space_is_stripped_and_no_other():
    points = [chr(point) for point in range(sys.maxunicode + 1) if not 0xD800 <= point <= 0xDFFF]
    stripped = ENGINE.run(
        "{ const { strip } = modules['canonical.js']; const found = []; for (let i = 0; i <= 0x10ffff; i += 1) {"
        " if ((i < 0xd800 || i > 0xdfff) && strip(String.fromCodePoint(i, 0x78, i)) === 'x') found.push(i); }"
        " JSON.stringify(found); }"
    )

    assert json.loads(stripped) == [ord(one) for one in points if one.isspace()]


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("[3, -3, 0, 9007199254740991]", [3, -3, 0, 9007199254740991]),
        ("[3.0]", [[["3.0"]]]),
        ("[-0.5e-3]", [[["-0.5e-3"]]]),
        ("[1E2]", [[["1E2"]]]),
        ("[9007199254740993, -90071992547409930]", [2**53, -(2**53)]),
        ('["3.0 \\" 4.5"]', ['3.0 " 4.5']),
        ('{"1.5": "\\\\", "2.5": 2.5}', {"1.5": "\\", "2.5": [["2.5"]]}),
    ],
)
def test_a_number_that_is_no_whole_one_is_told_from_one_that_is(text: str, read: Any):
    assert ENGINE.call("canonical.js", "parse", text) == read


@pytest.mark.parametrize("text", ["", "[01]", "[1.]", "[.5]", "[+1]", "[NaN]", "[-]", "{'a': 1}", '["a\nb"]', "[1,]"])
def test_what_is_no_json_stays_none(text: str):
    with pytest.raises(Refused, match="JSON"):
        ENGINE.call("canonical.js", "parse", text)


# --- Envelopes and bodies --------------------------------------------------------------------------------------------

# What can be on its way as JSON at all: a NaN cannot, nor a number beyond Python's own limit of digits.
HOSTILE = st.one_of(
    st.sampled_from([-0.0, 3.0, 1e308, 1.5, "\ud800", "a\udfff", "\0", "\U0001f527" * 2_000, "\U0001f527" * 2_001]),
    st.builds(lambda: "x" * 2_000),
    st.builds(lambda: "x" * 2_001),
    st.builds(lambda: [{"value": 1}] * 50),
    st.builds(lambda: [{"value": 1}] * 51),
    st.builds(lambda: {str(n): {} for n in range(50)}),
    st.builds(lambda: {str(n): {} for n in range(51)}),
    st.sampled_from(["a" * 64, "A" * 64, "a" * 64 + "\n", "a" * 63]),
)


def assert_body_is_read_alike(kind: str, body: Any, v: int = 1) -> None:
    entry = an_entry(body, kind=kind, v=v)
    read = read_body(entry)

    assert body_by_script(heard(entry)) == canonical(None if read is None else body_json(read)).decode()


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind is not Kind.PACKET_PINNED])
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_a_bent_body_is_read_alike_or_by_neither(kind: Kind, data: st.DataObject):
    assert_body_is_read_alike(kind, data.draw(bent_bodies(kind, st.one_of(JSON_VALUES, HOSTILE))))


@MANY
@given(
    kind=st.sampled_from([*Kind, "invented", "constructor", "__proto__"]),
    body=st.dictionaries(PLAIN_TEXT, st.one_of(JSON_VALUES, HOSTILE), max_size=6),
    v=st.integers(0, 2),
)
def test_any_body_at_all_is_read_alike_or_by_neither(kind: str, body: Any, v: int):
    if kind != Kind.PACKET_PINNED:
        assert_body_is_read_alike(kind, body, v)


def nested(levels: int, inner: Any, *, in_list: bool) -> Any:
    for _ in range(levels):
        inner = [inner] if in_list else {"a": inner}
    return inner


@pytest.mark.parametrize("in_list", [True, False])
@pytest.mark.parametrize("inner", [1, {}, [], {"a": 1}])
def test_a_body_may_nest_as_deep_at_both_ends(in_list: bool, inner: Any):
    """The office's reader of JSON stops at two hundred levels."""
    read = []
    for levels in range(195, 205):
        body = {"packet": {"x": nested(levels, inner, in_list=in_list)}}
        entry = an_entry(body, kind="packet_pinned")
        read.append(read_body(entry) is not None)
        assert (body_by_script(heard(entry)) != "null") == read[-1], levels

    assert read[0]
    assert not read[-1]


ENVELOPE = entry_json(an_entry(e.NoteAdded(text="Seen")))
NAMES = st.one_of(
    PLAIN_TEXT, st.sampled_from(["x" * 100, "x" * 101, "two words", "line\n", "~!", "Zoë", "constructor"])
)


@MANY
@given(
    key=st.sampled_from([*ENVELOPE, "mood"]), value=st.one_of(SCALARS, NAMES, JSON_VALUES, HOSTILE), gone=st.booleans(),
    inner=st.sampled_from(["", "packet", "step_revision", "holds", "weather"]),
)  # fmt: skip
def test_an_envelope_is_read_alike_or_by_neither(key: str, value: Any, gone: bool, inner: str):
    envelope = json.loads(json.dumps(ENVELOPE))
    if inner:
        envelope["basis"][inner] = value
    elif gone:
        envelope.pop(key, None)
    else:
        envelope[key] = value
    sent = json.dumps(envelope)

    try:
        expected = entry_json(entry_from(json.loads(sent)))
    except ValueError:
        with pytest.raises(Refused, match=r"needs|has |too long"):
            entry_by_script(sent)
        return

    if key != "body":  # the body is kept as it came, floats too; how it is read is the business of the tests above
        assert entry_by_script(sent) == expected


def entry_by_script(sent: str) -> Any:
    text = json.dumps(sent)
    script = (
        "{ const { parse } = modules['canonical.js']; const { entryFrom } = modules['entry.js']; JSON.stringify(%s); }"
    )
    return json.loads(ENGINE.run(script % f"entryFrom(parse({text}))"))


# --- Sums ------------------------------------------------------------------------------------------------------------

TABLE = json.loads(RULES_FILE.read_text(encoding="utf-8"))


@MANY
@given(
    reading=st.one_of(WHOLE, st.integers(-500_000, 500_000)), wrench=st.integers(1, 2_000_000),
    extension=st.integers(1, 2_000_000), cosine=st.integers(-1_000_000, 1_000_000),
)  # fmt: skip
def test_the_sum_for_an_extension_is_the_same_to_the_last_digit(reading: int, wrench: int, extension: int, cosine: int):
    """Beyond 2^53 a tablet holds no whole number; nothing that large is ever stored."""
    at_it = at_fastener(reading, wrench, extension, cosine)
    to_set = setting_for(reading, wrench, extension, cosine)

    found = [
        ENGINE.call("torque.js", name, reading, wrench, extension, cosine) for name in ("atFastener", "settingFor")
    ]

    assert found[1] == to_set
    if abs(at_it) <= LARGEST_WHOLE:
        assert found[0] == at_it
    else:
        assert float(found[0]) == float(at_it)


def test_an_extension_that_all_but_undoes_the_wrench_has_no_setting_at_either_end():
    """At 179° these lengths leave an arm of 8 parts in 381,521,000,000: 200 N·m asks for more than an entry holds."""
    lengths = (381_521, 381_579, -999_848)
    assert lengths[0] * 1_000_000 + lengths[1] * lengths[2] == 8

    here = [setting_for(torque, *lengths) for torque in (110_000, 200_000)]
    there = [ENGINE.call("torque.js", "settingFor", torque, *lengths) for torque in (110_000, 200_000)]

    assert here == there == [110_000 * 381_521_000_000 // 8, None]


def test_the_cosine_of_every_whole_angle_is_the_same():
    found = [ENGINE.call("rule_table.js", "cosine", TABLE, degrees) for degrees in (0, 60, 90, 91, 120, 180)]

    assert found == [1_000_000, 500_000, 0, -17_452, -500_000, -1_000_000]


@MANY
@given(at_ms=st.one_of(st.integers(-(10**12), 10**14), st.integers(0, 40_000).map(lambda day: day * 86_400_000 - 1)))
def test_an_instant_has_the_same_date_at_both_ends(at_ms: int):
    assert ENGINE.call("standing.js", "dateOf", at_ms) == date_of(at_ms)
