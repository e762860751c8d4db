"""From a row of the outbox to a message: whole headers, one address in each, the same bytes each time."""

from __future__ import annotations

import dataclasses
import email
from email.header import decode_header, make_header
from email.message import EmailMessage
from email.policy import default
from email.utils import getaddresses

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.domain.problems import Problem
from app.mail.compose import NAME_LIMIT, compose
from app.mail.headers import header_text
from app.ports import Enclosure, Sender
from tests.unit.mail_cast import SENDER, a_message

HEADERS = [
    "From", "To", "Reply-To", "Subject", "Date", "Message-ID", "Auto-Submitted", "MIME-Version", "Content-Type",
]  # fmt: skip


def built(message: object = None, sender: Sender = SENDER) -> EmailMessage:
    mail = compose(message or a_message(), sender)  # type: ignore[arg-type]
    assert isinstance(mail, EmailMessage)
    return mail


def parsed(mail: EmailMessage) -> EmailMessage:
    back = email.message_from_bytes(mail.as_bytes(), policy=default)
    assert isinstance(back, EmailMessage)
    return back


def decoded(value: str) -> str:
    """A header's text by the older of Python's two decoders, which joins encoded words as RFC 2047 says."""
    return str(make_header(decode_header(value)))


def test_a_message_carries_its_own_id_and_the_time_it_was_made() -> None:
    back = parsed(built())

    assert back["Message-ID"] == "<m1@axle-arm.example>"
    assert back["Date"].datetime == a_message().made_at
    assert back["Auto-Submitted"] == "auto-generated"


def test_answers_go_to_the_shop_also_when_the_mail_account_has_another_address() -> None:
    back = parsed(built())

    assert back["From"].addresses[0].addr_spec == "post@axle-arm.example"
    assert back["Reply-To"].addresses[0].addr_spec == "desk@axle-arm.example"
    assert back["From"].addresses[0].display_name == "Axle & Arm Workshop"


def test_text_and_html_travel_as_alternatives_in_utf_8_within_seven_bits() -> None:
    mail = built()
    back = parsed(mail)

    assert mail.as_bytes().isascii()
    assert back.get_content_type() == "multipart/alternative"
    plain, html = back.iter_parts()
    assert (plain.get_content_type(), plain.get_content_charset()) == ("text/plain", "utf-8")
    assert (html.get_content_type(), html.get_content_charset()) == ("text/html", "utf-8")
    assert plain.get_content().replace("\r\n", "\n") == a_message().text
    assert html.get_content().replace("\r\n", "\n") == a_message().html


def test_a_message_composed_again_has_the_same_bytes() -> None:
    assert built().as_bytes() == built().as_bytes()


def test_a_message_id_longer_than_a_line_stays_itself() -> None:
    """Python 3.11 would encode it, which makes another one of it."""
    long_id = f"<{'a' * 36}@{'b' * 60}.{'c' * 60}.example>"

    raw = built(a_message(message_id=long_id)).as_bytes()

    assert f"Message-ID: {long_id}\r\n".encode() in raw


@pytest.mark.parametrize(
    ("to", "wire"),
    [
        ('"Joe Blow"@example.com', '"Joe Blow"@example.com'),
        ("a@[192.0.2.17]", "a@[192.0.2.17]"),
        ("mira@straße.example", "mira@xn--strae-oqa.example"),
        ("customer/department=shipping@example.com", "customer/department=shipping@example.com"),
    ],
)
def test_an_odd_address_arrives_in_the_header_as_it_goes_over_the_wire(to: str, wire: str) -> None:
    assert parsed(built(a_message(to=to)))["To"].addresses[0].addr_spec == wire


def test_letters_beyond_ascii_before_the_at_are_written_in_utf_8() -> None:
    assert "To: grüße@okonjo.example\r\n".encode() in built(a_message(to="grüße@okonjo.example")).as_bytes()


@pytest.mark.parametrize(
    ("message", "sender", "field", "code"),
    [
        (a_message(to="nobody"), SENDER, "to", "address_no_at"),
        (a_message(), Sender("Shop", "", "desk@axle-arm.example"), "sender", "address_missing"),
        (a_message(), Sender("Shop", "post@axle-arm.example", "desk"), "reply_to", "address_no_at"),
        (a_message(message_id="m1"), SENDER, "message_id", "message_id_broken"),
        (a_message(message_id="<m1@x.example>\r\nBcc: b@x.example"), SENDER, "message_id", "message_id_broken"),
    ],
)
def test_what_cannot_be_sent_is_a_problem_that_names_the_field(
    message: object, sender: Sender, field: str, code: str
) -> None:
    problem = compose(message, sender)  # type: ignore[arg-type]

    assert isinstance(problem, Problem)
    assert (problem.field, problem.code) == (field, code)


_NASTY = st.text(max_size=300) | st.lists(
    st.sampled_from(
        ["\r\n", "\n", "\r", "Bcc: b@evil.example", "<b@evil.example>", ",", ";", '"', "\\", "(", ")", ":", "@", " ",
         "=?utf-8?q?a=0D=0ABcc:_b?=", "=?utf-8?b?", "?=", "\u202e", "\u2028", "\x85", "\x00", "\x0b", "\ud800", "Ö",
         "自動車", "محمد", "नमस्ते", "🔩", "a" * 80]
    ),
    max_size=30,
).map("".join)  # fmt: skip


@settings(deadline=None, max_examples=300)
@given(name=_NASTY, subject=_NASTY)
@example(name='"Ö" <b@evil.example>, x\r\nBcc: b@evil.example', subject="=?utf-8?q?a=0D=0ABcc:_b@evil.example?=")
@example(name="Ö, " * 40, subject="Ö" * 400)
def test_no_name_and_no_subject_can_write_a_header_or_an_address(name: str, subject: str) -> None:
    mail = built(a_message(subject=subject), Sender(name, SENDER.address, SENDER.reply_to))
    raw = mail.as_bytes()
    back = email.message_from_bytes(raw)

    assert back.keys() == HEADERS
    assert max(map(len, raw.split(b"\r\n"))) <= 998  # RFC 5322 section 2.1.1
    for header, address in (("From", SENDER.address), ("Reply-To", SENDER.reply_to)):
        ((shown, found),) = getaddresses([back[header]])
        assert found == address
        assert decoded(shown) == header_text(name, NAME_LIMIT)
    assert decoded(back["Subject"].replace("\r\n", "")) == header_text(subject)
    assert email.message_from_bytes(raw, policy=default)["From"].addresses[0].addr_spec == SENDER.address


def test_a_name_of_any_script_is_read_back_whole() -> None:
    for name in ("Werkstatt Grüße", "自動車整備", "ورشة السيارات", "नमस्ते गैराज", "می\u200cخواهم"):
        back = email.message_from_bytes(built(sender=Sender(name, SENDER.address, SENDER.reply_to)).as_bytes())
        assert decoded(getaddresses([back["From"]])[0][0]) == name


@settings(deadline=None)
@given(text=st.text(max_size=2_000), html=st.text(max_size=2_000))
def test_any_body_survives_but_for_characters_that_cannot_be_shown(text: str, html: str) -> None:
    plain, _ = parsed(built(a_message(text=text, html=html))).iter_parts()

    shown = "".join(character for character in text if character.isalnum() and not "\ud800" <= character <= "\udfff")
    got = "".join(character for character in plain.get_content() if character.isalnum())
    assert got == shown


# --- What goes with a letter ----------------------------------------------------------------------------------------

PICTURE = Enclosure("heights.png", "image/png", b"\x89PNG\r\n\x1a\n picture", shown_as="heights")
PDF = Enclosure("handback-1.pdf", "application/pdf", b"%PDF-1.7 " + bytes(range(256)) * 40)


def with_files() -> EmailMessage:
    message = dataclasses.replace(a_message(), html='<p>See</p><img src="cid:heights" alt="Heights">')
    mail = compose(message, SENDER, (PICTURE, PDF))
    assert isinstance(mail, EmailMessage)
    return mail


def test_pictures_travel_within_the_html_and_files_behind_the_letter() -> None:
    back = parsed(with_files())

    assert [one.get_content_type() for one in back.walk()] == [
        "multipart/mixed", "multipart/alternative", "text/plain", "multipart/related", "text/html", "image/png",
        "application/pdf",
    ]  # fmt: skip
    (file,) = list(back.iter_attachments())
    assert (file.get_filename(), file.get_content()) == (PDF.name, PDF.data)


def test_the_html_names_its_picture_by_an_id_that_is_this_letter_s_own() -> None:
    back = parsed(with_files())
    picture = next(one for one in back.walk() if one.get_content_type() == "image/png")
    html = back.get_body(("html",))

    assert picture["Content-ID"] == "<heights.m1@axle-arm.example>"
    assert html is not None
    assert 'src="cid:heights.m1@axle-arm.example"' in html.get_content()
    assert picture.get_content_disposition() == "inline"
    assert picture.get_content() == PICTURE.data


def test_a_letter_with_files_composed_again_has_the_same_bytes_and_every_boundary_once() -> None:
    assert with_files().as_bytes() == with_files().as_bytes()
    boundaries = [one.get_boundary() for one in with_files().walk() if one.is_multipart()]
    assert len(set(boundaries)) == len(boundaries) == 3


def test_lines_of_a_letter_with_files_stay_within_what_mail_servers_take() -> None:
    """RFC 5321 section 4.5.3.1.6: 1,000 octets with the line's end."""
    assert max(len(line) for line in with_files().as_bytes().split(b"\r\n")) < 998
