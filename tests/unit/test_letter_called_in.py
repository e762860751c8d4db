"""The letter of a vehicle that the workshop asked for: it says whose words the reason is in."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from html import unescape

import pytest

from app.domain.records import RECHECK
from app.mail.render import write_letter
from app.use_cases.handback_letter import HandbackFacts, handback_facts
from app.use_cases.letter_lines import lines_by_part
from app.web.floor.handing_back import contents
from app.web.rendering import environment
from tests.suspect_sheets import an_inspection, found
from tests.unit.mail_cast import CUSTOMER, JOB, SHOP, VEHICLE

REASON = "Re-check. Wrench W15 read high.\nJob 26-0003: link, read 60 N·m, really 64.8 N·m."
CALLED_IN = replace(JOB, id=f"{RECHECK}0f", complaint=REASON)
OF_THE_WORKSHOP = {
    "en": ("Why we asked you to come", f"In the words of the workshop, {SHOP.name}:"),
    "es": ("Por qué le pedimos que viniera", f"En palabras del taller, {SHOP.name}:"),
}
OF_THE_CUSTOMER = {"en": ("What you asked", "In your words:"), "es": ("Qué nos pidió", "Con sus palabras:")}


def facts_of(language: str, job: object) -> HandbackFacts:
    sheet = found(an_inspection("strut"), {"damper_leak.left": "running", "complaint": "float"})
    return handback_facts(SHOP, replace(CUSTOMER, language=language), VEHICLE, job, sheet)  # type: ignore[arg-type]


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_workshop_s_words_are_said_to_be_the_workshop_s(language: str) -> None:
    letter = write_letter(environment(language), facts_of(language, CALLED_IN))
    heading, whose = OF_THE_WORKSHOP[language]

    for body, told in ((letter.text, heading.upper()), (letter.html, heading)):
        body = " ".join(unescape(body).split())
        assert told in body
        assert body.index(told) < body.index(whose) < body.index("Wrench W15 read high.")
        assert not [words for words in OF_THE_CUSTOMER[language] if words.lower() in body.lower()]


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_customer_s_words_are_said_to_be_the_customer_s(language: str) -> None:
    letter = write_letter(environment(language), facts_of(language, JOB))

    for body in (letter.text, letter.html):
        assert OF_THE_CUSTOMER[language][1] in " ".join(unescape(body).split())
        assert not [words for words in OF_THE_WORKSHOP[language] if words.lower() in body.lower()]


def test_editions_and_the_release_call_it_the_same_and_older_letters_are_read() -> None:
    kept = json.loads(json.dumps(asdict(facts_of("en", CALLED_IN)), default=str))

    assert lines_by_part(json.dumps(kept))["Why we asked you to come"][0] == "Re-check. Wrench W15 read high."
    assert "why the customer was asked to come, in the workshop's words" in contents(facts_of("en", CALLED_IN))[0]
    assert "what was asked, in the customer's words" in contents(facts_of("en", JOB))[0]
    del kept["called_in"]
    assert "What you asked" in lines_by_part(json.dumps(kept))


def test_a_spanish_letter_as_text_has_no_line_left_in_english() -> None:
    text = " ".join(write_letter(environment("es"), facts_of("es", JOB)).text.split())

    for words in ("And when we asked", "NOT TOLD APART", "Not looked at", "Something else can make", "Seen:"):
        assert words.lower() not in text.lower()
    assert "Y cuando preguntamos:" in text
