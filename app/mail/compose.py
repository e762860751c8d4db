"""From a row of the outbox to the message on the wire: the same bytes however often it is tried.

The Message-ID is the record's for ever, the Date is when the message was made: a receiver that gets it twice can tell.
Source: RFC 5322 (October 2008) sections 2.1.1, 2.2.3 and 3.6; RFC 3834 (August 2004) section 5 for Auto-Submitted;
RFC 2047 (November 1996) sections 2 and 5 for words beyond ASCII; RFC 2387 (August 1998) and RFC 2392 (August 1998) for
pictures within a letter. Read from memory.
"""

from __future__ import annotations

import base64
import hashlib
import re
import textwrap
from collections.abc import Callable, Sequence
from email.headerregistry import Address as MailAddress
from email.message import EmailMessage
from email.policy import EmailPolicy

from app.domain.address import Address, read_address
from app.domain.problems import Problem
from app.domain.records import OutgoingMessage
from app.mail.headers import body_text, header_text
from app.ports import Enclosure, Sender

NAME_LIMIT = 70  # characters; a longer name pushes the address out of sight in most mail programs (house rule)
_LINE = 66  # characters of a value before it is folded, so that a line with its header's name stays under 78
_WORD_OCTETS = 45  # what an encoded word of at most 75 characters can hold: "=?utf-8?b?" + 60 + "?="
_MESSAGE_ID = re.compile(r"<[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~.]+@[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~.:\[\]]+>")
_PLAIN_PHRASE = re.compile(r"[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~ ]*")


def compose(message: OutgoingMessage, sender: Sender, enclosures: Sequence[Enclosure] = ()) -> EmailMessage | Problem:
    """Build the message, or say which address cannot be one (field `to`, `sender` or `reply_to`).

    Pictures the letter shows travel beside its HTML (RFC 2387, RFC 2392), every other file behind the letter.
    """
    to = read_address(message.to, "to")
    if isinstance(to, Problem):
        return to
    from_ = read_address(sender.address, "sender")
    if isinstance(from_, Problem):
        return from_
    reply_to = read_address(sender.reply_to or sender.address, "reply_to")
    if isinstance(reply_to, Problem):
        return reply_to
    if not _MESSAGE_ID.fullmatch(message.message_id):
        return Problem("message_id_broken", "message_id", {"typed": message.message_id})
    return _built(message, sender.name, to, from_, reply_to, enclosures)


def _built(
    message: OutgoingMessage,
    name: str,
    to: Address,
    from_: Address,
    reply_to: Address,
    enclosures: Sequence[Enclosure],
) -> EmailMessage:
    mail = EmailMessage(UTF8_POLICY if any(one.needs_utf8 for one in (to, from_, reply_to)) else ASCII_POLICY)
    mail["From"] = _mailbox(from_, name)
    mail["To"] = _mailbox(to)
    mail["Reply-To"] = _mailbox(reply_to, name)
    mail["Subject"] = header_text(message.subject)
    mail["Date"] = message.made_at
    mail["Message-ID"] = message.message_id
    mail["Auto-Submitted"] = "auto-generated"
    mail.set_content(body_text(message.text), charset="utf-8")
    shown = [one for one in enclosures if one.shown_as]
    html = body_text(message.html)
    for one in shown:
        html = html.replace(f'"cid:{one.shown_as}"', f'"cid:{_content_id(message, one.shown_as)}"')
    mail.add_alternative(html, subtype="html", charset="utf-8")
    letter = mail.get_body(("html",))
    if letter is not None:
        for one in shown:
            _add(letter.add_related, one, cid=f"<{_content_id(message, one.shown_as)}>", disposition="inline")
    for one in enclosures:
        if not one.shown_as:
            _add(mail.add_attachment, one)
    for number, part in enumerate(part for part in mail.walk() if part.is_multipart()):
        mark = f"{message.message_id} {number}" if number else message.message_id
        part.set_boundary("=_" + hashlib.sha256(mark.encode()).hexdigest()[:32])
    return mail


def _add(adding: Callable[..., None], one: Enclosure, **more: str) -> None:
    main, _, sub = one.kind.partition("/")
    adding(one.data, maintype=main, subtype=sub, filename=one.name, **more)


def _content_id(message: OutgoingMessage, name: str) -> str:
    """A picture's own id: the same however often the letter is tried, and no other letter's."""
    return f"{name}.{message.message_id.strip('<>')}"


def _mailbox(address: Address, name: str = "") -> MailAddress:
    return MailAddress(
        display_name=header_text(name, NAME_LIMIT), username=address.bare_local, domain=address.wire_domain
    )


# --- Headers on the wire --------------------------------------------------------------------------------------------


class _OwnHeaders(EmailPolicy):
    """Writes the Message-ID and the headers that hold people's words itself.

    Python 3.11 encodes a Message-ID that is longer than a line, which makes another one of it, and loses spaces where
    it splits an encoded name; other versions have lost a name's quotes. Here each is written one way only.
    """

    def fold(self, name: str, value: str) -> str:
        written = _written(name, value)
        return super().fold(name, value) if written is None else f"{name}: {written}\r\n"

    def fold_binary(self, name: str, value: str) -> bytes:
        written = _written(name, value)
        if written is None:
            return super().fold_binary(name, value)
        return f"{name}: {written}\r\n".encode("utf-8" if self.utf8 else "ascii")


# Bodies travel as seven-bit text, so that no server on the way has to be asked what it can carry.
ASCII_POLICY: EmailPolicy = _OwnHeaders(linesep="\r\n", cte_type="7bit")
UTF8_POLICY: EmailPolicy = _OwnHeaders(linesep="\r\n", cte_type="7bit", utf8=True)


def _written(name: str, value: str) -> str | None:
    """A header's value as it goes over the wire; `None` for the headers that Python may write."""
    match name.lower():
        case "message-id":
            return str(value)
        case "subject":
            return _folded(value) if value.isascii() else _encoded(value)
        case "from" | "to" | "reply-to":
            (address,) = value.addresses  # type: ignore[attr-defined]
            phrase = _phrase(address.display_name)
            return f"{phrase}\r\n <{address.addr_spec}>" if phrase else address.addr_spec
        case _:
            return None


def _phrase(name: str) -> str:
    """A name before an address: as it is, in quotes, or encoded. Readers differ on folds inside quotes: none."""
    if _PLAIN_PHRASE.fullmatch(name):
        return _folded(name)
    quoted = '"' + re.sub(r'(["\\])', r"\\\1", name) + '"'
    return quoted if name.isascii() and len(quoted) <= _LINE else _encoded(name)


def _folded(text: str) -> str:
    """Text in lines, broken only where a space was: the reader's side puts that space back."""
    return "\r\n ".join(textwrap.wrap(text, _LINE, break_long_words=False, break_on_hyphens=False))


def _encoded(text: str) -> str:
    """Text as encoded words, each whole characters; the white space between two of them does not count."""
    words: list[bytes] = [b""]
    for character in text:
        octets = character.encode("utf-8", "replace")
        if len(words[-1]) + len(octets) > _WORD_OCTETS:
            words.append(b"")
        words[-1] += octets
    return "\r\n ".join(f"=?utf-8?b?{base64.b64encode(word).decode('ascii')}?=" for word in words)
