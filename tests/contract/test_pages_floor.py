"""The foreman's pages over a workshop in memory: what is shown, what is refused in words, what is kept."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from html import unescape
from typing import Any

import pytest

from app.domain import entry as e
from app.domain.packet import Axle, Support
from app.domain.records import FigureRecord, Job, JobState, Placement, Tool, ToolKind
from app.use_cases.floor_view import see_floor
from app.use_cases.place_job import PlacementWanted, place_job
from tests.builders import ADA, BEN, DEE, FAY, GUS, Play, a_figure, a_packet, a_reading, whole_job, with_step
from tests.offices import (
    BAYS,
    CUSTOMER,
    MONDAY,
    VEHICLE,
    Visitor,
    Workshop,
    a_small_job,
    a_visitor,
    an_app,
    an_office,
)

HOUR = timedelta(hours=1)
SCRIPT = "<script>alert(1)</script>"


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def fay(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), FAY)


def words(answer: Any) -> str:
    """What a person reads on a page: no tags, single spaces."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", answer.text, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def placed(
    here: Workshop, job: Job, bay: str = "bay-1", who: str = ADA.id, begins: int = 0, ends: int = 2
) -> Placement:
    span = (MONDAY + begins * HOUR, MONDAY + ends * HOUR)
    return place_job(here.office, FAY.id, PlacementWanted(job.id, bay, who, *span))


class TestTheFloor:
    def test_an_empty_floor_says_what_to_do_next(self, fay: Visitor) -> None:
        said = words(fay.get("/floor"))

        assert "Bay 1 two-post lift · 3500 kg" in said
        assert "Every open job has its bay." in said
        assert "No tag hangs." in said
        assert "Mon 8 Jun, today, 11:00" in said

    def test_a_floor_without_bays_says_where_to_enter_them(self, here: Workshop, fay: Visitor) -> None:
        for bay in BAYS:
            here.save("bays", replace(bay, active=False))

        assert "There is no bay yet. Enter the bays on the Desk" in words(fay.get("/floor"))

    def test_a_placed_job_stands_in_its_bay_with_who_when_and_how_far(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()
        placement = placed(here, job)

        page = fay.get("/floor")

        said = words(page)
        assert "CP 1001 26-0001 Tern 2.0 · grey Ada 11:00 to 13:00" in said
        assert f"not begun, {len(here.sheet(job).packet.steps)} steps" in said
        assert f'href="#item-{placement.id}"' in page.text
        assert 'aria-label="CP 1001 · 26-0001 not begun · Ada 1: Bay 1, 11:00 to 13:00"' in page.text

    def test_a_job_in_work_shows_its_step(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        play.tests()
        play.finishes("look")
        placed(here, a_small_job(here, play))

        assert "step 2 of 7: Undo" in words(fay.get("/floor"))

    def test_jobs_without_a_bay_wait_for_one_the_soonest_promised_first(self, here: Workshop, fay: Visitor) -> None:
        here.opens()
        here.opens(promised_at=MONDAY + 5 * HOUR)

        said = words(fay.get("/floor"))

        assert "2 wait for a bay" in said
        assert said.index("26-0002") < said.index("26-0001")
        assert "promised 16:00" in said

    def test_a_job_whose_time_ran_out_waits_again_and_says_so(self, here: Workshop, fay: Visitor) -> None:
        placed(here, here.opens())
        here.clock.forward(hours=3)

        said = words(fay.get("/floor"))

        assert "its time in a bay ended 13:00" in said
        assert "its time is over" in said

    def test_a_placement_beyond_the_promise_is_named(self, here: Workshop, fay: Visitor) -> None:
        placed(here, here.opens(promised_at=MONDAY + HOUR))

        assert "ends after the promised time, 12:00" in words(fay.get("/floor"))

    def test_holds_seconds_asides_and_ready_ones_are_gathered(self, here: Workshop, fay: Visitor) -> None:
        play = whole_job()
        play.does(ADA, e.StepReopened(step="road_test", reason="Knock"))
        play.finishes("road_test", ADA)
        play.hangs_tag("", BEN, "Jack pad rusted")
        play.finishes("undo", BEN)
        a_small_job(here, play)

        said = words(fay.get("/floor"))

        assert "1 hold tag hangs" in said
        assert "Jack pad rusted on the whole sheet · Ben" in said
        assert "1 waits for a second person" in said
        assert "Road_test not Ada" in said
        assert "Closing of a step: Undo" in said
        assert "held: Jack pad rusted" in said

    def test_a_finished_job_is_ready_and_needs_no_bay(self, here: Workshop, fay: Visitor) -> None:
        a_small_job(here, whole_job())

        said = words(fay.get("/floor"))

        assert "1 ready to hand back" in said
        assert "Every open job has its bay." in said

    def test_wrenches_and_lifts_that_fall_due_are_listed(self, here: Workshop, fay: Visitor) -> None:
        tool = Tool("t-1", "W1", ToolKind.TORQUE_WRENCH, "Click", "N·m", 20_000, 200_000, due_on=date(2026, 6, 7))
        later = replace(tool, id="t-2", tag="W2", due_on=date(2026, 6, 22))
        far = replace(tool, id="t-3", tag="W3", due_on=date(2026, 6, 23))
        undated = replace(tool, id="t-4", tag="W4", due_on=None)
        here.add("tools", tool, later, far, undated)
        here.save("bays", replace(BAYS[0], inspected_on=date(2025, 6, 1)))

        said = words(fay.get("/floor"))

        assert "W1 Click due 7 Jun 2026 not in date" in said
        assert "W2 Click due 22 Jun 2026" in said
        assert "W3" not in said
        assert "W4 Click no date written down not in date" in said
        assert "Bay 1 inspection due 1 Jun 2026 not in date" in said
        assert "Not to be used: its inspection was due by 1 Jun 2026" in said

    def test_other_days_are_a_link_away_and_times_are_the_shop_s(self, here: Workshop, fay: Visitor) -> None:
        placed(here, here.opens(), begins=24, ends=26)

        today, tomorrow = words(fay.get("/floor")), words(fay.get("/floor?day=2026-06-09"))

        assert "Ada" not in today
        assert "Tue 9 Jun" in tomorrow
        assert "Tue 9 Jun, 11:00 to 13:00" in tomorrow

    @pytest.mark.parametrize("day", ["", "yesterday", "0001-01-01", "9999-12-31", "2026-02-30", SCRIPT])
    def test_a_day_that_is_none_shows_today(self, fay: Visitor, day: str) -> None:
        answer = fay.get(f"/floor?day={day}")

        assert answer.status_code == 200
        assert "today, 11:00" in words(answer)

    def test_what_people_typed_is_shown_as_text(self, here: Workshop, fay: Visitor) -> None:
        here.opens(complaint=SCRIPT)

        text = fay.get("/floor").text

        assert SCRIPT not in text
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text

    def test_an_open_page_asks_for_its_changing_part_alone(self, here: Workshop, fay: Visitor) -> None:
        here.opens()
        whole = fay.get("/floor")

        part = fay.get("/floor", **{"hx-request": "true", "hx-request-type": "partial"})

        assert 'data-live="floor"' in whole.text
        assert "<html" not in part.text
        assert "26-0001" in part.text
        assert "<input" not in part.text

    def test_the_board_s_shares_lie_in_order_within_its_width(self, here: Workshop) -> None:
        placed(here, here.opens(), begins=0, ends=3)
        floor = see_floor(here.office)

        item = floor.rows[0].items[0]

        assert [tick.words for tick in floor.ticks][:3] == ["07", "08", "09"]
        # 11:00 to 14:00 on a board from 07:00 to 18:00: 4/11 and 3/11 of the width.
        assert (item.x, item.width) == ("36.36%", "27.27%")
        assert floor.now_at == "36.36%"

    def test_a_placement_over_midnight_is_cut_at_the_day_s_edge(self, here: Workshop) -> None:
        placed(here, here.opens(), begins=8, ends=20)

        monday, tuesday = see_floor(here.office), see_floor(here.office, date(2026, 6, 9))

        assert (monday.rows[0].items[0].after, tuesday.rows[0].items[0].before) == (True, True)
        assert tuesday.rows[0].items[0].x == "0.00%"
        assert tuesday.now_at == ""

    @pytest.mark.parametrize("who", [ADA, DEE])
    def test_it_is_the_foreman_s(self, here: Workshop, who: Any) -> None:
        assert a_visitor(an_app(here), who).get("/floor").status_code == 403


class TestPlacing:
    def test_a_job_is_placed_by_its_form_alone(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        answer = fay.fills_in(
            "/floor/placements?job=26-0001", "/floor/placements", {"bay": "bay-1", "technician": ADA.id}
        )

        assert answer.status_code == 303
        assert "Job 26-0001 is placed: Bay 1, Ada, 11:00 to 13:00." in words(fay.get(answer.headers["location"]))
        assert here.all("placements")[0].begins_at == MONDAY

    def test_the_form_says_beforehand_what_speaks_against_a_bay_and_who_is_busy(
        self, here: Workshop, fay: Visitor
    ) -> None:
        here.save("bays", replace(BAYS[1], capacity_g=1_500_000))
        placed(here, here.opens())
        here.opens()

        answer = fay.get("/floor/placements?job=26-0002")

        said = words(answer)
        assert "Bay 2 carries 1500 kg and this vehicle weighs 1700 kg." in said
        assert "Bay 1 two-post lift, 3500 kg 11:00 to 13:00: 26-0001" in said
        assert "Ada 11:00 to 13:00: 26-0001" in said
        assert re.search(r'value="bay-2"[^>]* disabled', answer.text)

    def test_a_refused_placement_keeps_all_that_was_chosen(self, here: Workshop, fay: Visitor) -> None:
        placed(here, here.opens())
        here.opens()
        typed = {"bay": "bay-1", "technician": BEN.id, "begins_at": "2026-06-08T12:00", "ends_at": "2026-06-08T15:30"}

        answer = fay.fills_in("/floor/placements?job=26-0002", "/floor/placements", typed)

        assert answer.status_code == 422
        assert "Job 26-0001 is in Bay 1 then: 11:00 to 13:00." in words(answer)
        assert 'value="2026-06-08T15:30"' in answer.text
        assert re.search(r'value="bay-1" checked', answer.text)
        assert re.search(rf'value="{BEN.id}" checked', answer.text)
        assert 'href="#begins_at"' in answer.text
        assert len(here.all("placements")) == 1

    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ({"begins_at": ""}, "Enter when it begins."),
            ({"begins_at": "tomorrow"}, "“tomorrow” is not clear as a date and time."),
            ({"ends_at": "2026-13-45T99:99"}, "“2026-13-45T99:99” is not clear as a date and time."),
            ({"ends_at": "0001-01-01T00:00"}, "not clear as a date and time."),
            ({"ends_at": "9999-12-31T23:59"}, "That is longer than 31 days."),
            ({"begins_at": "9999-12-31T23:58", "ends_at": "9999-12-31T23:59"}, "That is more than 366 days away."),
            ({"begins_at": "2026-06-07T10:00"}, "That beginning has passed."),
            ({"ends_at": "2026-06-08T10:59"}, "It ends before it begins."),
            ({"bay": ""}, "Choose a bay."),
            ({"bay": SCRIPT}, "Choose a bay."),
            ({"technician": "x" * 5_000}, "Choose a technician."),
            ({"technician": DEE.id}, "Choose a technician."),
        ],
    )
    def test_each_thing_that_cannot_be_has_its_sentence(
        self, here: Workshop, fay: Visitor, typed: dict[str, str], said: str
    ) -> None:
        here.opens()

        fields = {"bay": "bay-1", "technician": ADA.id, **typed}
        answer = fay.fills_in("/floor/placements?job=26-0001", "/floor/placements", fields)

        assert answer.status_code == 422
        assert said in words(answer)
        assert SCRIPT not in answer.text
        assert here.all("placements") == ()

    def test_an_unknown_mass_is_asked_for_with_the_way_to_enter_it(self, here: Workshop, fay: Visitor) -> None:
        here.save("vehicles", replace(VEHICLE, rear=replace(VEHICLE.rear, mass_g=None)))
        here.opens()

        page = fay.get("/floor/placements?job=26-0001")
        answer = fay.fills_in(
            "/floor/placements?job=26-0001", "/floor/placements", {"bay": "bay-1", "technician": ADA.id}
        )

        assert "Nobody has entered what CP 1001 weighs on its rear axle, and it is not assumed." in words(page)
        assert 'href="/desk/vehicles/v-1"' in page.text
        assert answer.status_code == 422
        assert "mass on the rear axle not known" in words(fay.get("/floor"))

    def test_a_placement_is_moved_and_taken_out_again(self, here: Workshop, fay: Visitor) -> None:
        old = placed(here, here.opens(), begins=1, ends=2)

        moved = fay.fills_in(f"/floor/placements/{old.id}", f"/floor/placements/{old.id}", {"bay": "bay-2"})
        new = here.all("placements")[-1]
        taken = fay.fills_in(f"/floor/placements/{new.id}", f"/floor/placements/{new.id}/withdrawal")

        assert (moved.status_code, taken.status_code) == (303, 303)
        assert new.bay == "bay-2"
        assert [one.withdrawn for one in here.all("placements")] == [True, True]
        assert "Job 26-0001 is taken out of its bay." in words(fay.get(taken.headers["location"]))

    def test_one_in_its_bay_is_lengthened_by_changing_its_end(self, here: Workshop, fay: Visitor) -> None:
        old = placed(here, here.opens())
        here.clock.forward(hours=1)
        address = f"/floor/placements/{old.id}"

        page = fay.get(address)
        answer = fay.fills_in(address, address, {"ends_at": "2026-06-08T17:00"})

        assert "It is in its bay since 11:00." in words(page)
        assert answer.status_code == 303
        assert here.all("placements") == (replace(old, ends_at=MONDAY + 6 * HOUR),)

    def test_a_moving_refused_keeps_what_was_typed(self, here: Workshop, fay: Visitor) -> None:
        placed(here, here.opens(), bay="bay-2", who=BEN.id)
        old = placed(here, here.opens())
        address = f"/floor/placements/{old.id}"

        answer = fay.fills_in(address, address, {"bay": "bay-2", "ends_at": "2026-06-08T14:15"})

        assert answer.status_code == 422
        assert 'value="2026-06-08T14:15"' in answer.text
        assert here.get("placements", old.id) == old

    def test_twice_sent_it_says_that_the_bay_is_taken(self, here: Workshop, fay: Visitor) -> None:
        here.opens()
        fields = {"bay": "bay-1", "technician": ADA.id}
        fay.fills_in("/floor/placements?job=26-0001", "/floor/placements", fields)

        again = fay.fills_in("/floor/placements?job=26-0001", "/floor/placements", fields)

        assert again.status_code == 422
        assert len(here.all("placements")) == 1

    @pytest.mark.parametrize("address", ["/floor/placements", "/floor/placements?job=99", "/floor/placements/none"])
    def test_what_is_not_there_is_said(self, fay: Visitor, address: str) -> None:
        assert fay.get(address).status_code == 404

    def test_one_that_is_over_or_closed_is_said(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()
        old = placed(here, job)
        here.clock.forward(hours=5)

        over = fay.get(f"/floor/placements/{old.id}")
        here.save("jobs", replace(job, state=JobState.CANCELLED))
        closed = fay.get("/floor/placements?job=26-0001")

        assert (over.status_code, closed.status_code) == (422, 422)
        assert "This is over, or was withdrawn" in words(over)
        assert "Job 26-0001 is closed." in words(closed)

    def test_without_this_sign_in_s_token_nothing_is_placed(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        answer = fay.sends("/floor/placements", {"csrf": "other", "job": "26-0001", "bay": "bay-1"})

        assert answer.status_code == 403
        assert here.all("placements") == ()


class TestSettling:
    def test_what_was_set_aside_is_seen_beside_what_the_sheet_has_and_settled(
        self, here: Workshop, fay: Visitor
    ) -> None:
        play = Play(a_packet())
        play.tests()
        play.finishes("look", ADA)
        play.finishes("look", BEN)
        job = a_small_job(here, play)
        address = f"/jobs/1001/asides/{play.last_id}"

        page = fay.get(address)
        answer = fay.fills_in(address, address, {"outcome": "keep_as_note", "reason": "Both looked"})

        said = words(page)
        assert "What Ben sent" in said
        assert "Closed “Look”" in said
        assert "Closed by Ada" in said
        assert "Ben was told: “Ada has recorded this already." in said
        assert answer.status_code == 303
        assert "What was set aside on job 1001 is settled." in words(fay.get(answer.headers["location"]))
        assert here.sheet(job).asides[play.last_id].settled_reason == "Both looked"
        assert "Fay settled this" in words(fay.get(address))

    def test_a_changed_step_stands_old_beside_new(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        saw = play.sees("look")
        play.pins(with_step(play.sheet.packet, "look", do="Do it with the wheel off."))  # type: ignore[arg-type]
        play.does(ADA, e.StepDone(step="look"), basis=saw)
        a_small_job(here, play)

        page = fay.get(f"/jobs/1001/asides/{play.last_id}")

        assert "The step was changed in between" in words(page)
        assert re.search(r'differs">Do it\.<', page.text)
        assert re.search(r'differs">Do it with the wheel off\.<', page.text)

    def test_a_reading_outside_stands_beside_the_figure(self, here: Workshop, fay: Visitor) -> None:
        play = whole_job()
        play.does(ADA, e.StepReopened(step="stud", reason="Again"))
        play.gets_onto_stands()
        play.signs("20 N·m", step="stud")
        a_small_job(here, play)

        said = words(fay.get(f"/jobs/1001/asides/{play.last_id}"))

        assert "20 N·m · wrench W1" in said
        assert "Figure: 110 N·m, Maker's manual, page 12." in said
        assert "settled by itself once the same is done" in said

    def test_without_outcome_and_reason_it_is_asked_for_and_kept(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        play.finishes("undo")
        a_small_job(here, play)
        address = f"/jobs/1001/asides/{play.last_id}"

        first = fay.fills_in(address, address, {"reason": "Too early & unsure"})
        second = fay.fills_in(address, address, {"outcome": "do_again"})

        assert (first.status_code, second.status_code) == (422, 422)
        assert "Choose what becomes of it." in words(first)
        assert "Too early &amp; unsure</textarea>" in first.text
        assert "Write down the reason." in words(second)
        assert re.search(r'value="do_again" checked', second.text)

    def test_settled_meanwhile_is_said(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        play.finishes("undo")
        a_small_job(here, play)
        address = f"/jobs/1001/asides/{play.last_id}"
        fields = {"outcome": "do_again", "reason": "Gate first", "id": ""}
        gus = a_visitor(an_app(here), GUS)
        gus.fills_in(address, address, fields)

        answer = fay.sends(address, fields)

        assert answer.status_code == 422
        assert "Gus has settled this already." in words(answer)

    def test_a_form_this_office_does_not_know_is_shown_as_that(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        play.does(ADA, {"anything": 1}, kind="levelled")
        a_small_job(here, play)

        said = words(fay.get(f"/jobs/1001/asides/{play.last_id}"))

        assert "Sent something in a form this office does not know (levelled)" in said

    def test_a_hold_tag_is_taken_off_with_a_reason(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        tag = play.hangs_tag("undo", ADA, "Boot split")
        job = a_small_job(here, play)
        address = f"/jobs/1001/holds/{tag}"

        empty = fay.fills_in(address, address, {"reason": " "})
        answer = fay.fills_in(address, address, {"reason": "New boot is here"})

        assert empty.status_code == 422
        assert "Boot split on “Undo” · Ada" in words(empty)
        assert answer.status_code == 303
        assert here.sheet(job).holds[tag].lifted_reason == "New boot is here"
        assert "Fay took it off" in words(fay.get(address))
        assert "No tag hangs." in words(fay.get("/floor"))

    @pytest.mark.parametrize(
        "address", ["/jobs/1001/asides/none", "/jobs/1001/holds/none", "/jobs/99/asides/x", "/jobs/99/holds/x"]
    )
    def test_what_is_not_there_is_said(self, here: Workshop, fay: Visitor, address: str) -> None:
        a_small_job(here)

        assert fay.get(address).status_code == 404
        assert fay.sends(address, {"reason": "x"}).status_code == 404

    @pytest.mark.parametrize("who", [ADA, DEE])
    def test_settling_is_the_foreman_s(self, here: Workshop, who: Any) -> None:
        play = Play(a_packet())
        tag = play.hangs_tag()
        a_small_job(here, play)

        visitor = a_visitor(an_app(here), who)

        assert visitor.get(f"/jobs/1001/holds/{tag}").status_code == 403
        assert visitor.sends(f"/jobs/1001/holds/{tag}", {"reason": "x"}).status_code == 403


class TestHandingBack:
    ADDRESS = "/jobs/1001/handback"

    def test_the_foreman_reads_what_goes_out_and_releases(self, here: Workshop, fay: Visitor) -> None:
        job = a_small_job(here, whole_job())

        page = fay.get(self.ADDRESS)
        answer = fay.fills_in(self.ADDRESS, self.ADDRESS, {"note": "Drive gently."})

        said = words(page)
        assert "Mira Okonjo gets a letter at mira@okonjo.example with:" in said
        assert "2 torques (each with its figure, reading and wrench)" in said
        assert "Dear Mira Okonjo" in said
        assert answer.status_code == 303
        assert "Job 1001 is handed back." in words(fay.get(answer.headers["location"]))
        assert here.get("jobs", job.id).state is JobState.HANDED_BACK
        assert "Drive gently." in here.all("outbox")[0].text
        assert "Fay has handed this job back." in words(fay.get(self.ADDRESS))

    def test_with_points_open_there_is_no_release_and_each_is_a_link(self, here: Workshop, fay: Visitor) -> None:
        play = whole_job()
        play.hangs_tag("", BEN, "Wait")
        play.does(ADA, e.StepReopened(step="road_test", reason="Knock"))
        a_small_job(here, play)

        page = fay.get(self.ADDRESS)
        forced = fay.sends(self.ADDRESS, {"note": "Out it goes"})

        assert "Not done yet: “Road_test”." in words(page)
        assert 'href="/jobs/1001/sheet?step=road_test#in-hand"' in page.text
        assert 'href="/floor#holds"' in page.text
        assert "Release job" not in words(page)
        assert forced.status_code == 422
        assert "A hold tag still hangs: Wait." in words(forced)
        assert here.all("outbox") == ()

    def test_a_customer_without_an_address_is_named_and_the_job_handed_back(self, here: Workshop, fay: Visitor) -> None:
        here.save("customers", replace(CUSTOMER, email=""))
        job = a_small_job(here, whole_job())

        floor, page = fay.get("/floor"), fay.get(self.ADDRESS)
        answer = fay.fills_in(self.ADDRESS, self.ADDRESS)

        assert "Mira Okonjo: no e-mail address, no letter goes out" in words(floor)
        assert "Mira Okonjo has no e-mail address, so no letter goes out." in words(page)
        assert f'href="/desk/customers/{CUSTOMER.id}"' in page.text
        assert answer.status_code == 303
        assert here.get("jobs", job.id).state is JobState.HANDED_BACK
        assert here.all("outbox") == ()

    def test_the_same_form_twice_is_one_letter(self, here: Workshop, fay: Visitor) -> None:
        a_small_job(here, whole_job())
        form = {"note": "", "id": "0193a000-0000-7000-8000-00000000abcd"}

        first, second = fay.sends(self.ADDRESS, form), fay.sends(self.ADDRESS, form)
        third = fay.sends(self.ADDRESS, {"note": "Again"})

        assert (first.status_code, second.status_code, third.status_code) == (303, 303, 422)
        assert len(here.all("outbox")) == 1
        assert "Job 1001 is closed." in words(third)

    def test_a_note_too_long_is_kept(self, here: Workshop, fay: Visitor) -> None:
        a_small_job(here, whole_job())

        answer = fay.fills_in(self.ADDRESS, self.ADDRESS, {"note": "y" * 2_001})

        assert answer.status_code == 422
        assert "at most 2000 characters" in words(answer)
        assert "y" * 2_001 in answer.text

    @pytest.mark.parametrize("who", [ADA, DEE])
    def test_it_is_the_foreman_s(self, here: Workshop, who: Any) -> None:
        job = a_small_job(here, whole_job())
        visitor = a_visitor(an_app(here), who)

        assert visitor.get(self.ADDRESS).status_code == 403
        assert visitor.sends(self.ADDRESS).status_code == 403
        assert here.get("jobs", job.id).state is JobState.OPEN

    def test_an_unknown_job_is_said(self, fay: Visitor) -> None:
        assert fay.get("/jobs/99/handback").status_code == 404
        assert fay.sends("/jobs/99/handback").status_code == 404


class TestTheJobPage:
    def test_it_tells_what_where_and_what_is_missing(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        page = fay.get("/jobs/26-0001")

        said = words(page)
        assert "It clunks over bumps" in said
        assert "Ball joint, lower, front left" in said
        assert "Edition 1, pinned by Fay, 11:00." in said
        assert "No figure yet, front axle:" in said
        assert "It is up to date." in said
        assert "Fay pinned edition 1 of the sheet" in said

    def test_its_history_is_in_words_with_what_was_set_aside(self, here: Workshop, fay: Visitor) -> None:
        play = whole_job()
        play.does(ADA, e.HandedOver(BEN.id, BEN.name, "Left side next"))
        play.does(ADA, e.NoteAdded("Thread cleaned", step="stud"))
        play.finishes("stud", BEN)
        a_small_job(here, play)

        said = words(fay.get("/jobs/1001"))

        assert "Ada answered the gate “Stands under the vehicle” What do the stands bear on? The frame" in said
        assert "What rating is on the label? 500 kg" in said
        assert "Ada put the vehicle on stands under the frame, front axle" in said
        assert "Ada measured “Shim pack” 3 mm" in said
        assert "Ada closed “Fit” new: Cotter pin" in said
        assert "Ada signed off “Ball joint stud nut” at “Stud” 110 N·m · wrench W1" in said
        assert "Ben read “Ball joint stud nut” a second time at “Stud” 111 N·m · wrench W1" in said
        assert "Ada signed off “Pivot bolt” at “Snug” drawn up snug" in said
        assert "Ben looked at “Road_test” as second person Everything in place, pins in" in said
        assert "Ada handed over to Ben Left side next" in said
        assert "Ada noted on “Stud” Thread cleaned" in said
        assert "Ben closed “Stud” Set aside , and told: “Ada has recorded this already." in said

    def test_every_kind_of_entry_can_be_told(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        play.tests()
        tag = play.hangs_tag("", FAY, "Wait")
        play.does(FAY, e.HoldLifted(hold=tag, reason="Here"))
        play.finishes("undo")
        play.does(FAY, e.Settled(aside=play.last_id, outcome="do_again", reason="Gate first"))
        play.does(ADA, e.StepReopened(step="look", reason="Not sure"))
        play.does(ADA, e.PhotoAdded(sha256="ab" * 32, name="pin.jpg", step="look"))
        play.does(ADA, e.GateAnswered(gate="gone", answers={"x": e.Answer(ready=True)}))
        play.does(ADA, e.ReadingTaken(step="gone", measure="gone", reading=a_reading("3 mm")))
        play.does(ADA, {"x": 1}, kind="levelled")
        a_small_job(here, play)

        said = words(fay.get("/jobs/1001"))

        for told in (
            "Ada tested at “Look”: sound No movement",
            "Fay hung a hold tag on the whole sheet Wait",
            "Fay took off the hold tag “Wait” of Fay Here",
            "Fay settled what Ada had sent at “Undo”: do it again Gate first",
            "Ada opened “Look” again Not sure",
            "Ada added a photo to “Look” pin.jpg",
            "Ada answered the gate “gone” x Yes",
            "Ada measured gone 3 mm",
            "Ada sent something in a form this office does not know (levelled)",
        ):
            assert told in said

    def test_a_figure_entered_since_is_offered_and_pinned(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()
        here.add("figures", a_figure_record())

        before = words(fay.get("/jobs/26-0001"))
        answer = fay.fills_in("/jobs/26-0001", "/jobs/26-0001/edition")
        after = words(fay.get(answer.headers["location"]))

        assert "Steps that read otherwise:" in before
        assert answer.status_code == 303
        assert "The sheet is brought up to date." in after
        assert "Edition 2" in after
        assert here.sheet(job).packet.edition == 2
        assert "The sheet was up to date already" in words(
            fay.get(fay.sends("/jobs/26-0001/edition").headers["location"])
        )

    def test_a_fact_taken_away_since_is_asked_for(self, here: Workshop, fay: Visitor) -> None:
        here.opens()
        front = replace(VEHICLE.front, facts=tuple(one for one in VEHICLE.front.facts if one[0] != "joint_fixing"))
        here.save("vehicles", replace(VEHICLE, front=front))

        page = fay.get("/jobs/26-0001")
        answer = fay.sends("/jobs/26-0001/edition")

        assert "It cannot be brought up to date yet:" in words(page)
        assert "How is the ball joint fixed in its arm?" in words(page)
        assert answer.status_code == 422
        assert here.sheet(here.all("jobs")[0]).packet.edition == 1

    def test_the_desk_sees_it_too_and_is_offered_only_what_is_the_desk_s(self, here: Workshop) -> None:
        here.opens()
        dee = a_visitor(an_app(here), DEE)

        page = dee.get("/jobs/26-0001")

        assert page.status_code == 200
        assert "Add work" in words(page)
        assert "/cancellation" not in page.text
        assert "/handback" not in page.text
        assert "/floor/placements" not in page.text

    def test_a_technician_does_not(self, here: Workshop) -> None:
        here.opens()

        assert a_visitor(an_app(here), ADA).get("/jobs/26-0001").status_code == 403

    @pytest.mark.parametrize("part", ["", "/lines", "/cancellation"])
    def test_an_unknown_job_is_said(self, fay: Visitor, part: str) -> None:
        assert fay.get(f"/jobs/99{part}").status_code == 404

    def test_the_unknown_cannot_be_changed(self, fay: Visitor) -> None:
        for part in ("edition", "lines", "cancellation"):
            assert fay.sends(f"/jobs/99/{part}", {"reason": "x", "row": "front.ball_joint.lower"}).status_code == 404


class TestAddingWork:
    ROW = "/jobs/26-0001/lines?row=front.ball_joint.lower"

    def test_what_fits_is_offered_and_the_rest_says_why_not(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        said = words(fay.get("/jobs/26-0001/lines"))

        assert "Ball joint, lower" in said
        assert "There is no strut to take off." in said

    def test_a_side_is_added_and_the_sheet_has_a_new_edition(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()

        answer = fay.fills_in(self.ROW, "/jobs/26-0001/lines", {"side": "right"})

        assert answer.status_code == 303
        assert "The work is added to the sheet." in words(fay.get(answer.headers["location"]))
        assert [one.corner for one in here.get("jobs", job.id).lines] == ["left", "right"]
        assert here.sheet(job).packet.edition == 2

    def test_the_same_again_is_refused(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()

        answer = fay.fills_in(self.ROW, "/jobs/26-0001/lines", {"side": "left"})

        assert answer.status_code == 422
        assert "The same work on the same place is on this job already." in words(answer)
        assert len(here.get("jobs", job.id).lines) == 1

    def test_no_side_and_no_answer_are_asked_for(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        side = fay.fills_in(self.ROW, "/jobs/26-0001/lines")
        answer = fay.fills_in("/jobs/26-0001/lines?row=front.shock_absorber", "/jobs/26-0001/lines", {"side": "left"})

        assert side.status_code == 422
        assert "Choose left or right for this work." in words(side)
        assert answer.status_code == 422
        assert "Answer this first:" in words(answer)
        assert re.search(r'value="left" checked', answer.text)

    def test_an_answer_nobody_offers_is_refused(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        answer = fay.fills_in(
            "/jobs/26-0001/lines?row=front.shock_absorber",
            "/jobs/26-0001/lines",
            {"side": "left", "unit": SCRIPT, "upper_end": "eye", "lower_end": "eye"},
        )

        assert answer.status_code == 422
        assert SCRIPT not in answer.text

    def test_work_that_is_not_for_this_vehicle_is_not_there(self, here: Workshop, fay: Visitor) -> None:
        here.opens()

        assert fay.sends("/jobs/26-0001/lines", {"row": "front.strut", "side": "left"}).status_code == 404

    def test_a_closed_job_takes_no_more(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()
        here.save("jobs", replace(job, state=JobState.CANCELLED))

        assert fay.get("/jobs/26-0001/lines").status_code == 422
        assert fay.sends("/jobs/26-0001/lines", {"row": "front.ball_joint.lower", "side": "right"}).status_code == 422


class TestCancelling:
    ADDRESS = "/jobs/26-0001/cancellation"

    def test_it_is_cancelled_with_a_reason(self, here: Workshop, fay: Visitor) -> None:
        job = here.opens()

        empty = fay.fills_in(self.ADDRESS, self.ADDRESS)
        answer = fay.fills_in(self.ADDRESS, self.ADDRESS, {"reason": "Sold the car"})

        assert empty.status_code == 422
        assert "Write down the reason." in words(empty)
        assert answer.status_code == 303
        assert "Job 26-0001 is cancelled." in words(fay.get(answer.headers["location"]))
        assert here.get("jobs", job.id).state is JobState.CANCELLED
        assert "Cancelled: Sold the car" in words(fay.get("/jobs/26-0001"))
        assert "This job is closed already." in words(fay.get(self.ADDRESS))

    def test_what_was_typed_is_kept_when_more_is_wanted(self, here: Workshop, fay: Visitor) -> None:
        play = Play(a_packet())
        play.tests()
        play.holds_vehicle(Support.LIFT_FRAME)
        a_small_job(here, play)
        address = "/jobs/1001/cancellation"

        answer = fay.fills_in(address, address, {"reason": "Too dear"})

        said = words(answer)
        assert answer.status_code == 422
        assert "The vehicle is not on its wheels." in said
        assert "Work has begun. Write down how the vehicle stands" in said
        assert "Something is recorded on these steps: Look" in said
        assert "Too dear</textarea>" in answer.text

    def test_twice_is_said(self, here: Workshop, fay: Visitor) -> None:
        here.opens()
        fay.sends(self.ADDRESS, {"reason": "Sold"})

        again = fay.sends(self.ADDRESS, {"reason": "Sold"})

        assert again.status_code == 422
        assert "Job 26-0001 is closed." in words(again)

    @pytest.mark.parametrize("who", [ADA, DEE])
    def test_it_is_the_foreman_s(self, here: Workshop, who: Any) -> None:
        job = here.opens()

        assert a_visitor(an_app(here), who).sends(self.ADDRESS, {"reason": "x"}).status_code == 403
        assert here.get("jobs", job.id).state is JobState.OPEN


def a_figure_record() -> FigureRecord:
    """A compared figure for the joint the office's job is about."""
    figure = a_figure()
    return FigureRecord(
        id="f-1", model=VEHICLE.model, axle=Axle.FRONT, place_key="lower_ball_joint_stud", edition=1, text=figure.text,
        unit=figure.unit, stages=figure.stages, thread="", strength="", lubrication="", one_time=False, critical=False,
        document="Workshop manual", page="p. 12", document_date="2014", typed_by=DEE.id, typed_at=MONDAY,
        compared_by=FAY.id, compared_at=MONDAY, compared_text=figure.text,
    )  # fmt: skip
