"""A postman who hands letters to a mail server by SMTP, and tells apart what the server's answers mean.

What ends a try, and what it means for the message:

    accepted after the final dot                    kept
    4xx anywhere                                    try again
    5xx to MAIL, RCPT, DATA or the letter itself    for good, but for the codes below
    552 to RCPT (mailbox full)                      try again
    530, 534, 535, 538 (sign in first, wrong or     try again: the settings are at fault, not the letter
      too weak a sign-in), 5xx in greeting,
      EHLO, STARTTLS or AUTH
    cut off, timed out, no name, no route           try again; also when the final dot was sent and the answer
                                                    never came: the same Message-ID goes again
    STARTTLS asked for and not offered, a           try again: nothing was said that others could read
      certificate that does not verify

Source: RFC 5321 (October 2008) sections 4.2.1 and 4.5.3.1.10 (552), RFC 4954 (July 2007) section 6, RFC 3207
(February 2002). Read from memory.
"""

from __future__ import annotations

import base64
import ipaddress
import smtplib
import socket
import ssl
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email.message import EmailMessage
from pathlib import Path
from typing import Any, Literal

from app.domain.address import Address, read_address
from app.domain.problems import Problem
from app.domain.records import OutgoingMessage
from app.mail.compose import UTF8_POLICY, compose
from app.mail.headers import header_text
from app.ports import Delivery, Enclosure, Sender

_SETTINGS_AT_FAULT = frozenset({530, 534, 535, 538})
_MAILBOX_FULL = 552
_ANSWER_LIMIT = 500


@dataclass(frozen=True, slots=True)
class SmtpRoad:
    """Where and how letters are handed over.

    security:  kept private not at all, after STARTTLS, or from the first byte.
    ca_file:   authorities to trust besides the system's, for a mail server of the shop's own; certificates are
               always verified.
    timeout_s: how long any single answer may take. total_s: how long a whole handing-over may once connected; the
               lease of `deliver_due` has to be longer.
    """

    host: str
    port: int = 587
    security: Literal["none", "starttls", "tls"] = "starttls"
    user: str = ""
    password: str = field(default="", repr=False)
    timeout_s: int = 30
    ca_file: Path | None = None
    total_s: int = 180


class _Stopped(Exception):
    """The conversation ended before the letter was accepted; carries what that means."""

    def __init__(self, answer: str, *, for_good: bool = False) -> None:
        super().__init__(answer)
        self.delivery = Delivery(kept=False, for_good=for_good, answer=header_text(answer, _ANSWER_LIMIT))


class _Watch:
    """Ends a conversation from outside when its time is up: whoever waits on the socket wakes with an error.

    A time-out per answer is not enough. It begins anew with every byte, so a server that drips can hold it for hours.
    """

    def __init__(self, total_s: int) -> None:
        self._server: smtplib.SMTP | None = None
        self._timer = threading.Timer(total_s, self._cut)
        self._timer.daemon = True
        self._timer.start()

    def over(self, server: smtplib.SMTP) -> None:
        self._server = server

    def end(self) -> None:
        self._timer.cancel()

    def _cut(self) -> None:
        held = self._server.sock if self._server is not None else None
        if held is not None:
            with suppress(OSError):
                socket.socket.shutdown(held, socket.SHUT_RDWR)


class _Watched(smtplib.SMTP):
    """A conversation that is watched from before its first byte; smtplib connects while it is being made."""

    def __init__(self, watch: _Watch, *args: Any, **more: Any) -> None:
        watch.over(self)
        super().__init__(*args, **more)


class _WatchedTls(_Watched, smtplib.SMTP_SSL):
    pass


class SmtpPostman:
    def __init__(self, road: SmtpRoad) -> None:
        self._road = road

    def deliver(self, message: OutgoingMessage, sender: Sender, enclosures: Sequence[Enclosure] = ()) -> Delivery:
        mail = compose(message, sender, enclosures)
        if isinstance(mail, Problem):
            return Delivery(kept=False, for_good=mail.field in ("to", "message_id"), answer=mail.code)
        try:
            with self._connected() as server:
                answer = self._hand_over(server, mail, _read(sender.address), _read(message.to))
        except _Stopped as stopped:
            return stopped.delivery
        except (OSError, smtplib.SMTPException, ValueError) as error:
            return Delivery(kept=False, for_good=False, answer=header_text(_in_words(error), _ANSWER_LIMIT))
        return Delivery(kept=True, for_good=False, answer=header_text(answer, _ANSWER_LIMIT))

    # --- Getting to a server that may be talked to ----------------------------------------------------------------

    @contextmanager
    def _connected(self) -> Iterator[smtplib.SMTP]:
        """A conversation that has got as far as MAIL. It is cut when its whole time is up, however slowly it drips."""
        watch = _Watch(self._road.total_s)
        try:
            server = self._greeted(watch)
            try:
                _name_ourselves(server)
                server.ehlo_or_helo_if_needed()
                if self._road.security == "starttls":
                    self._start_tls(server)
                self._sign_in(server)
                yield server
                with suppress(OSError, smtplib.SMTPException):
                    server.quit()  # the letter is accepted by now: a farewell that fails changes nothing
            finally:
                server.close()
        finally:
            watch.end()

    def _greeted(self, watch: _Watch) -> smtplib.SMTP:
        road = self._road
        # A name is given because smtplib otherwise asks the network for this machine's own, which can take minutes.
        if road.security == "tls":
            return _WatchedTls(
                watch, road.host, road.port, "localhost", timeout=road.timeout_s, context=self._context()
            )
        return _Watched(watch, road.host, road.port, "localhost", timeout=road.timeout_s)

    def _context(self) -> ssl.SSLContext:
        context = ssl.create_default_context()
        if self._road.ca_file is not None:
            context.load_verify_locations(self._road.ca_file)
        return context

    def _start_tls(self, server: smtplib.SMTP) -> None:
        if not server.has_extn("starttls"):
            raise _Stopped(
                f"{self._road.host} does not offer STARTTLS, which the mail settings ask for. Nothing was sent. "
                "Ask your mail provider for the port and kind of security."
            )
        _expect(server.starttls(context=self._context()), "STARTTLS", settings_at_fault=True)
        server.ehlo_or_helo_if_needed()

    def _sign_in(self, server: smtplib.SMTP) -> None:
        road = self._road
        if not road.user:
            return
        if road.security == "none" and not _is_this_machine(server):
            raise _Stopped(
                "The mail settings hold a password but no security. It is not sent where others could read it: "
                "set the security to starttls or tls."
            )
        if not server.has_extn("auth"):
            raise _Stopped(f"{road.host} takes no user name and password here. Check the port and the security.")
        code, words = _authenticate(server, road.user, road.password)
        if code // 100 != 2:
            raise _Stopped(
                f"{road.host} refused the user name or password: {_said(code, words)}. Check the mail settings."
            )

    # --- The letter itself ----------------------------------------------------------------------------------------

    def _hand_over(self, server: smtplib.SMTP, mail: EmailMessage, from_: Address, to: Address) -> str:
        options: list[str] = []
        if mail.policy is UTF8_POLICY:
            if not server.has_extn("smtputf8"):
                raise _Stopped(
                    f"{self._road.host} takes no addresses with letters beyond a to z before the @.", for_good=True
                )
            options = ["SMTPUTF8", "BODY=8BITMIME"]
        content = mail.as_bytes()
        if server.has_extn("size"):
            options.append(f"SIZE={len(content)}")
        _expect(server.mail(from_.wire, options), f"sender {from_.wire}")
        _expect(server.rcpt(to.wire), f"recipient {to.wire}", full=True)
        try:
            code, words = server.data(content)
        except smtplib.SMTPDataError as error:
            code, words = error.smtp_code, _bytes(error.smtp_error)
        _expect((code, words), "letter")
        return _said(code, words)


def _read(typed: str) -> Address:
    address = read_address(typed)
    if isinstance(address, Problem):  # compose has read the same texts before
        raise _Stopped(address.code)
    return address


def _authenticate(server: smtplib.SMTP, user: str, password: str) -> tuple[int, bytes]:
    """Sign in. Names and passwords beyond ASCII go by PLAIN in UTF-8 (RFC 4616), which smtplib does not do itself."""
    if not (user + password).isascii():
        token = base64.b64encode(f"\0{user}\0{password}".encode()).decode("ascii")
        return server.docmd("AUTH", f"PLAIN {token}")
    try:
        return server.login(user, password)
    except smtplib.SMTPAuthenticationError as error:
        return error.smtp_code, _bytes(error.smtp_error)


def _expect(reply: tuple[int, bytes], to_what: str, *, settings_at_fault: bool = False, full: bool = False) -> None:
    """Go on when the reply says yes.

    Raises: _Stopped otherwise; for good only for a 5xx that is about the letter.
    """
    code, words = reply
    if code // 100 == 2:
        return
    if code == -1:  # smtplib's way to say that the line went dead
        raise _Stopped(f"The mail server hung up ({to_what}).")
    about_letter = not (settings_at_fault or code in _SETTINGS_AT_FAULT or (full and code == _MAILBOX_FULL))
    raise _Stopped(f"{to_what}: {_said(code, words)}", for_good=code // 100 == 5 and about_letter)


def _name_ourselves(server: smtplib.SMTP) -> None:
    """Say EHLO with the address this machine has on the connection, as RFC 5321 section 4.1.4 lets a nameless one."""
    address = ipaddress.ip_address(_socket(server).getsockname()[0].partition("%")[0])
    server.local_hostname = f"[IPv6:{address}]" if address.version == 6 else f"[{address}]"


def _is_this_machine(server: smtplib.SMTP) -> bool:
    return ipaddress.ip_address(_socket(server).getpeername()[0].partition("%")[0]).is_loopback


def _socket(server: smtplib.SMTP) -> socket.socket:
    if server.sock is None:
        raise smtplib.SMTPServerDisconnected("the connection was closed")
    return server.sock


def _said(code: int, words: bytes) -> str:
    return f"{code} {words.decode('utf-8', 'replace')}"


def _bytes(words: bytes | str) -> bytes:
    return words if isinstance(words, bytes) else words.encode("utf-8", "replace")


def _in_words(error: Exception) -> str:
    match error:
        case ssl.SSLCertVerificationError():
            return f"The mail server's certificate could not be verified: {error.verify_message}. Nothing was sent."
        case ssl.SSLError():
            return f"No private connection with the mail server: {error.reason or error}. Nothing was sent."
        case TimeoutError() | smtplib.SMTPServerDisconnected(__context__=TimeoutError()):
            return "The mail server did not answer in time."
        case socket.gaierror():
            return f"The mail server's name was not found: {error.strerror}."
        case smtplib.SMTPServerDisconnected() | ConnectionError():
            return f"The connection with the mail server broke: {error}."
        case smtplib.SMTPResponseException():
            return f"The mail server answered: {_said(error.smtp_code, _bytes(error.smtp_error))}."
        case _:
            return f"The mail server could not be talked to: {error}."
