"""What a foreman settles, lifts, hands back and cancels, through the one door of the record."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain import entry as e
from app.domain.packet import Support
from app.domain.problems import NotFound, Refused
from app.domain.records import Job, JobState, MessageState
from app.domain.standing import open_points
from app.use_cases.cancel_job import cancel_job, see_cancel
from app.use_cases.hand_back import hand_back, see_handback
from app.use_cases.place_job import PlacementWanted, place_job
from app.use_cases.settle import lift_hold, settle_aside
from app.use_cases.verify import verify
from tests.builders import ADA, BEN, FAY, GUS, Play, a_packet, whole_job
from tests.offices import CUSTOMER, MONDAY, Workshop, a_small_job, an_office, plays

FORM = "0193a000-0000-7000-8000-000000000001"


@pytest.fixture
def here() -> Workshop:
    return an_office()


def codes(error: pytest.ExceptionInfo[Refused]) -> list[str]:
    return [one.code for one in error.value.problems]


class TestSettling:
    @pytest.fixture
    def play(self) -> Play:
        """Ada closes a step behind a shut gate, and is set aside."""
        play = Play(a_packet())
        play.finishes("undo")
        return play

    def test_what_was_set_aside_is_settled_with_an_outcome_and_a_reason(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        settle_aside(here.office, FAY.id, job.id, play.last_id, "keep_as_note", "Tapped too early")

        one = here.sheet(job).asides[play.last_id]
        assert (one.settled.name, one.outcome, one.settled_reason) == ("Fay", "keep_as_note", "Tapped too early")
        assert "floor" in here.announced

    def test_outcome_and_reason_are_both_asked_for(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)
        before = here.sheet(job)

        with pytest.raises(Refused) as error:
            settle_aside(here.office, FAY.id, job.id, play.last_id, "count it after all", "  ")

        assert codes(error) == ["settle_outcome_missing", "foreman_reason_missing"]
        assert here.sheet(job) == before

    def test_a_second_foreman_is_told_and_leaves_nothing_behind(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)
        settle_aside(here.office, FAY.id, job.id, play.last_id, "do_again", "Gate first")
        before = here.sheet(job)

        with pytest.raises(Refused) as error:
            settle_aside(here.office, GUS.id, job.id, play.last_id, "keep_as_note", "No need")

        assert codes(error) == ["aside_settled"]
        assert error.value.problems[0].details == {"name": "Fay"}
        assert here.sheet(job) == before

    def test_the_same_form_sent_twice_settles_once(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        first = settle_aside(here.office, FAY.id, job.id, play.last_id, "do_again", "Gate first", FORM)
        again = settle_aside(here.office, FAY.id, job.id, play.last_id, "do_again", "Gate first", FORM)

        assert (first.repeated, again.repeated, again.order) == (False, True, first.order)

    def test_an_unknown_entry_is_not_found(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        with pytest.raises(NotFound):
            settle_aside(here.office, FAY.id, job.id, "e-99", "do_again", "Why not")

    def test_a_technician_may_not_and_the_try_is_kept_aside(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        with pytest.raises(Refused) as error:
            settle_aside(here.office, ADA.id, job.id, play.last_id, "do_again", "I will")

        assert codes(error) == ["wrong_role"]
        assert here.sheet(job).asides[play.last_id].settled is None


class TestLifting:
    @pytest.fixture
    def play(self) -> Play:
        play = Play(a_packet())
        play.hangs_tag("", ADA, "Boot is split, part ordered")
        return play

    def test_a_foreman_takes_another_s_tag_off_with_a_reason(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        lift_hold(here.office, FAY.id, job.id, play.last_id, "The part is here")

        hold = here.sheet(job).holds[play.last_id]
        assert (hold.lifted.name, hold.lifted_reason) == ("Fay", "The part is here")

    def test_without_a_reason_it_hangs_on(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        with pytest.raises(Refused) as error:
            lift_hold(here.office, FAY.id, job.id, play.last_id, "")

        assert codes(error) == ["foreman_reason_missing"]
        assert here.sheet(job).holds[play.last_id].lifted is None

    def test_a_reason_has_an_end(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)

        with pytest.raises(Refused, match="too_long"):
            lift_hold(here.office, FAY.id, job.id, play.last_id, "x" * 2_001)

    def test_one_that_is_off_already_is_said(self, here: Workshop, play: Play) -> None:
        job = a_small_job(here, play)
        lift_hold(here.office, GUS.id, job.id, play.last_id, "The part is here")
        before = here.sheet(job)

        with pytest.raises(Refused) as error:
            lift_hold(here.office, FAY.id, job.id, play.last_id, "The part is here")

        assert (codes(error), here.sheet(job)) == (["hold_off_already"], before)

    def test_an_unknown_tag_is_not_found(self, here: Workshop, play: Play) -> None:
        with pytest.raises(NotFound):
            lift_hold(here.office, FAY.id, a_small_job(here, play).id, "e-99", "Why not")


class TestHandingBack:
    def test_a_finished_job_is_handed_back_with_its_letter_and_frees_its_bay(self, here: Workshop) -> None:
        job = a_small_job(here, whole_job())
        now = here.clock()
        place_job(here.office, FAY.id, PlacementWanted(job.id, "bay-1", ADA.id, now, now.replace(hour=15)))
        here.clock.forward(minutes=5)

        hand_back(here.office, FAY.id, job.number, "Come by if it knocks again.", FORM)

        sheet, letter = here.sheet(job), here.all("outbox")[0]
        assert (sheet.handed_back.name, sheet.handed_back_note) == ("Fay", "Come by if it knocks again.")
        assert here.get("jobs", job.id).state is JobState.HANDED_BACK
        assert (letter.key, letter.to, letter.state) == ("handback:job-1:1", CUSTOMER.email, MessageState.WAITING)
        assert "Come by if it knocks again." in letter.text
        assert here.all("placements")[0].ends_at == here.clock().replace(second=0)
        assert verify(here.office).breaches == ()

    def test_sent_twice_it_is_done_once(self, here: Workshop) -> None:
        job = a_small_job(here, whole_job())

        hand_back(here.office, FAY.id, job.number, "", FORM)
        again = hand_back(here.office, FAY.id, job.number, "", FORM)

        assert again.repeated
        assert len(here.all("outbox")) == 1

    def test_a_second_form_is_told_that_the_job_is_closed(self, here: Workshop) -> None:
        job = a_small_job(here, whole_job())
        hand_back(here.office, FAY.id, job.number, "")

        with pytest.raises(Refused) as error:
            hand_back(here.office, FAY.id, job.number, "")

        assert codes(error) == ["job_not_open"]

    def test_a_customer_without_an_address_gets_no_letter_and_the_job_is_handed_back(self, here: Workshop) -> None:
        here.save("customers", replace(CUSTOMER, email=""))
        job = a_small_job(here, whole_job())
        ahead = see_handback(here.office, job.number)

        hand_back(here.office, FAY.id, job.number, "")

        assert ahead.no_letter is not None
        assert ahead.no_letter.code == "no_letter"
        assert here.get("jobs", job.id).state is JobState.HANDED_BACK
        assert here.all("outbox") == ()

    def test_an_address_that_cannot_be_is_said_before(self, here: Workshop) -> None:
        here.save("customers", replace(CUSTOMER, email="mira at okonjo"))
        job = a_small_job(here, whole_job())

        ahead = see_handback(here.office, job.number)

        assert ahead.no_letter is not None
        assert ahead.no_letter.code.startswith("address_")

    def test_everything_open_is_said_before_and_nothing_is_recorded(self, here: Workshop) -> None:
        play = whole_job()
        play.hangs_tag("stud", BEN, "Nut looks burred")
        play.does(ADA, e.SignedOff(step="stud", fastener="nut", readings=(), wrench="W1"))
        play.does(ADA, e.StepReopened(step="road_test", reason="Knock at low speed"))
        job = a_small_job(here, play)
        before = here.sheet(job)

        with pytest.raises(Refused) as error:
            hand_back(here.office, FAY.id, job.number, "")

        said = {(one.code, one.details["what"]) for one in error.value.problems}
        assert said == {
            ("handback_open_step", "Road_test"),
            ("handback_open_hold", "Nut looks burred"),
            ("handback_open_aside", "Stud"),
        }
        assert len(open_points(before)) == 3
        assert here.sheet(job) == before

    def test_what_the_customer_would_read_is_shown_before(self, here: Workshop) -> None:
        job = a_small_job(here, whole_job())

        ahead = see_handback(here.office, job.number)

        assert ahead.points == ()
        assert ahead.no_letter is None
        assert ahead.letter is not None
        assert "Ball joint stud nut" in ahead.letter.text

    def test_a_note_has_an_end(self, here: Workshop) -> None:
        job = a_small_job(here, whole_job())

        with pytest.raises(Refused, match="note:too_long"):
            hand_back(here.office, FAY.id, job.number, "x" * 2_001)

    def test_an_unknown_number_is_not_found(self, here: Workshop) -> None:
        with pytest.raises(NotFound):
            see_handback(here.office, "99-0001")


class TestCancelling:
    def test_a_job_not_begun_is_cancelled_and_the_reason_stays_on_its_sheet(self, here: Workshop) -> None:
        job = here.opens()
        place_job(
            here.office, FAY.id, PlacementWanted(job.id, "bay-1", ADA.id, MONDAY, MONDAY.replace(hour=10))
        )  # fmt: skip

        cancel_job(here.office, FAY.id, job.number, "Customer sells the car")

        assert here.get("jobs", job.id).state is JobState.CANCELLED
        assert [one.text for one in here.sheet(job).notes] == ["Cancelled: Customer sells the car"]
        assert here.all("placements")[0].withdrawn
        assert verify(here.office).breaches == ()

    def test_without_a_reason_it_goes_on(self, here: Workshop) -> None:
        job = here.opens()

        with pytest.raises(Refused) as error:
            cancel_job(here.office, FAY.id, job.number, " ")

        assert codes(error) == ["foreman_reason_missing"]
        assert here.get("jobs", job.id).state is JobState.OPEN

    def test_once_begun_on_it_wants_to_be_known_how_the_vehicle_stands(self, here: Workshop) -> None:
        play = Play(a_packet())
        play.tests()
        job = a_small_job(here, play)

        with pytest.raises(Refused) as error:
            cancel_job(here.office, FAY.id, job.number, "Too dear")
        cancel_job(here.office, FAY.id, job.number, "Too dear", "Nothing was taken apart")

        assert codes(error) == ["cancel_stands_missing"]
        assert here.sheet(job).notes[0].text == "Cancelled: Too dear\nNothing was taken apart"
        assert see_cancel(here.office, job.number).begun == ("Look",)

    def test_a_vehicle_in_the_air_is_not_let_go(self, here: Workshop) -> None:
        play = Play(a_packet())
        play.holds_vehicle(Support.LIFT_FRAME)
        job = a_small_job(here, play)

        with pytest.raises(Refused) as error:
            cancel_job(here.office, FAY.id, job.number, "Too dear")

        assert codes(error) == ["cancel_not_on_wheels"]

    def test_twice_is_said(self, here: Workshop) -> None:
        job = here.opens()
        cancel_job(here.office, FAY.id, job.number, "Sold")

        with pytest.raises(Refused) as error:
            cancel_job(here.office, FAY.id, job.number, "Sold")

        assert codes(error) == ["job_not_open"]

    def test_too_long_is_said(self, here: Workshop) -> None:
        job = here.opens()

        with pytest.raises(Refused, match="too_long"):
            cancel_job(here.office, FAY.id, job.number, "x" * 1_995)


def test_what_was_played_after_a_handback_is_not_lost(here: Workshop) -> None:
    """A tablet that was away sends its note: set aside, not dropped."""
    play = whole_job()
    job: Job = a_small_job(here, play)
    sent = len(play.history)
    play.does(FAY, e.HandedBack())
    play.does(ADA, e.NoteAdded("The pin was bent over"))

    plays(here, play, since=sent)

    assert [one.kind for one in here.sheet(job).asides.values()] == ["note_added"]
