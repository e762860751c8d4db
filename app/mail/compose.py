"""From a row of the outbox to the message on the wire: the same bytes however often it is tried.

The Message-ID is the record's for ever, the Date is when the message was made: a receiver that gets it twice can tell.
Source: RFC 5322 (October 2008) sections 2.1.1 and 3.6; RFC 3834 (August 2004) section 5 for Auto-Submitted; RFC 2047
for names beyond ASCII. Read from memory.
"""

from __future__ import annotations

import hashlib
import re
from email.headerregistry import Address as MailAddress
from email.message import EmailMessage
from email.policy import EmailPolicy

from app.domain.address import Address, read_address
from app.domain.problems import Problem
from app.domain.records import OutgoingMessage
from app.mail.headers import body_text, header_text
from app.ports import Sender

NAME_LIMIT = 70  # characters; a longer name pushes the address out of sight in most mail programs (house rule)
_MESSAGE_ID = re.compile(r"<[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~.]+@[A-Za-z0-9!#$%&'*+\-/=?^_`{|}~.:\[\]]+>")


class _OneLineIds(EmailPolicy):
    """Python 3.11 encodes a Message-ID that is longer than a line, which makes another one of it; ours stay whole."""

    def fold(self, name: str, value: str) -> str:
        return _whole(name, value) or super().fold(name, value)

    def fold_binary(self, name: str, value: str) -> bytes:
        return _whole(name, value).encode("ascii") or super().fold_binary(name, value)


def _whole(name: str, value: str) -> str:
    return f"{name}: {value}\r\n" if name.lower() == "message-id" else ""


# Bodies travel as seven-bit text, so that no server on the way has to be asked what it can carry.
ASCII_POLICY: EmailPolicy = _OneLineIds(linesep="\r\n", cte_type="7bit")
UTF8_POLICY: EmailPolicy = _OneLineIds(linesep="\r\n", cte_type="7bit", utf8=True)


def compose(message: OutgoingMessage, sender: Sender) -> EmailMessage | Problem:
    """Build the message, or say which address cannot be one (field `to`, `sender` or `reply_to`)."""
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
    return _built(message, sender.name, to, from_, reply_to)


def _built(message: OutgoingMessage, name: str, to: Address, from_: Address, reply_to: Address) -> EmailMessage:
    mail = EmailMessage(UTF8_POLICY if any(one.needs_utf8 for one in (to, from_, reply_to)) else ASCII_POLICY)
    mail["From"] = _mailbox(from_, name)
    mail["To"] = _mailbox(to)
    mail["Reply-To"] = _mailbox(reply_to, name)
    mail["Subject"] = header_text(message.subject)
    mail["Date"] = message.made_at
    mail["Message-ID"] = message.message_id
    mail["Auto-Submitted"] = "auto-generated"
    mail.set_content(body_text(message.text), charset="utf-8")
    mail.add_alternative(body_text(message.html), subtype="html", charset="utf-8")
    mail.set_boundary("=_" + hashlib.sha256(message.message_id.encode()).hexdigest()[:32])
    return mail


def _mailbox(address: Address, name: str = "") -> MailAddress:
    return MailAddress(
        display_name=header_text(name, NAME_LIMIT), username=address.bare_local, domain=address.wire_domain
    )
