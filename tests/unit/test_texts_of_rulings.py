"""The sentence for a ruling: the closest there is, with every blank in words."""

from __future__ import annotations

import pytest

from app.texts import SENTENCES, say_ruling, word


@pytest.mark.parametrize(
    ("reason", "details", "said"),
    [
        ("wrong_support", {"now": "on_wheels", "wanted": "stands_frame,stands_arm", "why": "state"},
         "This wants it on stands under the frame or on stands under the arms"),
        ("wrong_support", {"now": "on_wheels", "wanted": "stands_frame", "why": "moved"}, "now it is on its wheels"),
        ("gate_stale", {"gate": "stands:front", "title": "Stands", "why": "person"}, "answered by someone else"),
        ("gate_stale", {"gate": "stands:front", "why": "support"}, "How the vehicle is held has changed"),
        ("gate_stale", {"gate": "stands:front", "title": "Stands", "why": "time"}, "are too old"),
        ("tool_unfit", {"tag": "W5", "why": "out_of_date", "due": "2026-01-31"}, "W5 was due on 31 Jan 2026"),
        ("tool_unfit", {"tag": "W5", "why": "out_of_range", "due": "2026-01-31"}, "outside the range of wrench W5"),
        ("tool_unfit", {"tag": "W5", "why": "length_unknown", "due": ""}, "The length of wrench W5 is not known"),
        ("tool_unfit", {"tag": "W5", "why": "fault", "due": ""}, "marked as faulty"),
        ("tool_unfit", {"tag": "W5", "why": "unit", "due": ""}, "in its own unit"),
        ("tool_unfit", {"tag": "W5", "why": "extension", "due": ""}, "look at its length and angle"),
        ("tool_unfit", {"tag": "W5", "why": "unknown"}, "Choose the wrench"),
        ("not_finished", {"missing": "measure", "what": "Shim pack"}, "Still to measure: Shim pack"),
        ("not_finished", {"missing": "test", "what": "damper"}, "The test has no result yet"),
        ("not_finished", {"missing": "fastener", "what": "Stud nut"}, "Still to sign off: Stud nut"),
        ("not_finished", {"missing": "new_part", "what": "Cotter pin"}, "one-time part is new"),
        ("not_finished", {"missing": "reading"}, "one is wanted for every stage"),
        ("not_finished", {"missing": "reading_inside", "what": "131 N·m"}, "131 N·m lies outside its window"),
        ("not_finished", {"missing": "reason"}, "Write down the reason"),
        ("spec_unverified", {"place": "Stud nut", "why": "absent"}, "Nobody has entered a figure for “Stud nut”"),
        ("spec_unverified", {"place": "Stud nut", "why": "not_compared"}, "not been compared with its source"),
        ("already_signed", {"name": "Ada", "first": "110 N·m", "second": "98 N·m", "unequal": 1}, "Check the joint"),
        ("already_signed", {"name": "Ada", "first": "110 N·m", "second": "110 N·m", "unequal": 0}, "has recorded this"),
        ("wrong_role", {"wanted": "technician, foreman"}, "another role: technician or foreman"),
        ("not_here", {"what": "check"}, "no such question"),
        ("held", {"hold": "e-1", "name": "Fay", "why": "time"}, "placed by Fay: time"),
    ],
)  # fmt: skip
def test_each_ruling_is_said_in_the_closest_words_there_are(reason, details, said):
    sentence = say_ruling(reason, details)

    assert said in sentence
    assert "…" not in sentence


def test_a_reason_without_a_closer_sentence_gets_its_own():
    assert say_ruling("gate_shut", {"title": "Stands", "why": "unheard of"}) == SENTENCES["gate_shut"].format(
        title="Stands"
    )


def test_a_word_that_is_not_in_the_list_is_shown_as_it_is():
    assert word("support.on_a_barge") == "on a barge"
