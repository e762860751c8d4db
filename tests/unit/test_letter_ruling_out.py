"""The customer's letter after an inspection: what counts as found, what does not yet, what the customer answered."""

from __future__ import annotations

import json
from dataclasses import asdict, replace

from app.domain.sheet import StepNow
from app.mail.render import write_letter
from app.use_cases.handback_letter import HandbackFacts, handback_facts
from app.use_cases.letter_lines import lines_by_part
from app.web.rendering import environment
from tests.suspect_sheets import an_inspection, found, step_of, with_all_ruled_out
from tests.unit.mail_cast import CUSTOMER, JOB, SHOP, VEHICLE

LEAK = {"damper_leak.left": "running", "complaint": "float", "complaint_when": "bumps"}


def facts_of(sheet: object) -> HandbackFacts:
    return handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, sheet)  # type: ignore[arg-type]


def text_of(facts: HandbackFacts) -> str:
    return " ".join(write_letter(environment(), facts).text.split())


def test_a_finding_is_told_as_found_once_the_others_are_judged() -> None:
    facts = facts_of(with_all_ruled_out(an_inspection("strut"), LEAK))

    assert [(one.part, one.verdict) for one in facts.findings] == [("Damper, front left", "replace")]
    assert facts.has_replace
    assert not facts.not_told_apart
    assert "not told apart" not in text_of(facts).lower()


def test_a_finding_before_that_is_told_as_seen_and_not_as_what_is_wrong() -> None:
    sheet = with_all_ruled_out(an_inspection("strut"), LEAK)
    packet = sheet.packet
    assert packet is not None
    for name in ("brakes.left", "steering_play"):
        sheet = sheet.with_step(step_of(packet, name).id, StepNow())

    facts = facts_of(sheet)
    letter = write_letter(environment(), facts)
    text = " ".join(letter.text.split())

    assert not facts.findings
    assert not facts.has_replace
    assert [(one.finding.part, one.not_judged) for one in facts.not_told_apart] == [
        ("Damper, front left", ("steering", "brakes"))
    ]
    assert "SEEN, AND NOT TOLD APART YET" in text
    assert "Damper, front left Seen: Running: wet streams from the seal" in text
    assert "Not looked at, or not all of it: steering, brakes" in text
    assert "REPLACE:" not in text
    assert "Seen, and not told apart yet" in letter.html
    assert "steering, brakes" in " ".join(letter.html.split())


def test_watch_that_does_not_count_is_not_on_the_list_of_what_to_watch() -> None:
    sheet = found(an_inspection("strut"), {"damper_leak.left": "running"})
    packet = sheet.packet
    assert packet is not None
    step = step_of(packet, "damper_leak.left")
    outcome = sheet.step(step.id).outcome
    assert outcome is not None
    watched = sheet.with_step(step.id, StepNow(outcome=replace(outcome, verdict=type(outcome.verdict)("watch"))))

    assert facts_of(watched).watch == ()
    assert len(facts_of(watched).not_told_apart) == 1


def test_what_was_found_at_the_brakes_counts_at_once() -> None:
    facts = facts_of(found(an_inspection("strut"), {"brakes.left": "drag"}))

    assert [one.part for one in facts.findings] == ["Brake, front left"]


def test_the_customer_s_answers_stand_under_what_they_asked_and_are_no_finding() -> None:
    facts = facts_of(with_all_ruled_out(an_inspection("strut"), LEAK))

    assert [(one.question, one.answer) for one in facts.answers] == [
        ("What it is", "Floats or bounces on after a bump"),
        ("When it comes", "Over bumps or on rough road"),
    ]
    assert not [one for one in (*facts.findings, *facts.sound) if "complaint" in one.part.lower()]
    text = text_of(facts)
    asked = text.index("And when we asked:")
    assert text.index("WHAT YOU ASKED") < asked < text.index("WHAT WE FOUND")
    assert "- When it comes: Over bumps or on rough road" in text[asked:]


def test_editions_are_compared_by_these_lines_too_and_older_ones_without_them_are_read() -> None:
    sheet = found(an_inspection("strut"), LEAK)
    kept = json.loads(json.dumps(asdict(facts_of(sheet)), default=str))

    lines = lines_by_part(json.dumps(kept))
    assert any(
        line.startswith("Seen, and not told apart yet: replace, Damper, front left") for line in lines["What we found"]
    )
    assert "When it comes, Over bumps or on rough road" in lines["What you asked"]

    del kept["answers"], kept["not_told_apart"]
    assert lines_by_part(json.dumps(kept))["What you asked"]
