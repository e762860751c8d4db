"""The sheet's page and My work, through HTTP as a browser without script uses them, and as htmx does.

Rules guarded here: a person works a whole job through the page's own forms; nothing goes past a shut gate; what cannot
be read comes back with everything typed and a sentence; what is set aside is kept and said; nothing is recorded twice.
"""

from __future__ import annotations

import re
from functools import lru_cache
from html import unescape

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain.entry import Kind
from app.domain.packet import Step
from app.domain.records import Job
from app.domain.sheet import Sheet
from app.domain.standing import asked_gates, open_points
from tests.furnished import ADA, BEN, DEE, FAY, GUS, TestOffice
from tests.sheet_forms import Worker, at_work, forms_in, second_looks

NUT_FORM = "sign-flange_bolts-W2"
STANDS = "gate-stands:front"


@lru_cache(maxsize=1)
def _furnished() -> TestOffice:
    return TestOffice().furnish()


@lru_cache(maxsize=1)
def _up_to_the_gate() -> tuple[TestOffice, Job, str]:
    """Worked up to where the vehicle has just been put on stands, once for all tests."""
    made = _furnished().again()
    job = made.open()
    worker = at_work(made, ADA, job)
    step = worker.until("raise", gates=False)
    return made, job, step.id


@lru_cache(maxsize=1)
def _up_to_the_nut() -> tuple[TestOffice, Job, str]:
    """Worked up to the first joint to tighten, once for all tests."""
    before, job, _ = _up_to_the_gate()
    made = before.again()
    step = at_work(made, ADA, job).until("fit_bolted")
    return made, job, step.id


@pytest.fixture
def made() -> TestOffice:
    return _furnished().again()


@pytest.fixture
def ada(made: TestOffice) -> Worker:
    """Ada with a ball joint job just opened."""
    return at_work(made, ADA, made.open())


@pytest.fixture
def at_gate() -> Worker:
    """Ada with the vehicle on stands, before the stands' gate."""
    made, job, step = _up_to_the_gate()
    return at_work(made.again(), ADA, job).look(step=step)


@pytest.fixture
def at_nut() -> Worker:
    """Ada at the flange bolts, wrench W2 in hand."""
    made, job, step = _up_to_the_nut()
    return at_work(made.again(), ADA, job).look(step=step, at="flange_bolts", wrench="W2")


def gated_step(worker: Worker) -> Step:
    return worker.packet.step_by_id[_up_to_the_gate()[2]]


def words(page: str) -> str:
    """What a page says, without its tags."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def told(worker: Worker) -> str:
    """What the page says about the form just sent."""
    found = re.search(r'<div id="told".*?</div>', worker.page, re.S)
    return words(found[0]) if found else ""


# --- A whole job --------------------------------------------------------------------------------------------------


def test_a_job_is_worked_through_the_pages_own_forms_to_the_second_person(made):
    """Without script: every step from measuring to the road test, then a second person's readings and looks."""
    ada = at_work(made, ADA, made.open())
    while ada.does_next() is not None:
        made.wait(seconds=40)
    assert "Waits for a second person" in words(ada.look().page)

    ben = Worker(made, made.client(BEN), ada.number, ada.job, BEN.id)
    for point in open_points(ben.sheet):
        second_looks(ben, point.step)

    assert open_points(ben.sheet) == ()
    assert "The foreman can hand the job back" in words(ben.look().page)


def test_every_form_says_where_it_goes_and_carries_what_was_seen(at_nut):
    for form in at_nut.forms.values():
        assert form.method == "post"
        where = "photos" if form.hidden["kind"] == "photo_added" else "entries"
        assert form.action == f"/jobs/{at_nut.number}/{where}"
        assert form.hidden["csrf"]
        assert form.hidden["basis_packet"] == at_nut.packet.hash
        assert form.hidden["basis_support"] == str(at_nut.sheet.support.revision)


def test_an_accepted_form_goes_on_to_the_sheet(ada):
    answer = ada.client.post(ada.forms["sheet-note"].action, data={**ada.forms["sheet-note"].hidden, "text": "Rust"})

    assert answer.status_code == 303
    assert answer.headers["location"].startswith(f"/jobs/{ada.number}/sheet")
    assert "Rust" in ada.look().page


# --- Gates --------------------------------------------------------------------------------------------------------


def test_behind_a_shut_gate_the_page_has_no_form_to_record_with(at_gate):
    keys = set(at_gate.forms)

    assert "done" not in keys
    assert STANDS in keys
    assert 'aria-hidden="true"' in at_gate.page


def test_closing_a_step_past_its_gate_is_set_aside_and_said(at_gate):
    step = gated_step(at_gate)
    fields = {**at_gate.forms["step-note"].hidden, "kind": "step_done", "step": step.id, "basis_step": "1"}
    at_gate.posts(fields)

    assert at_gate.status == 200, told(at_gate)
    assert "still shut" in told(at_gate)
    assert at_gate.sheet.step(step.id).done is None


def test_a_no_says_what_to_do_and_a_hold_tag_can_be_hung(at_gate):
    gate = asked_gates(at_gate.sheet, gated_step(at_gate))[0]
    at_gate.sends(f"gate-{gate.id}", **{"answer.bears_on": "jack"})
    assert "Stay out" in words(at_gate.page)

    at_gate.sends("gate-hold", reason="No stand fits under this frame")
    assert "No stand fits under this frame" in words(at_gate.page)
    assert at_gate.sheet.open_hold(gated_step(at_gate).id) is not None


def test_a_gate_is_asked_again_of_whoever_takes_over_and_says_why(at_gate):
    step = gated_step(at_gate)
    at_gate.open_gates(step)
    at_gate.sends("hand-over", to=BEN.id, note="Left side is out")
    ben = Worker(at_gate.made, at_gate.made.client(BEN), at_gate.number, at_gate.job, BEN.id).look(step=step.id)

    assert "Ada Lindqvist handed this over to Ben Sarr" in words(ben.page)
    assert "asked again" in words(ben.page)
    assert "done" not in ben.forms
    assert "checked" not in re.sub(r"<details.*?</details>", "", ben.page, flags=re.S)


def test_nothing_on_a_page_is_chosen_beforehand(at_gate):
    assert " checked" not in at_gate.page


def test_a_gate_form_without_an_answer_comes_back(at_gate):
    before = at_gate.sheet.entries
    at_gate.sends(STANDS)

    assert at_gate.status == 422
    assert "Answer at least one question" in told(at_gate)
    assert at_gate.sheet.entries == before


# --- Torque -------------------------------------------------------------------------------------------------------


def test_a_reading_outside_its_window_keeps_the_joint_open_and_in_sight(at_nut):
    at_nut.sends(NUT_FORM, **{"reading.0": "131", "new_part": "yes"})

    assert at_nut.status == 200
    assert "131 N·m is not inside the window" in told(at_nut)
    assert "15.5 N·m above the window" in words(at_nut.page)
    assert "flange_bolts" not in at_nut.sheet.step(at_nut.forms[NUT_FORM].hidden["step"]).signatures


def test_an_out_of_date_wrench_is_not_offered_and_its_reading_is_set_aside(at_nut):
    step = at_nut.forms[NUT_FORM].hidden["step"]
    assert "was due on 31 Jan 2026" in words(at_nut.look(step=step).page)
    at_nut.look(step=step, at="flange_bolts", wrench="W5")
    assert not any(key.startswith("sign-") and key.endswith("W5") for key in at_nut.forms if at_nut.forms[key].shown)

    form = at_nut.look(step=step, at="flange_bolts", wrench="W2").forms[NUT_FORM]
    at_nut.posts({**form.hidden, "wrench": "W5", "reading.0": "110", "new_part": "yes"})
    assert "Wrench W5 was due on 31 Jan 2026" in told(at_nut)


def test_the_reading_is_read_in_the_wrenchs_own_unit(at_nut):
    step = at_nut.forms[NUT_FORM].hidden["step"]
    at_nut.look(step=step, at="flange_bolts", wrench="W3")
    at_nut.sends("sign-flange_bolts-W3", **{"reading.0": "81", "new_part": "yes"})

    signed = at_nut.sheet.step(step).signatures["flange_bolts"]
    # 81 lbf·ft = 109 821 mN·m: 81 × 1.3558179483 N·m. Source: NIST SP 811 (2008), appendix B.8, from memory.
    assert (signed.values, signed.texts) == ((109_821,), ("81 lbf·ft",))


def test_with_an_extension_the_sum_is_shown_and_the_setting_is_what_the_rules_want(at_nut):
    step = at_nut.forms[NUT_FORM].hidden["step"]
    at_nut.look(step=step, at="flange_bolts", wrench="W2", extension="150 mm", angle="0")
    # 110 × 420/(420 + 150) = 81.05. Statics: T = setting·(L + E)/L.
    assert "110 N·m × 420 mm / (420 mm + 150 mm) = 81.1 N·m" in words(at_nut.page)

    at_nut.sends(NUT_FORM, **{"reading.0": "81.1", "new_part": "yes"})
    assert at_nut.sheet.step(step).signatures["flange_bolts"].extension_um == 150_000


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Enter the reading"),
        ("abc", "There is no number in “abc”"),
        ("81 lbf·ft", "W2 is read in N·m"),
        ("110 mm", "“110 mm” is a length"),
        ("1,100", "can be read in two ways"),
        ("9" * 70, "too long"),
        ("nan", "nan"),
    ],
)
def test_a_reading_that_cannot_be_read_comes_back_with_what_was_typed(at_nut, typed, sentence):
    before = at_nut.sheet.entries
    at_nut.sends(NUT_FORM, **{"reading.0": typed, "new_part": "yes"})

    assert at_nut.status == 422
    assert sentence in told(at_nut)
    assert at_nut.forms[NUT_FORM].typed["reading.0"] == typed
    assert at_nut.sheet.entries == before


@pytest.mark.parametrize(("typed", "sentence"), [("110,5", ""), ("-110", "range"), ("2000", "range"), ("1e3", "range")])
def test_a_reading_that_can_be_read_is_kept_whatever_it_is(at_nut, typed, sentence):
    """A comma is a decimal mark; negative and absurd readings are set aside with a reason, never lost."""
    before = at_nut.sheet.entries
    at_nut.sends(NUT_FORM, **{"reading.0": typed, "new_part": "yes"})

    assert at_nut.status == 200 or not sentence
    assert sentence in told(at_nut)
    assert at_nut.sheet.entries == before + 1


def test_a_part_that_has_to_be_new_is_confirmed_and_the_reading_stays_typed(at_nut):
    at_nut.sends(NUT_FORM, **{"reading.0": "110"})

    assert at_nut.status == 422
    assert "Confirm that this part is new" in told(at_nut)
    assert at_nut.forms[NUT_FORM].typed["reading.0"] == "110"


def test_the_first_person_is_told_that_another_has_to_read_and_can_hand_the_tablet_over(at_nut):
    at_nut.sends(NUT_FORM, **{"reading.0": "110", "new_part": "yes"})
    link = re.search(r'href="(/sign-in\?after=[^"]+)"', at_nut.page)

    assert "someone else than you" in words(at_nut.page)
    assert link is not None

    after = at_nut.client.get(unescape(link[1]))
    back = re.search(r'name="after" value="([^"]+)"', after.text)
    assert back is not None
    assert unescape(back[1]).startswith(f"/jobs/{at_nut.number}/sheet?step=")


def test_the_same_person_reading_twice_is_set_aside(at_nut):
    step = at_nut.forms[NUT_FORM].hidden["step"]
    form = at_nut.forms[NUT_FORM].hidden
    at_nut.sends(NUT_FORM, **{"reading.0": "110", "new_part": "yes"})
    at_nut.posts({**form, "kind": "countersigned", "entry": "", "reading.0": "110"})

    assert "another person than Ada Lindqvist" in told(at_nut)
    assert at_nut.sheet.step(step).counters == {}


# --- Other forms, badly filled in ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("form", "fields", "sentence"),
    [
        ("measures", {}, "Nothing was filled in"),
        ("measures", {"value.front_left": "abc"}, "There is no number"),
        ("support", {}, "Choose how the vehicle is held now"),
        ("support", {"state": "on_a_jack"}, "Choose how the vehicle is held now"),
        ("support", {"state": "stands_frame"}, "Choose which axle"),
        ("sheet-hold", {"reason": "  "}, "Write down the reason"),
        ("sheet-hold", {"reason": "x" * 2_001}, "too long"),
        ("hand-over", {}, "Choose who goes on"),
        ("hand-over", {"to": "nobody"}, "Choose who goes on"),
        ("sheet-note", {"text": ""}, "Write the note"),
        ("sheet-note", {"text": "y" * 2_001}, "too long"),
    ],
)
def test_a_form_badly_filled_in_comes_back_with_everything_typed(ada, form, fields, sentence):
    before = ada.sheet.entries
    ada.sends(form, **fields)

    assert ada.status == 422
    assert sentence in told(ada)
    assert ada.sheet.entries == before
    for name, text in fields.items():
        if name in ("reason", "text") or name.startswith("value."):
            assert ada.forms[form].typed[name].strip() == text.strip()


def test_each_problem_links_to_its_field(ada):
    ada.sends("measures", **{"value.front_left": "abc"})
    targets = re.findall(r'<a href="#([^"]+)">', ada.page[ada.page.index('id="told"') :])

    assert targets
    assert all(f'id="{unescape(one)}"' in unescape(ada.page) for one in targets[:1])


def test_a_comma_is_a_decimal_mark_and_the_unit_may_be_typed(ada):
    step = ada.forms["measures"].hidden["step"]
    ada.sends("measures", **{"value.front_left": "352,5", "value.front_right": "13.9 in"})
    readings = ada.sheet.step(step).readings

    assert readings["front_left"].value == 352_500
    assert (readings["front_right"].text, readings["front_right"].unit) == ("13.9", "in")
    assert "352,5 mm" in words(ada.page)


def test_values_typed_together_become_an_entry_each(ada):
    before = ada.sheet.entries
    ada.sends("measures", **dict.fromkeys(ada.forms["measures"].shown, "350"))

    assert ada.sheet.entries == before + len(ada.packet.step_by_id[ada.packet.steps[0].id].measures)


def test_a_verdict_against_a_part_wants_its_reason(ada):
    while "trial" not in ada.look().forms:
        ada.does_next()
    form = ada.forms["trial"]
    step = ada.packet.step_by_id[form.hidden["step"]]
    ada.sends("trial", choice=step.trial.choices[0].key, verdict="replace")
    assert "Write down why" in told(ada)
    assert ada.forms["trial"].typed["choice"] == step.trial.choices[0].key

    ada.sends("trial", choice=step.trial.choices[0].key, verdict="replace", reason="Moves by hand")
    assert ada.sheet.step(step.id).outcome.reason == "Moves by hand"


def test_a_step_is_opened_again_with_a_reason_and_says_so(ada):
    step = ada.does_next()
    ada.look(step=step.id).sends("reopen", reason="Measured on the wrong point")

    assert ada.sheet.step(step.id).done is None
    assert "Measured on the wrong point" in words(ada.page)


def test_a_tag_comes_off_by_who_hung_it(ada):
    ada.sends("sheet-hold", reason="Wait for the part")
    assert "Wait for the part" in words(ada.page)
    assert "measures" not in ada.forms

    key = next(one for one in ada.forms if one.startswith("lift-"))
    ada.sends(key, reason="It is here")
    assert ada.sheet.open_hold("") is None
    assert "measures" in ada.forms


# --- Twice, forged, unknown, by the wrong person ------------------------------------------------------------------


def test_the_same_form_sent_twice_is_recorded_once(ada):
    form = ada.forms["sheet-note"]
    fields = {**form.hidden, "text": "Seen"}
    ada.posts(fields)
    ada.posts(fields)

    assert len(ada.sheet.notes) == 1


def test_another_form_under_a_used_id_is_refused_and_kept(ada):
    used = ada.forms["sheet-note"].hidden
    ada.posts({**used, "text": "First"})
    ada.posts({**ada.forms["sheet-hold"].hidden, "entry": used["entry"], "reason": "Stop"})

    assert ada.status == 422
    assert "sent before with other contents" in told(ada)
    assert ada.forms["sheet-hold"].typed["reason"] == "Stop"


def test_a_form_without_the_tokens_of_this_sign_in_is_refused(ada):
    answer = ada.client.post(f"/jobs/{ada.number}/entries", data={"kind": "note_added", "text": "x", "csrf": "other"})

    assert answer.status_code == 403
    assert ada.sheet.notes == ()


def test_who_is_not_signed_in_signs_in_first_and_comes_back(made):
    job = made.open()
    answer = made.client().get(f"/jobs/{job.number}/sheet")

    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/sign-in?after=")


@pytest.mark.parametrize("address", ["/jobs/26-9999/sheet", "/jobs/%00/sheet", "/jobs/a%2Fb/sheet"])
def test_an_unknown_job_is_a_page_that_says_so(made, address):
    assert made.client(ADA).get(address).status_code == 404


def test_a_form_to_an_unknown_job_is_a_page_that_says_so(ada):
    answer = ada.client.post("/jobs/26-9999/entries", data={**ada.forms["sheet-note"].hidden, "text": "x"})

    assert answer.status_code == 404


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": ""}, {"kind": "handed_back"}, {"kind": "packet_pinned"}, {"kind": "no such thing"},
    ],
)  # fmt: skip
def test_a_form_of_no_kind_that_is_here_comes_back(ada, fields):
    ada.posts({**ada.forms["sheet-note"].hidden, "text": "x", **fields})

    assert ada.status == 422
    assert "not one the office knows" in told(ada)


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "step_done", "step": "no such step"},
        {"kind": "signed_off", "step": "no such step", "fastener": "x"},
        {"kind": "countersigned", "step": "no such step", "seen": "All there"},
        {"kind": "gate_answered", "gate": "no such gate"},
        {"kind": "hold_lifted", "hold": "no such hold", "reason": "x"},
        {"kind": "step_reopened", "step": "no such step", "reason": "x"},
    ],
)
def test_what_is_no_longer_there_is_set_aside_with_a_sentence(ada, fields):
    ada.posts({**ada.forms["sheet-note"].hidden, **fields})

    assert ada.status == 200
    assert "on this sheet any more" in told(ada)


def test_garbled_hidden_fields_never_break_the_page(ada):
    for name in ("entry", "basis_packet", "basis_support", "basis_holds", "basis_step", "sheet_form", "look", "step"):
        ada.look()
        ada.posts({**ada.forms["sheet-note"].hidden, "text": "x", name: "\u2603 -1e99 \n <b>" * 9})
        assert ada.status in (200, 303, 422), name


def test_the_desk_reads_the_sheet_and_what_it_may_not_do_is_set_aside(made, ada):
    dee = Worker(made, made.client(DEE), ada.number, ada.job, DEE.id).look()
    assert set(dee.forms) == {"sheet-note", "step-note"}

    dee.posts({**dee.forms["sheet-note"].hidden, "kind": "hold_placed", "reason": "Stop"})
    assert "needs another role: technician or foreman" in told(dee)


def test_a_foreman_sees_no_form_of_a_technicians_work(made, ada):
    fay = Worker(made, made.client(FAY), ada.number, ada.job, FAY.id).look()

    assert "measures" not in fay.forms
    assert "done" not in fay.forms
    assert "sheet-hold" in fay.forms


KINDS = [str(one) for one in Kind if one not in (Kind.HANDED_BACK,)]
NAMES = [
    "kind", "step", "gate", "fastener", "hold", "to", "state", "axle", "bears", "reason", "text", "note", "seen",
    "choice", "verdict", "wrench", "extension", "angle", "reading.0", "new_part", "value.front_left", "answer.bears_on",
    "entry", "basis_step", "basis_packet", "basis_support", "basis_holds", "basis_gate", "sheet_form", "look",
    "part.cotter",
]  # fmt: skip
TEXTS = st.one_of(
    st.sampled_from(
        [*KINDS, "", "yes", "stands:front", "opening.ride_height", "W2", "110 N·m", "front", "stands_frame"]
    ),
    st.text(max_size=60),
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(fields=st.dictionaries(st.sampled_from(NAMES), TEXTS, max_size=8), kind=st.sampled_from(KINDS))
def test_no_form_whatever_it_holds_breaks_the_page(ada_once, fields, kind):
    """Any fields in any kind of form: recorded, set aside or given back; never a page about something broken."""
    ada_once.look()
    csrf = ada_once.forms["sheet-note"].hidden["csrf"]
    ada_once.posts({"kind": kind, **fields, "csrf": csrf})

    assert ada_once.status in (200, 303, 422)
    assert 'id="sheet"' in ada_once.page


@pytest.fixture(scope="module")
def ada_once() -> Worker:
    made = TestOffice().furnish()
    return at_work(made, GUS, made.open())


# --- What htmx gets -----------------------------------------------------------------------------------------------


HTMX = {"hx-request": "true"}


def test_a_swap_gets_the_sheet_alone_and_says_what_comes_next(ada):
    form = ada.forms["measures"]
    values = dict.fromkeys(form.shown, "350")
    answer = ada.client.post(form.action, data={**form.hidden, **values}, headers=HTMX)

    assert answer.status_code == 200
    assert answer.headers["vary"] == "HX-Request"
    assert answer.text.lstrip().startswith('<article id="sheet"')
    assert "<html" not in answer.text
    assert 'data-focus="finish"' in answer.text
    assert "Recorded. In hand" in answer.text


def test_a_swap_of_problems_is_the_sheet_with_them(ada):
    form = ada.forms["measures"]
    answer = ada.client.post(form.action, data=form.hidden, headers=HTMX)

    assert answer.status_code == 422
    assert 'data-focus="told"' in answer.text


def test_what_is_recorded_is_announced_to_open_pages(ada):
    ada.made.announced.clear()
    ada.sends("sheet-note", text="Seen")

    assert set(ada.made.announced) == {"floor", f"sheet:{ada.job}"}


# --- My work ------------------------------------------------------------------------------------------------------


def test_with_nothing_placed_my_work_says_what_to_do_next(made):
    assert "Ask the foreman for a job" in words(made.client(ADA).get("/work").text)


def test_my_work_shows_what_is_placed_with_me_now_and_next(made):
    first, second = made.open(), made.open(complaint="Sags at the front")
    made.place(first)
    made.now = made.now.replace(hour=12)
    made.place(second, bay="b-2")
    made.now = made.now.replace(hour=9)
    page = words(made.client(ADA).get("/work").text)

    assert page.index("Now") < page.index(first.number) < page.index("Next") < page.index(second.number)
    assert "Bay 1" in page
    assert "Ride height before" in page
    assert first.number not in words(made.client(BEN).get("/work").text)


def test_what_i_began_stays_in_hand_until_i_hand_it_over(made, ada):
    ada.does_next()
    ada.look().sends("hand-over", to=BEN.id, note="")

    assert "In hand" not in words(made.client(ADA).get("/work").text)
    assert "handed over by Ada Lindqvist" in words(made.client(BEN).get("/work").text)


def test_what_waits_for_a_second_look_is_shown_to_everyone_but_the_first(at_nut):
    at_nut.sends(NUT_FORM, **{"reading.0": "110", "new_part": "yes"})

    assert "second look" not in words(at_nut.client.get("/work").text)
    place = at_nut.packet.step_by_id[_up_to_the_nut()[2]].fasteners[0].place
    assert place in words(at_nut.made.client(BEN).get("/work").text)


def test_what_was_set_aside_of_mine_is_shown_until_it_is_settled(at_nut):
    at_nut.sends(NUT_FORM, **{"reading.0": "131", "new_part": "yes"})
    assert "131 N·m is not inside" in words(at_nut.client.get("/work").text)

    at_nut.sends(NUT_FORM, **{"reading.0": "110", "new_part": "yes"})
    assert "Set aside, yours" not in words(at_nut.client.get("/work").text)


def test_a_sheet_opens_by_its_number_and_an_unknown_one_is_kept(made):
    job = made.open()
    client = made.client(ADA)

    assert (
        client.get("/jobs", params={"number": job.number}).headers["location"].startswith(f"/jobs/{job.number}/sheet")
    )

    unknown = client.get("/jobs", params={"number": "99-1"})
    assert unknown.status_code == 404
    assert "There is no job 99-1" in words(unknown.text)
    assert 'value="99-1"' in unknown.text


def test_a_sheet_not_pinned_yet_says_what_to_do(made):
    job = made.open()
    with made.store.writing() as unit:
        unit.sheets.put(Sheet(job.id))
        unit.commit()

    assert "Ask the desk" in words(made.client(ADA).get(f"/jobs/{job.number}/sheet").text)


def test_forms_read_by_the_tests_are_the_forms_of_the_page(ada):
    """The reader of forms finds every form that posts to the sheet."""
    posts = (f'action="/jobs/{ada.number}/{where}"' for where in ("entries", "photos"))
    assert len(forms_in(ada.page)) == sum(ada.page.count(one) for one in posts)
