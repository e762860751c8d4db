"""Ids made on the tablet: of the form RFC 9562 gives, in the order they were made."""

from __future__ import annotations

from uuid import UUID

from hypothesis import given
from hypothesis import strategies as st

from app.use_cases.make_entry import _ID
from tests.js_engine import Engine

ENGINE = Engine("ids.js")
MOMENTS = st.integers(min_value=0, max_value=2**48 - 1)
RANDOM = st.binary(min_size=10, max_size=10)


def made(at_ms: int, random: bytes) -> str:
    found: str = ENGINE.call("ids.js", "uuid7", at_ms, list(random))
    return found


@given(MOMENTS, RANDOM)
def test_an_id_is_a_uuid_of_version_7_with_its_moment_in_front(at_ms: int, random: bytes):
    one = UUID(made(at_ms, random))

    assert (one.version, one.variant, one.int >> 80) == (7, "specified in RFC 4122", at_ms)


@given(MOMENTS, RANDOM)
def test_an_id_made_on_the_tablet_is_one_that_the_forms_take(at_ms: int, random: bytes):
    assert _ID.fullmatch(made(at_ms, random))


@given(MOMENTS.filter(lambda at: at > 0), RANDOM, RANDOM)
def test_ids_sort_by_when_they_were_made(at_ms: int, one: bytes, other: bytes):
    assert made(at_ms - 1, one) < made(at_ms, other)


def test_the_example_of_the_standard():
    """RFC 9562, appendix A.6: 017F22E2-79B0-7CC3-98C4-DC0C0C07398F, made at 2022-02-22 14:22:22 GMT-05:00."""
    random = bytes.fromhex("0cc3" + "18c4dc0c0c07398f")

    assert made(0x017F22E279B0, random) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
