"""E-mail addresses: read what was typed, refuse what can never be one, give the form that goes over the wire.

Odd but legal addresses pass (plus signs, quoted names, letters of any script). Whether a mailbox exists only its own
server knows; that is not asked here. Pure: no network, no lookup.

Source: RFC 5321 (October 2008) sections 2.3.5, 4.1.2, 4.1.3, 4.5.3.1 for grammar and lengths; RFC 6531 (February 2012)
section 3.3 for letters beyond ASCII; RFC 3696 (February 2004) section 2 for a last label that is not all digits;
RFC 5890 to 5892 (August 2010) in outline for domain labels beyond ASCII. Read from memory; limits checked in the tests.
"""

from __future__ import annotations

import ipaddress
import re
import unicodedata
from dataclasses import dataclass

from app.domain.problems import Problem

LOCAL_OCTETS = 64
DOMAIN_OCTETS = 255
LABEL_OCTETS = 63
ADDRESS_OCTETS = 254  # a path is 256 octets at most, with its angle brackets

_ATOM = re.compile(r"[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~\u0080-\U0010ffff]+")
_QUOTED = re.compile(r'"(?:[\x20\x21\x23-\x5b\x5d-\x7e\u0080-\U0010ffff]|\\[\x20-\x7e])*"')
_LABEL = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9-]*[A-Za-z0-9])?")
_IDEOGRAPHIC_DOTS = re.compile("[\u3002\uff0e\uff61]")
# Marks that some scripts need inside a label, and the joiners; everything else has to be a letter, mark or digit.
_ALSO_IN_LABELS = frozenset("-\u00b7\u200c\u200d\u0375\u05f3\u05f4\u30fb")
_JOINERS = frozenset("\u200c\u200d")


@dataclass(frozen=True, slots=True)
class Address:
    """An address that can be one. `local` is as typed (with its quotes, if any), `domain` as typed."""

    local: str
    domain: str

    @property
    def text(self) -> str:
        return f"{self.local}@{self.domain}"

    @property
    def wire_domain(self) -> str:
        """The domain in ASCII: labels beyond it in their `xn--` form. A literal stays as it is."""
        return _wire_domain(self.domain)

    @property
    def wire(self) -> str:
        """What a mail server is told. ASCII unless the part before the @ is not."""
        return f"{self.local}@{self.wire_domain}"

    @property
    def needs_utf8(self) -> bool:
        """Whether only a server that offers SMTPUTF8 can take it."""
        return not self.local.isascii()

    @property
    def bare_local(self) -> str:
        """The part before the @ without quotes and backslashes."""
        if not self.local.startswith('"'):
            return self.local
        return re.sub(r"\\(.)", r"\1", self.local[1:-1])


def read_address(typed: str, field: str = "email") -> Address | Problem:
    """Give the address, or what is wrong with it. White space around it is no fault."""
    text = typed.strip(" \t\r\n\u00a0\u200b\ufeff")
    return _looks_wrong(text, field) or _parts(text, field)


def _looks_wrong(text: str, field: str) -> Problem | None:
    """The slips people make, each with a sentence of its own, before the grammar is asked."""
    if not text:
        return Problem("address_missing", field)
    if any(_is_hidden(character) for character in text):
        return Problem("address_hidden_character", field)
    if text.startswith('"') and _QUOTED.match(text):
        return None  # a quoted name may hold nearly anything; the grammar decides
    if "<" in text or ">" in text:
        return Problem("address_has_more", field, {"typed": text})
    if text.count("@") > 1 and re.search(r"[,;\s]", text):
        return Problem("address_several", field, {"typed": text})
    if any(character.isspace() for character in text):
        return Problem("address_space", field, {"typed": text})
    return None


def _is_hidden(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp") and character not in _JOINERS


def _parts(text: str, field: str) -> Address | Problem:
    quoted = _QUOTED.match(text)
    local, at, domain = (
        (quoted.group(), text[quoted.end() : quoted.end() + 1], text[quoted.end() + 1 :])
        if quoted
        else text.rpartition("@")
    )
    if at != "@":
        return Problem("address_no_at", field, {"typed": text})
    if not _local_is_legal(local):
        return Problem("address_before_at", field, {"typed": text, "part": local})
    domain_code = _domain_problem(domain)
    if domain_code:
        return Problem(domain_code, field, {"typed": text, "part": domain})
    address = Address(local, domain)
    if len(local.encode()) > LOCAL_OCTETS or len(address.wire.encode()) > ADDRESS_OCTETS:
        return Problem(
            "address_too_long", field, {"typed": text, "limit": ADDRESS_OCTETS, "limit_before": LOCAL_OCTETS}
        )
    return address


def _local_is_legal(local: str) -> bool:
    if _QUOTED.fullmatch(local):
        return True
    return all(_ATOM.fullmatch(atom) for atom in local.split("."))


def _domain_problem(domain: str) -> str:
    """The code of what is wrong with the part after the @; "" when nothing is."""
    if domain.startswith("["):
        return "" if _is_literal(domain) else "address_after_at"
    wire = _wire_domain(domain)
    labels = wire.split(".")
    if len(wire) > DOMAIN_OCTETS or any(len(label) > LABEL_OCTETS for label in labels):
        return "address_too_long"
    if not all(map(_LABEL.fullmatch, labels)) or not all(map(_is_label, _labels(domain))):
        return "address_after_at"
    if len(labels) == 1:
        return "address_no_dot"
    return "address_after_at" if labels[-1].isdigit() else ""


def _is_literal(domain: str) -> bool:
    if not domain.endswith("]"):
        return False
    inside = domain[1:-1]
    try:
        if inside.lower().startswith("ipv6:"):
            ipaddress.IPv6Address(inside[5:])
        else:
            ipaddress.IPv4Address(inside)
    except ValueError:
        return False
    return True


def _is_label(label: str) -> bool:
    """Whether a label holds only what labels are made of, and begins with something to read."""
    return (
        bool(label)
        and all(unicodedata.category(c)[0] in "LMN" or c in _ALSO_IN_LABELS for c in label)
        and unicodedata.category(label[0])[0] != "M"
    )


def _labels(domain: str) -> list[str]:
    return _IDEOGRAPHIC_DOTS.sub(".", domain).split(".")


def _wire_domain(domain: str) -> str:
    if domain.isascii():
        return domain
    return ".".join(map(_wire_label, _labels(domain)))


def _wire_label(label: str) -> str:
    """A label in ASCII.

    Python's own `idna` codec follows the rules of 2003, which turn ß into ss: another domain, so another person's
    mailbox. Here a label is only lowered and composed, as the rules of 2008 keep such letters.
    """
    lowered = unicodedata.normalize("NFC", unicodedata.normalize("NFKC", label).lower())
    return lowered if lowered.isascii() else "xn--" + lowered.encode("punycode").decode("ascii")
