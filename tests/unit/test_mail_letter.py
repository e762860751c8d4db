"""The customer's letter: what it tells, in which order, and what it never says."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jinja2 import UndefinedError

from app.domain.packet import Verdict
from app.domain.problems import OursToMend
from app.domain.sheet import Mark, Sheet, StepNow, Taken
from app.mail.render import TEXT_WIDTH, wrapped, write_letter
from app.ports import Letter
from app.use_cases.handback_letter import HandbackFacts, as_typed, handback_facts
from app.web.rendering import TEMPLATES, environment
from tests.unit.mail_cast import CUSTOMER, JOB, PACKET, SHOP, VEHICLE, a_closed_sheet, a_trial, an_outcome, mark


def facts_of(sheet: Sheet | None = None) -> HandbackFacts:
    return handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, sheet or a_closed_sheet())


def letter_of(sheet: Sheet | None = None) -> Letter:
    return write_letter(environment(), facts_of(sheet))


class _Words(HTMLParser):
    """The words a reader of the HTML sees, and the tags and attributes it is made of."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def words_of(html: str) -> str:
    parser = _Words()
    parser.feed(html)
    return " ".join(" ".join(parser.words).split())


def flat(text: str) -> str:
    return " ".join(text.split())


# --- What the letter tells ------------------------------------------------------------------------------------------


def test_the_customer_reads_what_was_asked_in_their_own_words() -> None:
    text = letter_of().text

    assert "  Clunks when I turn into the drive.\n  Pulls to the left.\n" in text
    assert "Brought in 12 Mar 2026, 09:30, 148200 km on the clock." in text


def test_findings_come_worst_first_with_their_reason_and_who_and_when() -> None:
    facts = facts_of()

    assert [(one.verdict, one.part) for one in facts.findings] == [
        ("replace", "Lower ball joint, front left"),
        ("watch", "Rear arm bushing, front left"),
    ]
    assert [(one.verdict, one.part) for one in facts.sound] == [("sound", "Stabiliser link, front left")]
    assert facts.findings[0].seen == "moves under the bar"
    assert facts.findings[0].reason == "1.8 mm where the maker allows 0.5 mm"
    assert dataclasses.astuple(facts.findings[0].by) == ("Tomas Brandt", "12 Mar 2026, 09:37")


def test_a_verdict_of_sound_against_what_was_seen_is_not_told_as_nothing_found() -> None:
    sheet = a_closed_sheet().with_step("l1.link", an_outcome(Verdict.SOUND, "moves", "within the maker's limit", 5))

    facts, text = facts_of(sheet), letter_of(sheet).text

    assert facts.sound == ()
    assert "- SOUND: Stabiliser link, front left\n  Seen: moves under the bar\n  Why: within the maker's limit" in text


def test_a_torque_shows_the_figure_as_printed_with_its_source_and_the_reading_as_typed() -> None:
    ((torque,),) = (line.torques for line in facts_of().torques)

    assert (torque.figure, torque.source) == ("81 lb-ft", "workshop manual of this model, p. 4-12")
    assert (torque.reading.typed, torque.reading.wrench) == ("81 lb-ft", "W3")
    assert dataclasses.astuple(torque.reading.by) == ("Tomas Brandt", "12 Mar 2026, 10:48")


def test_the_second_reading_names_the_second_person_and_what_the_extension_made_of_it() -> None:
    ((torque,),) = (line.torques for line in facts_of().torques)

    assert torque.second is not None
    assert (torque.second.typed, torque.second.by.who) == ("100 N·m", "Lena Sørensen")
    assert (torque.second.extension, torque.second.at_joint) == ("100 mm in line", "125.0 N·m")
    again = "100 N·m, wrench W3 with an extension of 100 mm in line, which makes 125.0 N·m at the joint"
    for body in (flat(letter_of().text), words_of(letter_of().html).replace(" ,", ",")):
        assert f"Read again: {again}" in body
        assert "81 lb-ft, wrench W3" in body


def test_a_joint_drawn_up_snug_is_not_told_as_tightened() -> None:
    assert "pivot" not in letter_of().text


def test_a_measure_says_within_outside_or_that_no_window_is_stated() -> None:
    outside, unjudged = facts_of().measures[0].measures
    within = facts_of(_with_height_within()).measures[0].measures[0]

    assert (outside.typed, outside.judged) == ("371 mm", "outside")
    assert (unjudged.typed, unjudged.judged) == ("2,3 bar", "")
    assert (within.typed, within.judged) == ("388 mm", "within")
    assert "371 mm, outside 380 to 395 mm (workshop manual of this model, p. 2-3)" in flat(letter_of().text)
    assert "Tyre pressure: 2,3 bar Tomas Brandt" in flat(letter_of().text)


def _with_height_within() -> Sheet:
    sheet = a_closed_sheet()
    now = sheet.step("l1.height")
    taken = dataclasses.replace(now.readings["before"], text="388", value=388_000, within=True)
    return sheet.with_step("l1.height", dataclasses.replace(now, readings={"before": taken}))


def test_new_parts_are_those_an_entry_says_are_new() -> None:
    """A new fastener is told where its torque is; a part that two passes name is told once."""
    text = letter_of().text

    assert [(part.what, part.line) for part in facts_of().parts] == [("Cotter pin", "Lower ball joint, front left")]
    assert "- Ball joint stud nut, front left (new part)" in text


def test_what_to_watch_names_verdicts_and_values_outside_their_window() -> None:
    facts = facts_of()

    assert facts.watch == (
        "Rear arm bushing, front left: no movement seen (first cracks at the edge)",
        "Inspection: Measure the ride height, Ride height before: 371 mm, outside 380 to 395 mm",
    )
    assert "tightened again after 80 km" in flat(letter_of().text)


def test_what_was_tested_again_after_the_work_says_so_beside_what_to_watch() -> None:
    """A watch from before the work is not told as if nothing had happened since, nor is it dropped."""
    sheet = _with_tests_again("still")

    (bushing, height) = facts_of(sheet).watch

    assert bushing == (
        "Rear arm bushing, front left: no movement seen (first cracks at the edge). "
        "Tested again 12 Mar 2026, 11:05, sound: no movement seen"
    )
    assert height.endswith("371 mm, outside 380 to 395 mm. Read again 12 Mar 2026, 11:06: 388 mm, within")


def test_a_test_that_speaks_against_the_part_again_takes_nothing_back() -> None:
    (bushing, _) = facts_of(_with_tests_again("moves")).watch

    assert "Tested again" not in bushing


def _with_tests_again(seen: str) -> Sheet:
    """The closed sheet with the bushing and the height looked at once more in the line of work."""
    again = (
        dataclasses.replace(PACKET.steps[1], id="l2.bushing", line="l2", trial=a_trial("Rear Arm Bushing")),
        dataclasses.replace(PACKET.steps[3], id="l2.height", line="l2"),
    )
    sheet = dataclasses.replace(
        a_closed_sheet(), packet=dataclasses.replace(PACKET, steps=(*PACKET.steps, *again))
    ).with_step("l2.bushing", an_outcome(Verdict.SOUND, seen, "", 95))
    reading = Taken(mark("Tomas Brandt", 96), 388_000, "388", "mm", True)
    return sheet.with_step("l2.height", StepNow(done=reading.mark, readings={"before": reading}))


def test_a_measure_says_in_which_step_it_was_read() -> None:
    """Left and right, load joint and follower are asked in the same words; the step's title tells them apart."""
    assert [one.step for one in facts_of().measures[0].measures] == ["Measure the ride height"] * 2
    assert "- Measure the ride height: Tyre pressure: 2,3 bar" in letter_of().text
    assert "Measure the ride height Tyre pressure" in words_of(letter_of().html)


def test_no_retorque_is_asked_for_where_nothing_was_tightened_to_a_figure() -> None:
    sheet = a_closed_sheet()
    without = dataclasses.replace(sheet, steps={k: v for k, v in sheet.steps.items() if k != "l2.nut"})

    assert "tightened again" not in letter_of(without).text


def test_those_who_worked_and_those_who_checked_are_named_once() -> None:
    facts = facts_of()

    assert (facts.worked, facts.checked) == (("Tomas Brandt",), ("Lena Sørensen",))
    assert facts.handed_back is not None
    assert facts.handed_back.who == "Lena Sørensen"


def test_notes_are_told_and_file_names_of_photos_are_not() -> None:
    text = letter_of().text

    assert "- Thread cleaned first.\n  Tomas Brandt, 12 Mar 2026, 10:49" in text
    assert "- Come by if it knocks again." in text
    assert "pin.jpg" not in text


def test_what_was_set_aside_stays_in_the_workshop_but_a_step_opened_again_says_so() -> None:
    letter = letter_of()

    for body in (letter.text, letter.html):
        assert "Ivo" not in body
        assert "20 N·m" not in body
        assert "boot was cut" not in body
        assert "opened again and done anew" in flat(body)


def test_a_letter_asked_for_too_early_says_what_is_not_closed() -> None:
    sheet = a_closed_sheet().with_step("l2.out", StepNow())

    text = letter_of(sheet).text

    assert "- Break the taper and take the joint out (not done)" in text
    assert text.count("Break the taper") == 1


def test_an_empty_sheet_claims_nothing() -> None:
    text = letter_of(Sheet(job="j1", packet=PACKET)).text

    for sentence in ("No tests were recorded on this job.", "No work was recorded on this job."):
        assert sentence in text
    for heading in ("HOW TIGHT", "NEW PARTS", "WHAT WE MEASURED", "WHAT TO WATCH", "Did the work", "Released"):
        assert heading not in text


def test_a_sheet_without_a_packet_gives_no_letter() -> None:
    with pytest.raises(OursToMend):
        facts_of(Sheet(job="j1"))


def test_words_of_the_trade_are_explained_only_where_they_are_used() -> None:
    words = [gloss.word for gloss in facts_of().glosses]

    assert {"ball joint", "bushing", "cotter pin", "torque"} <= set(words)
    assert "camber" not in words
    assert facts_of(Sheet(job="j1", packet=None or dataclasses.replace(PACKET, lines=(), steps=()))).glosses == ()


def test_times_are_the_workshops_own_on_both_sides_of_a_clock_change() -> None:
    """12 March is winter time in Berlin (UTC+1), 12 July summer time (UTC+2)."""
    july = Mark("p", "Tomas Brandt", 1_783_845_000_000, "e")  # 2026-07-12 08:30 UTC
    sheet = a_closed_sheet().with_step("l2.out", StepNow(done=july))

    times = [step.by.when for line in facts_of(sheet).work for step in line.steps]

    assert "12 Jul 2026, 10:30" in times
    assert "12 Mar 2026, 09:42" in times


def test_a_time_zone_nobody_knows_falls_back_to_utc_and_says_so() -> None:
    facts = handback_facts(dataclasses.replace(SHOP, timezone="Mars/Base"), CUSTOMER, VEHICLE, JOB, a_closed_sheet())

    assert facts.time_zone == "UTC"
    assert facts.opened == "12 Mar 2026, 08:30"


@pytest.mark.parametrize(
    ("text", "unit", "shown"),
    [
        ("371", "mm", "371 mm"),
        ("1 1/16", "in", "1 1/16 in"),
        ("2,3 bar", "bar", "2,3 bar"),
        ("50 N·m + 90°", "N·m", "50 N·m + 90°"),
        ("100 N·m N·m", "", "100 N·m"),
        ("81 lb-ft lbf·ft", "", "81 lb-ft"),
        ("81 lbf·ft", "", "81 lbf·ft"),
        ("81 foot pounds", "", "81 foot pounds"),
        ("90 °", "", "90°"),
        ("-0,5", "°", "-0,5°"),
        ("3", "1", "3"),
        ("90° °", "", "90°"),
        ("soft", "", "soft"),
        ("", "", ""),
    ],
)
def test_what_was_typed_is_shown_with_its_unit_once(text: str, unit: str, shown: str) -> None:
    assert as_typed(text, unit) == shown


# --- What it never says ---------------------------------------------------------------------------------------------


def test_no_letter_says_that_anything_is_safe() -> None:
    letter = letter_of()

    for body in (letter.subject, letter.text, letter.html):
        assert not re.search(r"\bsafe(?!ty)|guarantee|roadworthy|\bensure", body, re.IGNORECASE)


def test_text_and_html_tell_the_same() -> None:
    """Every line of the text, headings and marks aside, stands in the HTML as well."""
    letter = letter_of()
    html = words_of(letter.html).replace("“", '"').replace("”", '"')
    sentences = [
        flat(part)
        for part in re.split(r"\n(?=\S|  Seen|  Why)", letter.text)
        if part.strip() and not re.fullmatch(r"[A-Z ]+", part.strip())
    ]

    told = set(re.findall(r"[\w·]+", html.lower()))
    assert len(sentences) > 30
    for sentence in sentences:
        missing = set(re.findall(r"[\w·]+", sentence.lower())) - told - {"figure", "read"}
        assert not missing, (sentence, missing)


def test_the_html_fetches_nothing_and_uses_no_colour() -> None:
    parser = _Words()
    parser.feed(letter_of().html)

    tags = {tag for tag, _ in parser.tags}
    assert not tags & {"img", "script", "link", "iframe", "style", "a", "form"}
    styles = " ".join(attrs.get("style") or "" for _, attrs in parser.tags)
    assert "url(" not in styles
    assert set(re.findall(r"#[0-9a-f]{3,6}", styles)) == {"#000", "#fff"}
    assert not re.search(r"rgb|hsl|\b(red|green|blue|grey|gray)\b", styles)


def test_html_in_a_name_is_shown_and_not_obeyed() -> None:
    customer = dataclasses.replace(CUSTOMER, name='<img src="//x.example/1.png"> & "Co"')
    letter = write_letter(environment(), handback_facts(SHOP, customer, VEHICLE, JOB, a_closed_sheet()))

    assert "<img" not in letter.html
    assert '<img src="//x.example/1.png"> & "Co"' in words_of(letter.html)
    assert '<img src="//x.example/1.png"> & "Co"' in flat(letter.text)


@settings(deadline=None, max_examples=60)
@given(name=st.text(max_size=300), plate=st.text(max_size=60), complaint=st.text(max_size=500))
def test_a_subject_is_one_line_whatever_the_names_hold(name: str, plate: str, complaint: str) -> None:
    shop = dataclasses.replace(SHOP, name=name)
    vehicle = dataclasses.replace(VEHICLE, plate=plate)
    job = dataclasses.replace(JOB, complaint=complaint)

    letter = write_letter(environment(), handback_facts(shop, CUSTOMER, vehicle, job, a_closed_sheet()))

    assert len(letter.subject.splitlines()) == 1
    assert len(letter.subject) <= 200
    letter.text.encode()
    letter.html.encode()


# --- Layout ---------------------------------------------------------------------------------------------------------


def test_text_lines_are_short_unless_one_word_is_longer() -> None:
    for line in letter_of().text.splitlines():
        assert len(line) <= TEXT_WIDTH or " " not in line.strip()


def test_a_wrapped_item_keeps_its_indent_and_gaps_close() -> None:
    item = "- " + "word " * 20

    lines = wrapped(f"{item}\n\n\n\nend\n").splitlines()

    assert lines[1].startswith("  word")
    assert lines[-2:] == ["", "end"]
    assert "" not in lines[:-2]


# --- Every mail template --------------------------------------------------------------------------------------------

_MAIL = sorted((TEMPLATES / "mail").rglob("*.*"))
_FACTS: dict[str, object] = {"handback": facts_of()}


def test_every_message_is_a_folder_of_subject_text_and_html_with_facts_to_try_it_on() -> None:
    folders = {path.parent for path in _MAIL}

    assert {folder.name for folder in folders} == set(_FACTS)
    for folder in folders:
        assert {path.name for path in folder.iterdir()} == {"subject.txt", "text.txt", "html.html"}


@pytest.mark.parametrize("path", _MAIL, ids=lambda path: "/".join(path.parts[-2:]))
def test_every_mail_template_renders_and_fails_on_a_missing_name(path: Path) -> None:
    facts = _FACTS[path.parent.name]
    names = {field.name: getattr(facts, field.name) for field in dataclasses.fields(facts)}  # type: ignore[arg-type]
    names |= {"pictured": {}, "written_in": "en", "on_paper": False}
    template = environment().get_template(path.relative_to(TEMPLATES).as_posix())

    assert template.render(names).strip()
    with pytest.raises(UndefinedError):
        template.render({})


def test_every_fact_is_told_by_text_and_by_html() -> None:
    """A name in the facts that no template reads is a fact the customer never gets."""
    # One decides on a sentence and one on the language; the axles are drawn, in HTML alone.
    told_elsewhere = {"has_replace", "language", "axles"}
    for name in ("text.txt", "html.html"):
        source = (TEMPLATES / "mail" / "handback" / name).read_text(encoding="utf-8")
        unread = {f.name for f in dataclasses.fields(HandbackFacts)} - set(re.findall(r"\w+", source)) - told_elsewhere
        assert not unread


def test_facts_that_no_message_is_written_from_are_refused() -> None:
    with pytest.raises(TypeError, match="no message is written from Mark"):
        write_letter(environment(), mark("Mira", 1))


def test_a_verdict_to_replace_says_how_to_tell_whether_it_was() -> None:
    with_it = letter_of().text
    without = letter_of(a_closed_sheet().with_step("l1.play", an_outcome(Verdict.SOUND, "still", "", 7))).text

    assert "this record does not show that it was renewed" in flat(with_it)
    assert "renewed" not in without
