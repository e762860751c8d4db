"""The post in a real SMTP conversation: what each answer of a mail server makes of a letter.

Every server here is a real one on this machine (aiosmtpd), or a bare socket where a server has to misbehave in ways
that a library will not.
"""

from __future__ import annotations

import asyncio
import contextlib
import email
import ipaddress
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from email.policy import default
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from app.domain.records import MessageState, OutgoingMessage
from app.mail.render import write_letter
from app.mail.smtp import SmtpPostman, SmtpRoad
from app.ports import Delivery
from app.storage.memory import MemoryStore
from app.use_cases.handback_letter import handback_facts
from app.use_cases.send_post import Patience, deliver_due, put_back, queue_message
from app.web.rendering import environment
from tests.unit.mail_cast import (
    CUSTOMER,
    JOB,
    SENDER,
    SHOP,
    VEHICLE,
    FakeClock,
    a_closed_sheet,
    a_message,
    a_store,
    counting,
)


@dataclass
class Inbox:
    """A mail server's mind: what it answers to each step, and what it has accepted."""

    to_mail: str = "250 OK"
    to_rcpt: list[str] = field(default_factory=lambda: ["250 OK"])
    to_data: str = "250 Message accepted for delivery"
    kept: list[bytes] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    callers: list[str] = field(default_factory=list)
    envelopes: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)

    async def handle_MAIL(self, server: SMTP, session: Session, envelope: Envelope, address: str, options: Any) -> str:
        self.heard.append(f"MAIL {address}")
        self.callers.append(str(session.host_name))
        if self.to_mail.startswith("250"):
            envelope.mail_from = address
            envelope.mail_options.extend(options)
        return self.to_mail

    async def handle_RCPT(self, server: SMTP, session: Session, envelope: Envelope, address: str, options: Any) -> str:
        self.heard.append(f"RCPT {address}")
        answer = self.to_rcpt.pop(0) if len(self.to_rcpt) > 1 else self.to_rcpt[0]
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        self.heard.append("DATA")
        if self.to_data.startswith("250"):
            self.kept.append(bytes(envelope.original_content or b""))
            self.envelopes.append((str(envelope.mail_from), tuple(envelope.rcpt_tos)))
        return self.to_data

    @property
    def letters(self) -> list[EmailMessage]:
        read = [email.message_from_bytes(raw, policy=default) for raw in self.kept]
        return [letter for letter in read if isinstance(letter, EmailMessage)]


@contextlib.contextmanager
def serving(inbox: Inbox, *, private: ssl.SSLContext | None = None, **more: Any) -> Iterator[int]:
    """A mail server on this machine, in a thread of its own; gives its port. `private`: TLS from the first byte.

    aiosmtpd's own controller wants a port chosen before, which another process could take meanwhile.
    """
    loop = asyncio.new_event_loop()
    server = loop.run_until_complete(
        loop.create_server(lambda: SMTP(inbox, loop=loop, **more), "127.0.0.1", 0, ssl=private)
    )
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    try:
        yield server.sockets[0].getsockname()[1]
    finally:
        asyncio.run_coroutine_threadsafe(_end(server), loop).result(10)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(10)
        loop.close()


async def _end(server: asyncio.Server) -> None:
    """Close, and end the conversations that are still open."""
    server.close()
    others = asyncio.all_tasks() - {asyncio.current_task()}
    for task in others:
        task.cancel()
    await asyncio.gather(*others, return_exceptions=True)


def road(port: int, **more: Any) -> SmtpRoad:
    given: dict[str, Any] = {"host": "127.0.0.1", "security": "none", "timeout_s": 5, "total_s": 20}
    return SmtpRoad(port=port, **{**given, **more})


def delivered(port: int, message: OutgoingMessage | None = None, **more: Any) -> Delivery:
    return SmtpPostman(road(port, **more)).deliver(message or a_message(), SENDER)


# --- Accepted -------------------------------------------------------------------------------------------------------


def test_an_accepted_letter_arrives_whole_and_is_read_back() -> None:
    inbox = Inbox()
    facts = handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, a_closed_sheet())
    letter = write_letter(environment(), facts)

    with serving(inbox) as port:
        delivery = delivered(port, a_message(subject=letter.subject, text=letter.text, html=letter.html))

    assert delivery == Delivery(kept=True, for_good=False, answer="250 Message accepted for delivery")
    assert inbox.envelopes == [("post@axle-arm.example", ("mira@okonjo.example",))]
    (got,) = inbox.letters
    assert got["Message-ID"] == "<m1@axle-arm.example>"
    assert str(got["Subject"]) == "MB 41 TK: what we did, job 2026-0117 (Axle & Arm Workshop)"
    plain, html = (part.get_content().replace("\r\n", "\n") for part in got.iter_parts())
    assert (plain, html) == (letter.text, letter.html)


def test_the_office_names_itself_by_its_address_on_the_connection() -> None:
    """RFC 5321 section 4.1.4: who has no name of its own gives its address, in brackets."""
    inbox = Inbox()

    with serving(inbox) as port:
        delivered(port)

    assert inbox.callers == ["[127.0.0.1]"]


def test_lines_that_begin_with_a_dot_arrive_as_they_were() -> None:
    inbox = Inbox()

    with serving(inbox) as port:
        delivered(port, a_message(text=".\n..\n.hidden\nend\n"))

    plain, _ = inbox.letters[0].iter_parts()
    assert plain.get_content().replace("\r\n", "\n") == ".\n..\n.hidden\nend\n"


@pytest.mark.parametrize("to", ['"Joe Blow"@example.com', '"a@b"@example.com', "customer/dep=x@example.com"])
def test_an_odd_address_goes_over_the_wire_unchanged(to: str) -> None:
    inbox = Inbox()

    with serving(inbox) as port:
        assert delivered(port, a_message(to=to)).kept

    assert inbox.heard[1] == f"RCPT {to}"


def test_a_domain_beyond_ascii_goes_over_the_wire_in_ascii() -> None:
    inbox = Inbox()

    with serving(inbox) as port:
        assert delivered(port, a_message(to="mira@straße.example")).kept

    assert inbox.heard[1] == "RCPT mira@xn--strae-oqa.example"


def test_letters_beyond_ascii_before_the_at_need_a_server_that_takes_them() -> None:
    able, unable = Inbox(), Inbox()
    message = a_message(to="grüße@okonjo.example")

    with serving(able, enable_SMTPUTF8=True) as port:
        assert delivered(port, message).kept
    with serving(unable, enable_SMTPUTF8=False) as port:
        refused = delivered(port, message)

    assert able.heard[1] == "RCPT grüße@okonjo.example"
    assert (refused.kept, refused.for_good) == (False, True)
    assert "letters beyond a to z" in refused.answer
    assert unable.heard == []


# --- Refused --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answers", "for_good"),
    [
        ({"to_rcpt": ["550 5.1.1 No such mailbox"]}, True),
        ({"to_rcpt": ["451 4.7.1 Greylisted, try again in five minutes"]}, False),
        ({"to_rcpt": ["552 5.2.2 Mailbox full"]}, False),
        ({"to_mail": "550 5.1.0 Sender unknown"}, True),
        ({"to_mail": "530 5.7.0 Sign in first"}, False),
        ({"to_mail": "452 4.3.1 No room"}, False),
        ({"to_data": "554 5.7.1 Refused"}, True),
        ({"to_data": "451 4.3.0 Local trouble"}, False),
    ],
)
def test_what_a_refusal_means_follows_its_code(answers: dict[str, Any], for_good: bool) -> None:
    inbox = Inbox(**answers)

    with serving(inbox) as port:
        delivery = delivered(port)

    said = answers.get("to_rcpt", [answers.get("to_mail") or answers.get("to_data")])[0]
    assert (delivery.kept, delivery.for_good) == (False, for_good)
    assert str(said) in delivery.answer
    assert inbox.kept == []


def test_a_letter_too_large_for_the_server_is_refused_for_good_before_it_is_sent() -> None:
    inbox = Inbox()

    with serving(inbox, data_size_limit=1_000) as port:
        delivery = delivered(port, a_message(text="long\n" * 1_000))

    assert (delivery.kept, delivery.for_good) == (False, True)
    assert "552" in delivery.answer
    assert inbox.heard == []


# --- Servers that misbehave -----------------------------------------------------------------------------------------

Talk = Callable[[socket.socket], None]


@contextlib.contextmanager
def misbehaving(talk: Talk) -> Iterator[int]:
    """A bare socket that talks to one caller as told, then hangs up."""
    listener = socket.create_server(("127.0.0.1", 0))

    def answer() -> None:
        with contextlib.suppress(OSError):
            caller, _ = listener.accept()
            caller.settimeout(20)
            with caller:
                talk(caller)

    thread = threading.Thread(target=answer, daemon=True)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        listener.close()
        thread.join(10)


def up_to_the_letter(caller: socket.socket) -> None:
    """Be a well-behaved server until the caller begins to send the letter."""
    caller.sendall(b"220 here\r\n")
    for answer in (b"250 here\r\n", b"250 OK\r\n", b"250 OK\r\n", b"354 Go on\r\n"):
        line(caller)
        caller.sendall(answer)


def line(caller: socket.socket) -> bytes:
    got = b""
    while not got.endswith(b"\n"):
        byte = caller.recv(1)
        if not byte:
            break
        got += byte
    return got


def whole_letter(caller: socket.socket) -> bytes:
    got = b""
    while not got.endswith(b"\r\n.\r\n"):
        got += caller.recv(65_536)
    return got


def hang_up(caller: socket.socket) -> None:
    """End at once: the other side sees a reset, not a farewell."""
    caller.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\x00\x00\x00\x00\x00\x00\x00")


def cut_off_amid_the_letter(caller: socket.socket) -> None:
    up_to_the_letter(caller)
    caller.recv(10)
    hang_up(caller)


def cut_off_after_the_final_dot(caller: socket.socket) -> None:
    up_to_the_letter(caller)
    whole_letter(caller)
    hang_up(caller)


def silent_after_the_final_dot(caller: socket.socket) -> None:
    up_to_the_letter(caller)
    whole_letter(caller)
    caller.recv(1)  # until the other side gives up


def silent_from_the_start(caller: socket.socket) -> None:
    caller.recv(1)


def drips(caller: socket.socket) -> None:
    """Send a greeting that never ends, a byte at a time, each well within any time-out."""
    with contextlib.suppress(OSError):
        for _ in range(200):
            caller.sendall(b"2")
            threading.Event().wait(0.1)


def talks_nonsense(caller: socket.socket) -> None:
    caller.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")


def has_no_time(caller: socket.socket) -> None:
    caller.sendall(b"421 4.3.2 Too busy\r\n")


def takes_no_one(caller: socket.socket) -> None:
    caller.sendall(b"554 5.7.1 Your network is not welcome\r\n")


@pytest.mark.parametrize(
    ("talk", "words"),
    [
        (cut_off_amid_the_letter, "broke"),
        (cut_off_after_the_final_dot, "broke"),
        (silent_after_the_final_dot, "did not answer in time"),
        (silent_from_the_start, "did not answer in time"),
        (talks_nonsense, ""),
        (has_no_time, "421"),
        (takes_no_one, "554"),
    ],
)
def test_a_server_that_breaks_off_means_try_again(talk: Talk, words: str) -> None:
    with misbehaving(talk) as port:
        delivery = delivered(port, timeout_s=1)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert words in delivery.answer
    assert delivery.answer


def test_a_server_that_drips_is_left_when_the_whole_time_is_up() -> None:
    """A time-out begins anew with every byte; the time for the whole does not. It would drip for twenty seconds."""
    began = time.monotonic()

    with misbehaving(drips) as port:
        delivery = delivered(port, timeout_s=5, total_s=1)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert time.monotonic() - began < 15


def test_a_farewell_that_fails_does_not_undo_an_acknowledged_letter() -> None:
    def accepts_and_hangs_up(caller: socket.socket) -> None:
        up_to_the_letter(caller)
        whole_letter(caller)
        caller.sendall(b"250 Accepted\r\n")
        hang_up(caller)

    with misbehaving(accepts_and_hangs_up) as port:
        delivery = delivered(port)

    assert delivery.kept


def test_a_port_where_nobody_listens_and_a_name_nobody_has_mean_try_again() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]

    nobody, nameless = delivered(port), delivered(port, host="mail.invalid")

    assert (nobody.kept, nobody.for_good) == (False, False)
    assert (nameless.kept, nameless.for_good) == (False, False)


# --- Privacy and signing in -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Papers:
    """A shop-made authority and a mail server's certificate from it."""

    ca_file: Path
    context: ssl.SSLContext


@pytest.fixture(scope="module")
def papers(tmp_path_factory: pytest.TempPathFactory) -> Papers:
    folder = tmp_path_factory.mktemp("papers")
    ca_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    issuer = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Shop authority")])
    authority = _certificate(issuer, issuer, ca_key, ca_key, is_authority=True)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "mail")])
    leaf = _certificate(name, issuer, key, ca_key, is_authority=False)
    ca_file, chain = folder / "ca.pem", folder / "mail.pem"
    ca_file.write_bytes(authority.public_bytes(serialization.Encoding.PEM))
    chain.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        + leaf.public_bytes(serialization.Encoding.PEM)
    )  # fmt: skip
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(chain)
    return Papers(ca_file, context)


def _certificate(
    name: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    issuer_key: ec.EllipticCurvePrivateKey,
    *,
    is_authority: bool,
) -> x509.Certificate:
    now = datetime.now(UTC)
    names = [x509.IPAddress(ipaddress.ip_address("127.0.0.1")), x509.DNSName("mail.shop.example")]
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=30))
        .add_extension(x509.BasicConstraints(ca=is_authority, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key()), critical=False
        )
        .sign(issuer_key, hashes.SHA256())
    )  # fmt: skip


USER, PASSWORD = "post@axle-arm.example", "pin-and-nut"


def only(user: str, password: str) -> Callable[..., AuthResult]:
    def check(server: SMTP, session: Session, envelope: Envelope, mechanism: str, given: Any) -> AuthResult:
        assert isinstance(given, LoginPassword)
        right = (given.login, given.password) == (user.encode(), password.encode())
        return AuthResult(success=right, handled=False)

    return check


def test_after_starttls_and_signing_in_a_letter_goes_out(papers: Papers) -> None:
    inbox = Inbox()

    with serving(
        inbox, tls_context=papers.context, require_starttls=True, auth_required=True,
        authenticator=only(USER, PASSWORD),
    ) as port:  # fmt: skip
        delivery = delivered(port, security="starttls", user=USER, password=PASSWORD, ca_file=papers.ca_file)

    assert delivery.kept, delivery.answer
    assert len(inbox.kept) == 1


def test_names_and_passwords_beyond_ascii_can_sign_in(papers: Papers) -> None:
    inbox = Inbox()

    with serving(
        inbox, tls_context=papers.context, auth_required=True, authenticator=only("größe", "schlüssel 🔩")
    ) as port:
        delivery = delivered(port, security="starttls", user="größe", password="schlüssel 🔩", ca_file=papers.ca_file)

    assert delivery.kept, delivery.answer


def test_a_connection_private_from_the_first_byte_works(papers: Papers) -> None:
    inbox = Inbox()

    with serving(inbox, private=papers.context) as port:
        delivery = delivered(port, security="tls", ca_file=papers.ca_file)

    assert delivery.kept, delivery.answer


def test_a_wrong_password_means_try_again_and_says_where_to_look(papers: Papers) -> None:
    """The letter is not at fault: once the settings are right it has to go out."""
    inbox = Inbox()

    with serving(
        inbox, tls_context=papers.context, auth_required=True, authenticator=only(USER, PASSWORD)
    ) as port:  # fmt: skip
        delivery = delivered(port, security="starttls", user=USER, password="wrong", ca_file=papers.ca_file)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert "535" in delivery.answer
    assert "Check the mail settings" in delivery.answer
    assert inbox.heard == []


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_that_does_not_verify_stops_before_anything_is_said(papers: Papers, security: str) -> None:
    inbox = Inbox()
    offer = {"private": papers.context} if security == "tls" else {"tls_context": papers.context}

    with serving(inbox, **offer) as port:
        delivery = delivered(port, security=security, user=USER, password=PASSWORD)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert "certificate could not be verified" in delivery.answer
    assert inbox.heard == []


def test_a_certificate_of_another_name_does_not_verify(papers: Papers) -> None:
    inbox = Inbox()

    with serving(inbox, tls_context=papers.context) as port:
        delivery = delivered(port, host="localhost", security="starttls", ca_file=papers.ca_file)

    assert not delivery.kept
    assert "certificate could not be verified" in delivery.answer


def test_a_server_without_starttls_is_told_nothing_when_it_is_asked_for() -> None:
    inbox = Inbox()

    with serving(inbox) as port:
        delivery = delivered(port, security="starttls", user=USER, password=PASSWORD)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert "does not offer STARTTLS" in delivery.answer
    assert inbox.heard == []


def test_a_password_is_not_sent_where_others_could_read_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A road without security and with a password is used to this machine only.

    Not every machine that runs this has an address of its own on a network, so the server here is said to be away.
    """
    inbox = Inbox()

    with serving(inbox, auth_require_tls=False, authenticator=only(USER, PASSWORD)) as port:
        here = delivered(port, user=USER, password=PASSWORD)
        monkeypatch.setattr("app.mail.smtp._is_this_machine", lambda server: False)
        away = delivered(port, user=USER, password=PASSWORD)

    assert here.kept, here.answer
    assert (away.kept, away.for_good) == (False, False)
    assert "not sent where others could read it" in away.answer
    assert len(inbox.kept) == 1


def test_a_server_that_knows_no_signing_in_is_told_so() -> None:
    inbox = Inbox()

    with serving(inbox) as port:
        delivery = delivered(port, user=USER, password=PASSWORD)

    assert (delivery.kept, delivery.for_good) == (False, False)
    assert "takes no user name and password" in delivery.answer


def test_a_password_never_shows_where_settings_are_printed() -> None:
    assert PASSWORD not in repr(road(25, user=USER, password=PASSWORD))


# --- The outbox against a real server -------------------------------------------------------------------------------


def queued(store: MemoryStore, clock: FakeClock, to: str = "mira@okonjo.example") -> OutgoingMessage:
    facts = handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, a_closed_sheet())
    with store.writing() as unit:
        message = queue_message(
            unit,
            key="handback:j1:1",
            job="j1",
            to=to,
            letter=write_letter(environment(), facts),
            now=clock(),
            new_id=counting(),
            domain="axle-arm.example",
        )
        unit.commit()
    return message


def state_of(store: MemoryStore) -> OutgoingMessage:
    with store.reading() as unit:
        (message,) = unit.outbox.all()
    return message


def go_round(store: MemoryStore, clock: FakeClock, port: int, **more: Any) -> None:
    deliver_due(store, SmtpPostman(road(port, **more)), clock, lambda most: 0, patience=Patience(lease_s=60))


def test_a_greylisted_letter_is_accepted_later_under_the_same_id_and_never_sent_again() -> None:
    store, clock, inbox = a_store(), FakeClock(), Inbox(to_rcpt=["451 4.7.1 Greylisted", "250 OK"])
    message = queued(store, clock)

    with serving(inbox) as port:
        go_round(store, clock, port)
        assert state_of(store).state is MessageState.WAITING
        go_round(store, clock, port)
        assert len(inbox.heard) == 2, "not tried again before its time"
        for _ in range(5):
            clock.forward(3_600)
            go_round(store, clock, port)

    assert state_of(store).state is MessageState.SENT
    assert [letter["Message-ID"] for letter in inbox.letters] == [message.message_id]


def test_a_letter_cut_off_goes_again_under_the_same_id() -> None:
    store, clock, inbox = a_store(), FakeClock(), Inbox()
    message = queued(store, clock)
    seen: list[bytes] = []

    def takes_it_and_hangs_up(caller: socket.socket) -> None:
        up_to_the_letter(caller)
        seen.append(whole_letter(caller))
        hang_up(caller)

    with misbehaving(takes_it_and_hangs_up) as port:
        go_round(store, clock, port)
    assert state_of(store).state is MessageState.WAITING
    clock.forward(3_600)
    with serving(inbox) as port:
        go_round(store, clock, port)

    assert state_of(store).state is MessageState.SENT
    assert message.message_id.encode() in seen[0]
    assert [letter["Message-ID"] for letter in inbox.letters] == [message.message_id]


def test_a_refused_recipient_waits_for_the_desk_and_goes_to_the_corrected_address() -> None:
    store, clock, inbox = a_store(), FakeClock(), Inbox(to_rcpt=["550 5.1.1 No such mailbox", "250 OK"])
    message = queued(store, clock, to="mirra@okonjo.example")

    with serving(inbox) as port:
        go_round(store, clock, port)
        refused = state_of(store)
        clock.forward(86_400)
        go_round(store, clock, port)
        assert inbox.heard.count("RCPT mirra@okonjo.example") == 1
        with store.writing() as unit:
            put_back(unit, message.id, to="mira@okonjo.example", now=clock())
            unit.commit()
        go_round(store, clock, port)

    assert (refused.state, "550 5.1.1" in refused.last_answer) == (MessageState.UNDELIVERABLE, True)
    assert state_of(store).state is MessageState.SENT
    assert inbox.envelopes == [(SHOP.email, ("mira@okonjo.example",))]
    assert inbox.letters[0]["Message-ID"] == message.message_id
