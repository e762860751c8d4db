"""Reading addresses: odd but legal ones pass, impossible ones come back with the reason."""

from __future__ import annotations

import idna
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.address import Address, read_address
from app.domain.problems import Problem
from app.texts import SENTENCES, say

# Forms of RFC 5321 section 4.1.2 and of RFC 3696 section 3 (the examples with quotes, slash, equals, percent), from
# memory; lengths of RFC 5321 section 4.5.3.1.
LEGAL = [
    "mira@okonjo.example",
    "mira+garage@okonjo.example",
    "customer/department=shipping@example.com",
    "$A12345@example.com",
    "!def!xyz%abc@example.com",
    "_somename@example.com",
    "o'neil@example.com",
    '"Abc@def"@example.com',
    '"Joe Blow"@example.com',
    '"Fred\\"Bloggs"@example.com',
    '""@example.com',
    "a@[192.0.2.17]",
    "a@[IPv6:2001:db8::17]",
    "a@1-2.example",
    "a@xn--bcher-kva.example",
    "grüße@straße.example",
    "用户@例子.example",
    "a" * 64 + "@example.com",
    "a@" + "b" * 63 + ".example",
]

IMPOSSIBLE = [
    ("", "address_missing"),
    ("   ", "address_missing"),
    ("mira", "address_no_at"),
    ("mira.okonjo.example", "address_no_at"),
    ("@okonjo.example", "address_before_at"),
    ("mira@", "address_after_at"),
    (".mira@okonjo.example", "address_before_at"),
    ("mira.@okonjo.example", "address_before_at"),
    ("mi..ra@okonjo.example", "address_before_at"),
    ("mi(r)a@okonjo.example", "address_before_at"),
    ("mailto:mira@okonjo.example", "address_before_at"),
    ("mira@okonjo..example", "address_after_at"),
    ("mira@okonjo.example.", "address_after_at"),
    ("mira@-okonjo.example", "address_after_at"),
    ("mira@okon_jo.example", "address_after_at"),
    ("mira@192.0.2.17", "address_after_at"),
    ("mira@[192.0.2.300]", "address_after_at"),
    ("mira@[192.0.2.17", "address_after_at"),
    ("mira@☃☃.example", "address_after_at"),
    ("mira@okonjo", "address_no_dot"),
    ("mira @okonjo.example", "address_space"),
    ("mira okonjo@okonjo.example", "address_space"),
    ("Mira <mira@okonjo.example>", "address_has_more"),
    ("mira@okonjo.example, ben@okonjo.example", "address_several"),
    ("mira@okonjo.example;ben@okonjo.example", "address_several"),
    ("mira@okonjo.example\nBcc: ben@okonjo.example", "address_hidden_character"),
    ("mira@okonjo\u202e.example", "address_hidden_character"),
    ("mira\u200b@okonjo.example", "address_hidden_character"),
    ("mira\ud800@okonjo.example", "address_hidden_character"),
    ("a" * 65 + "@example.com", "address_too_long"),
    ("a@" + "b" * 64 + ".example", "address_too_long"),
    ("a" * 64 + "@" + ".".join(["b" * 60] * 4) + ".example", "address_too_long"),
]


@pytest.mark.parametrize("typed", LEGAL)
def test_an_odd_but_legal_address_is_taken_as_typed(typed: str) -> None:
    address = read_address(typed)

    assert isinstance(address, Address)
    assert address.text == typed


@pytest.mark.parametrize(("typed", "code"), IMPOSSIBLE)
def test_an_impossible_address_comes_back_with_the_reason_and_a_sentence(typed: str, code: str) -> None:
    problem = read_address(typed, "email")

    assert isinstance(problem, Problem)
    assert (problem.code, problem.field) == (code, "email")
    assert code in SENTENCES
    assert "…" not in say(problem)


def test_white_space_around_an_address_is_no_fault() -> None:
    address = read_address("  mira@okonjo.example\u00a0\n")

    assert isinstance(address, Address)
    assert address.text == "mira@okonjo.example"


@pytest.mark.parametrize(
    "domain", ["straße.example", "bücher.example", "BÜCHER.example", "例子.example", "παράδειγμα。example"]
)
def test_a_domain_beyond_ascii_goes_over_the_wire_as_the_rules_of_2008_have_it(domain: str) -> None:
    """Checked against another implementation (the `idna` package): ß stays ß, or another person gets the letter."""
    address = read_address(f"a@{domain}")

    assert isinstance(address, Address)
    assert address.wire_domain == idna.encode(domain, uts46=True).decode()


def test_only_letters_beyond_ascii_before_the_at_need_a_special_server() -> None:
    plain, special = read_address("mira@straße.example"), read_address("grüße@okonjo.example")

    assert isinstance(plain, Address)
    assert isinstance(special, Address)
    assert (plain.needs_utf8, special.needs_utf8) == (False, True)


@given(st.text(max_size=80) | st.from_regex(r"[\w.\"<>@, -]{1,30}@[\w.\[\]:-]{1,30}"))
def test_anything_typed_gives_an_address_or_a_problem(typed: str) -> None:
    """And an address that was read is on one line, so that it cannot carry a header of its own."""
    found = read_address(typed)

    if isinstance(found, Address):
        assert len(found.wire.splitlines()) == 1
        assert read_address(found.text) == found
    else:
        assert found.code.startswith("address_")
