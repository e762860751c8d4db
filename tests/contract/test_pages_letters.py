"""Letters of a job: the preview, whether they may be mailed, their editions, their files, and who may see them."""

from __future__ import annotations

import email
import hashlib
import json
import re
from dataclasses import replace
from datetime import timedelta
from email.message import EmailMessage
from email.policy import default
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from app.domain import entry as e
from app.domain.handback import AskedWhere
from app.domain.records import JobState, MessageState
from app.mail.folder import FolderPostman
from app.use_cases.handback_editions import edition_files, enclosures_of
from app.use_cases.handback_letter import HandbackFacts
from app.use_cases.letter_lines import lines_by_part
from app.use_cases.send_post import deliver_due
from demo.pictures import a_photo
from tests.builders import ADA, DEE
from tests.contract.test_pages_floor import whole_job, words
from tests.offices import CUSTOMER, FAY, Visitor, Workshop, a_small_job, a_visitor, an_app, an_office

HANDBACK, LETTERS = "/jobs/1001/handback", "/jobs/1001/letters"


@pytest.fixture
def here() -> Workshop:
    made = an_office()
    a_small_job(made, whole_job())
    return made


@pytest.fixture
def fay(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), FAY)


def editions(here: Workshop) -> list[Any]:
    return list(here.all("handbacks"))


def released(fay: Visitor, **fields: str) -> Any:
    answer = fay.fills_in(HANDBACK, HANDBACK, fields)
    assert answer.status_code == 303, answer.text
    return answer


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf), strict=True).pages).split())


def not_asked(here: Workshop) -> Workshop:
    """The same workshop, where nobody has asked its customer yet."""
    here.add("customers", replace(CUSTOMER, id="c-new", name="Asif Rahn", email="asif@rahn.example"))
    job = here.all("jobs")[0]
    here.save("jobs", replace(job, customer="c-new"))
    return here


class TestBeforeItGoes:
    def test_the_pdf_and_the_page_say_what_the_letter_would_say_and_nothing_is_kept(
        self, here: Workshop, fay: Visitor
    ) -> None:
        page, pdf, paper = fay.get(HANDBACK), fay.get(f"{HANDBACK}/pdf"), fay.get(f"{HANDBACK}/page")

        assert f'href="{HANDBACK}/pdf"' in page.text
        assert f'href="{HANDBACK}/page"' in page.text
        assert (pdf.status_code, pdf.headers["content-type"]) == (200, "application/pdf")
        assert "Dear Mira Okonjo" in text_of(pdf.content)
        assert "Dear Mira Okonjo" in words(paper)
        assert "sandbox" in paper.headers["content-security-policy"]
        assert editions(here) == []
        assert here.all("handback_prints") == ()

    def test_photos_that_are_here_are_printed_and_the_others_counted(self) -> None:
        here = an_office()
        shown, lost = a_photo(1), a_photo(2)
        play = whole_job()
        for data, told in ((shown, "Front left"), (lost, "Rear")):
            play.does(ADA, e.PhotoAdded(hashlib.sha256(data).hexdigest(), told))
        a_small_job(here, play)
        here.office.photos.keep(shown)
        fay = a_visitor(an_app(here), FAY)

        paper, pdf = fay.get(f"{HANDBACK}/page"), fay.get(f"{HANDBACK}/pdf")

        assert paper.text.count("data:image/png;base64,") == 1
        assert "1 more kept with the job." in words(paper)
        assert "Front left" in text_of(pdf.content)
        assert sum(len(page.images) for page in PdfReader(BytesIO(pdf.content)).pages) == 1

    @pytest.mark.parametrize("who", [ADA])
    def test_it_is_not_the_technician_s(self, here: Workshop, who: Any) -> None:
        visitor = a_visitor(an_app(here), who)

        for address in (f"{HANDBACK}/pdf", f"{HANDBACK}/page", LETTERS, f"{LETTERS}/1/pdf", f"{LETTERS}/1/page"):
            assert visitor.get(address).status_code == 403

    def test_what_is_not_there_is_said(self, fay: Visitor) -> None:
        for address in (f"{LETTERS}/1/pdf", f"{LETTERS}/one/page", "/jobs/99/letters", "/jobs/99/handback/pdf"):
            assert fay.get(address).status_code == 404


class TestConsent:
    def test_nobody_who_was_not_asked_is_mailed(self, here: Workshop, fay: Visitor) -> None:
        not_asked(here)

        page = fay.get(HANDBACK)
        released(fay)

        assert "Nobody has asked Asif Rahn whether letters may be mailed: it is printed only." in words(page)
        assert here.all("outbox") == ()
        assert [(one.edition, one.message, one.not_mailed) for one in editions(here)] == [(1, "", "consent_not_asked")]
        assert "Dear Asif Rahn" in text_of(fay.get(f"{LETTERS}/1/pdf").content)

    def test_a_yes_at_the_handback_is_kept_with_who_asked_and_the_letter_goes(
        self, here: Workshop, fay: Visitor
    ) -> None:
        not_asked(here)

        released(fay, may_mail="yes")

        said = here.all("consents")[-1]
        assert (said.customer, said.yes, said.place, said.recorded_by_name) == (
            *("c-new", True, AskedWhere.HANDBACK, "Fay"),
        )
        assert [one.to for one in here.all("outbox")] == ["asif@rahn.example"]

    def test_a_no_is_kept_and_nothing_is_mailed(self, here: Workshop, fay: Visitor) -> None:
        released(fay, may_mail="no")

        assert [one.yes for one in here.all("consents")] == [True, False]
        assert here.all("outbox") == ()
        assert "does not want letters by mail" in words(fay.get(LETTERS))

    def test_the_same_answer_again_is_not_kept_twice(self, here: Workshop, fay: Visitor) -> None:
        released(fay, may_mail="yes")

        assert len(here.all("consents")) == 1

    @pytest.mark.parametrize("odd", ["maybe", "YES", "true"])
    def test_what_is_no_answer_changes_nothing(self, here: Workshop, fay: Visitor, odd: str) -> None:
        not_asked(here)
        released(fay, may_mail=odd)

        assert here.all("outbox") == ()
        assert len(here.all("consents")) == 1

    def test_the_desk_asks_on_the_customer_s_page(self, here: Workshop) -> None:
        not_asked(here)
        dee = a_visitor(an_app(here), DEE)
        address = "/desk/customers/c-new"

        answer = dee.fills_in(address, address, {"may_mail": "yes"})

        assert answer.status_code == 303
        assert [(one.customer, one.yes, one.place) for one in here.all("consents")][1:] == [
            ("c-new", True, AskedWhere.CUSTOMER)
        ]
        assert re.search(r'<option value="yes" selected>', dee.get(address).text)

    def test_a_handback_that_is_refused_keeps_nothing_of_it(self, here: Workshop, fay: Visitor) -> None:
        answer = fay.sends(HANDBACK, {"note": "y" * 2_001, "may_mail": "no", "comes_at": "2026-05-20T09:30"})

        assert answer.status_code == 422
        assert len(here.all("consents")) == 1
        assert here.all("retorques") == ()


class TestTheAppointment:
    def test_it_is_kept_and_stands_in_the_letter_in_the_workshop_s_time(self, here: Workshop, fay: Visitor) -> None:
        released(fay, comes_at="2026-05-20T09:30")

        (kept,) = here.all("retorques")
        assert kept.recorded_by_name == "Fay"
        assert "20 May 2026, 09:30" in here.all("outbox")[0].text
        assert "20 May 2026, 09:30" in text_of(fay.get(f"{LETTERS}/1/pdf").content)

    def test_a_time_nobody_can_read_is_sent_back(self, here: Workshop, fay: Visitor) -> None:
        answer = fay.sends(HANDBACK, {"note": "Soon", "comes_at": "next week"})

        assert answer.status_code == 422
        assert "Enter day and time of the appointment" in words(answer)
        assert "Soon" in answer.text
        assert here.all("jobs")[0].state is JobState.OPEN


class TestEditions:
    def test_a_letter_written_anew_says_at_its_head_what_is_different_and_the_first_stays(
        self, here: Workshop, fay: Visitor
    ) -> None:
        released(fay)
        first = editions(here)[0]
        before = fay.get(f"{LETTERS}/1/pdf").content
        here.save("customers", replace(CUSTOMER, name="Mira Okonjo-Blake"))

        answer = fay.fills_in(LETTERS, LETTERS, {"why": "Your new name", "comes_at": "2026-05-20T09:30"})

        assert answer.status_code == 303
        assert editions(here)[0] == first
        second = editions(here)[1]
        assert (second.edition, second.why) == (2, "Your new name")
        changed = {one.part: (one.added, one.gone) for one in second.changes}
        assert changed["Whom it is for"] == (("Mira Okonjo-Blake",), ("Mira Okonjo",))
        assert changed["What to watch"] == (("Appointment for the wheels: 20 May 2026, 09:30",), ())
        told = text_of(fay.get(f"{LETTERS}/2/pdf").content)
        assert "This is edition 2." in told
        assert "Why: Your new name" in told
        assert "Before: Mira Okonjo" in told
        assert fay.get(f"{LETTERS}/1/pdf").content == before
        assert [one.key for one in here.all("outbox")] == [f"handback:{first.job}:{one}" for one in (1, 2)]
        assert "Edition 2, the newest" in words(fay.get(LETTERS))

    def test_one_that_would_say_the_same_is_refused_and_the_reason_kept(self, here: Workshop, fay: Visitor) -> None:
        released(fay)

        answer = fay.fills_in(LETTERS, LETTERS, {"why": "Once more"})

        assert answer.status_code == 422
        assert "It would say the same as edition 1." in words(answer)
        assert "Once more" in answer.text
        assert len(editions(here)) == 1

    @pytest.mark.parametrize(("why", "says"), [("", "Say why"), ("   ", "Say why"), ("y" * 501, "at most 500")])
    def test_a_reason_is_asked_for(self, here: Workshop, fay: Visitor, why: str, says: str) -> None:
        released(fay)
        here.save("customers", replace(CUSTOMER, name="Somebody Else"))

        answer = fay.fills_in(LETTERS, LETTERS, {"why": why})

        assert answer.status_code == 422
        assert says in words(answer)
        assert len(editions(here)) == 1

    def test_before_the_handback_there_is_none_to_write_anew(self, here: Workshop, fay: Visitor) -> None:
        answer = fay.sends(LETTERS, {"why": "Already"})

        assert answer.status_code == 422
        assert "was not handed back yet" in words(answer)
        assert editions(here) == []

    def test_every_fact_of_the_letter_is_compared(self) -> None:
        """A fact that no reader of `letter_lines` reads could change and nobody would be told."""
        source = (Path(__file__).parents[2] / "app/use_cases/letter_lines.py").read_text(encoding="utf-8")
        # Not the letter's own contents, or told by others: what is drawn is measured, glosses follow from the words,
        # what is clear is what is sound, told by part.
        apart = {
            "job_number", "opened", "handed_back", "time_zone", "has_replace", "glosses", "language", "axles",
            "more_photos", "edition", "clear",
        }  # fmt: skip
        names = set(HandbackFacts.__dataclass_fields__) - apart
        assert names <= set(re.findall(r'facts(?:\[|\.get\()"(\w+)"', source))

    def test_lines_stand_under_their_headings(self, here: Workshop, fay: Visitor) -> None:
        released(fay, note="Drive gently.")
        told = lines_by_part(editions(here)[0].facts)

        assert told["Notes"] == ("Drive gently.",)
        assert any("110 N·m" in line for line in told["How tight"])
        assert json.loads(editions(here)[0].facts)["edition"] is None


class TestFiles:
    def test_the_pdf_is_made_once_and_kept(self, here: Workshop, fay: Visitor) -> None:
        released(fay)

        first, second = fay.get(f"{LETTERS}/1/pdf"), fay.get(f"{LETTERS}/1/pdf")

        assert first.content == second.content
        assert 'filename="handback-1001-1.pdf"' in first.headers["content-disposition"]
        (kept,) = here.all("handback_prints")
        assert here.office.papers.read(kept.pdf) == first.content
        assert kept.standard == "ua-1"

    def test_a_file_that_was_lost_is_made_again_with_the_same_bytes(self, here: Workshop, fay: Visitor) -> None:
        released(fay)
        edition = editions(here)[0]
        _, pdf, _ = edition_files(here.office, edition)
        here.clock.forward(hours=1)
        here.office.papers._kept.clear()  # type: ignore[attr-defined]

        _, again, _ = edition_files(here.office, edition)

        assert again == pdf
        assert len(here.all("handback_prints")) == 1

    def test_the_letter_travels_with_its_pdf(self, here: Workshop, fay: Visitor, tmp_path: Path) -> None:
        released(fay)

        done = deliver_due(
            here.store, FolderPostman(tmp_path), here.clock, lambda most: 0,
            from_address="post@kettle-lane.example", enclosures=lambda message: enclosures_of(here.office, message),
        )  # fmt: skip

        assert done.sent == 1
        (file,) = tmp_path.glob("*.eml")
        mail = email.message_from_bytes(file.read_bytes(), policy=default)
        assert isinstance(mail, EmailMessage)
        (pdf,) = list(mail.iter_attachments())
        assert (pdf.get_content_type(), pdf.get_filename()) == ("application/pdf", "handback-1001-1.pdf")
        assert "Dear Mira Okonjo" in text_of(pdf.get_content())
        assert (body := mail.get_body(("plain",))) is not None
        assert "Dear Mira Okonjo" in body.get_content()

    def test_a_letter_whose_files_cannot_be_made_waits_and_says_why(
        self, here: Workshop, fay: Visitor, tmp_path: Path
    ) -> None:
        released(fay)

        def none(message: object) -> Any:
            raise OSError("no room")

        done = deliver_due(
            here.store, FolderPostman(tmp_path), here.clock, lambda most: 0,
            from_address="post@kettle-lane.example", enclosures=none,
        )  # fmt: skip

        (message,) = here.all("outbox")
        assert (done.put_off, message.state) == (1, MessageState.WAITING)
        assert "no room" in message.last_answer
        assert message.next_try_at > here.clock.now - timedelta(seconds=1)
        assert list(tmp_path.glob("*.eml")) == []

    def test_the_post_shows_the_letter_with_its_pictures_and_leads_to_its_pdf(
        self, here: Workshop, fay: Visitor
    ) -> None:
        released(fay)
        letter = here.all("outbox")[0].id

        page, html = fay.get(f"/desk/post/{letter}"), fay.get(f"/desk/post/{letter}/html")

        assert f'href="{LETTERS}/1/pdf"' in page.text
        assert "cid:" not in html.text
