"""An inspection in the letter: what was found in full, what was clear in a line for each part, and nothing left out."""

from __future__ import annotations

from dataclasses import replace

from app.domain.compiling import Order, compile_packet
from app.domain.packet import Axle, Packet
from app.domain.records import JobLine, found_first
from app.domain.sheet import Mark, Note, Sheet
from app.mail.render import write_letter
from app.use_cases.handback_letter import HandbackFacts, handback_facts
from app.web.rendering import environment
from tests.suspect_sheets import an_inspection, step_of, with_all_ruled_out
from tests.unit.mail_cast import CUSTOMER, JOB, SHOP, VEHICLE
from tests.unit.procedure_cast import SHOP as PROCEDURE_SHOP
from tests.unit.procedure_cast import a_vehicle, an_axle, the_book

CLEAR = {
    "damper_leak.left": "dry",
    "damper_leak.right": "running",
    "stabiliser_links.left": "sound",
    "stabiliser_links.right": "sound",
    "bounce.left": "still",
}
NOON_MS = 1_773_316_800_000  # 12 March 2026, 12:00 UTC, an hour later in the workshop


def done(sheet: Sheet, *, who: str = "Ada Lindqvist", **over: object) -> Sheet:
    """Every test that has an outcome closed as well, a minute after another, so that each has a moment of its own."""
    packet = sheet.packet
    assert packet is not None
    for minute, step in enumerate(one for one in packet.steps if sheet.step(one.id).outcome is not None):
        now = sheet.step(step.id)
        assert now.outcome is not None
        mark = Mark("p-ada", who, NOON_MS + 60_000 * minute, f"d-{step.id}")
        sheet = sheet.with_step(step.id, replace(now, outcome=replace(now.outcome, mark=mark), done=mark, **over))  # type: ignore[arg-type]
    return sheet


def facts_of(sheet: Sheet) -> HandbackFacts:
    return handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, sheet)


def text_of(facts: HandbackFacts) -> str:
    return " ".join(write_letter(environment(), facts).text.split())


def test_what_was_clear_is_told_by_part_with_every_place_and_what_was_seen_there() -> None:
    facts = facts_of(done(with_all_ruled_out(an_inspection("strut"), CLEAR)))
    told = {one.part: one for one in facts.clear}

    assert told["Stabiliser link"].seen == ("front left, front right: Tight, boots and rubbers whole",)
    assert told["Damper"].seen == ("front left: Comes back and stops", "front left: Dry")
    assert told["Steering"].seen == ("Within the limit, nothing loose",)
    assert sum(
        one.count("front left") + one.count("front right") or 1 for part in facts.clear for one in part.seen
    ) == (len(facts.sound))
    text = text_of(facts)
    assert "- Stabiliser link: front left, front right: Tight, boots and rubbers whole Ada Lindqvist, 12 Mar" in text
    assert "REPLACE: Damper, front right Seen: " in text


def test_a_moment_is_told_once_and_two_as_from_and_to_and_two_people_apart() -> None:
    sheet = done(with_all_ruled_out(an_inspection("strut"), CLEAR))
    step = step_of(sheet.packet, "stabiliser_links.right")  # type: ignore[arg-type]
    outcome = sheet.step(step.id).outcome
    assert outcome is not None
    other = replace(outcome, mark=Mark("p-ben", "Ben Osei", NOON_MS + 86_400_000, "e-other"))
    both = facts_of(sheet.with_step(step.id, replace(sheet.step(step.id), outcome=other)))
    brakes = next(one.by for one in facts_of(sheet).clear if one.part == "Brake")

    assert len(brakes) == 1
    assert brakes[0].startswith("Ada Lindqvist, 12 Mar 2026, 13:")
    assert " to 13:" in brakes[0]
    ada, ben = next(one.by for one in both.clear if one.part == "Stabiliser link")
    assert " to " not in ada
    assert ben.startswith("Ben Osei, 13 Mar 2026, ")


def test_tests_that_went_as_they_should_are_not_listed_twice() -> None:
    sheet = done(with_all_ruled_out(an_inspection("strut"), CLEAR))
    (line,) = facts_of(sheet).work

    tests = [one for one in sheet.steps.values() if one.outcome is not None]
    assert line.tests == str(len(tests))
    assert line.steps == ()
    assert f"Tests and questions told above: {line.tests}. Ada Lindqvist, 12 Mar 2026, " in text_of(facts_of(sheet))


def test_one_that_was_opened_again_or_looked_at_by_a_second_person_keeps_its_own_line() -> None:
    sheet = done(with_all_ruled_out(an_inspection("strut"), CLEAR))
    packet = sheet.packet
    assert packet is not None
    looked, again = step_of(packet, "bounce.left"), step_of(packet, "damper_leak.left")
    seen = Mark("p-ben", "Ben Osei", NOON_MS, "s-1")
    sheet = sheet.with_step(looked.id, replace(sheet.step(looked.id), seen=seen, seen_text="Swings once"))
    sheet = sheet.with_step(again.id, replace(sheet.step(again.id), reopened=(Note(seen, "Once more"),)))

    titles = [one.title for one in facts_of(sheet).work[0].steps]

    assert set(titles) == {looked.title, again.title}
    assert "Looked at by Ben Osei" in text_of(facts_of(sheet))


# --- Found first, then mended -----------------------------------------------------------------------------------------


def packet_with(*lines: JobLine) -> Packet:
    vehicle = a_vehicle(an_axle("strut"), an_axle("strut"))
    named = tuple(replace(one, id=f"l{number}") for number, one in enumerate(lines, 1))
    packet = compile_packet(the_book(), Order("job", "1", 1, vehicle, named, {}, (), PROCEDURE_SHOP))
    assert isinstance(packet, Packet), packet
    return packet


LINKS = JobLine("", "stabiliser", Axle.FRONT, options=(("parts", "links"),))
LOOK_FRONT, LOOK_REAR = (JobLine("", "inspection", axle) for axle in (Axle.FRONT, Axle.REAR))


def test_the_inspection_stands_in_front_of_what_mends_however_it_was_ordered() -> None:
    packet = packet_with(LINKS, LOOK_REAR, LOOK_FRONT)

    assert [line.id for line in packet.lines] == ["opening", "l2", "l3", "l1", "closing"]
    order = list(dict.fromkeys(step.line for step in packet.steps))
    assert order == ["opening", "l2", "l3", "l1", "closing"]


def test_the_lines_of_a_job_keep_their_order_among_their_own_kind() -> None:
    assert found_first((LINKS, LOOK_REAR, LOOK_FRONT)) == (LOOK_REAR, LOOK_FRONT, LINKS)
    assert found_first((LOOK_FRONT, LINKS)) == (LOOK_FRONT, LINKS)


def test_the_letter_tells_the_inspection_before_the_repair() -> None:
    packet = packet_with(LINKS, LOOK_FRONT)
    sheet = Sheet(packet.job, packet)
    for step in packet.steps:
        if step.line in ("l1", "l2"):
            mark = Mark("p-ada", "Ada Lindqvist", NOON_MS, f"d-{step.id}")
            sheet = sheet.with_step(step.id, replace(sheet.step(step.id), done=mark))

    titles = [line.title for line in facts_of(sheet).work]

    assert titles[0].startswith("Finding the fault")
    assert len(titles) == 2
