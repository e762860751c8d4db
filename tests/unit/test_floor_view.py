"""The floor, built from facts alone: the board's hours and shares, where a job stands, what waits for whom."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from app.domain import entry as e
from app.domain.records import Job, JobState, Placement
from app.domain.sheet import Sheet
from app.use_cases.floor_view import FloorFacts, State, day_bounds, floor_of, standing_of
from tests.builders import ADA, BEN, FAY, Play, a_packet, a_step, whole_job
from tests.offices import BAYS, CUSTOMER, LEFT_JOINT, MONDAY, VEHICLE, a_person, an_office

HELSINKI = ZoneInfo("Europe/Helsinki")
HOUR = timedelta(hours=1)
JOB = Job(
    id="job-1", number="26-0001", vehicle=VEHICLE.id, customer=CUSTOMER.id, complaint="It clunks", promised_at=None,
    opened_at=MONDAY, opened_by=FAY.id, odometer_km=None, lines=(LEFT_JOINT,),
)  # fmt: skip


def placement(begins: datetime = MONDAY, hours: float = 2, **over: Any) -> Placement:
    made = Placement("p-1", JOB.id, "bay-1", ADA.id, begins, begins + hours * HOUR, FAY.id)
    return replace(made, **over)


def facts(*placed: Placement, sheet: Sheet | None = None, job: Job = JOB, **over: Any) -> FloorFacts:
    """One job, on whose sheet nothing is done, with these placements of the day."""
    office = an_office().office
    made = FloorFacts(
        now=MONDAY, zone=HELSINKI, day=MONDAY.date(), bays=BAYS, placements=placed,
        standing={job.id: placed} if job.state is JobState.OPEN else {}, jobs={job.id: job},
        sheets={job.id: sheet or Play(a_packet()).sheet}, vehicles={VEHICLE.id: VEHICLE},
        customers={CUSTOMER.id: CUSTOMER}, people={one.id: a_person(office, one) for one in (ADA, BEN, FAY)}, tools=(),
        mishaps=frozenset(),
    )  # fmt: skip
    return replace(made, **over)


class TestTheBoard:
    def test_it_shows_the_usual_hours_and_more_where_more_lies(self) -> None:
        usual = floor_of(facts())
        early = floor_of(facts(placement(datetime(2026, 6, 8, 1, 30, tzinfo=MONDAY.tzinfo), 1)))
        late = floor_of(facts(placement(hours=9.25)))

        assert [usual.ticks[0].words, usual.ticks[-1].words] == ["07", "18"]
        assert early.ticks[0].words == "04"
        assert late.ticks[-1].words == "21"

    def test_the_present_moment_widens_it_too(self) -> None:
        night = floor_of(facts(now=datetime(2026, 6, 8, 20, 5, tzinfo=MONDAY.tzinfo)))

        assert night.ticks[-1].words == "00"
        assert night.now_words == "23:05"

    def test_the_first_tick_stands_at_the_left_and_the_last_at_the_right(self) -> None:
        ticks = floor_of(facts()).ticks

        assert (ticks[0].at, ticks[-1].at) == ("0.00%", "100.00%")

    def test_blocks_that_follow_each_other_meet(self) -> None:
        first, second = placement(hours=1.75), placement(MONDAY + 1.75 * HOUR, 1.1, id="p-2")

        items = floor_of(facts(first, second)).rows[0].items

        def edge(text: str) -> int:
            return int(text[:-1].replace(".", ""))

        assert edge(items[0].x) + edge(items[0].width) == edge(items[1].x)
        assert [one.mark for one in items] == [1, 2]

    @pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25)])
    def test_a_day_on_which_the_clocks_change_has_its_own_length(self, day: date, hours: int) -> None:
        begins, ends = day_bounds(day, HELSINKI)

        assert ends - begins == hours * HOUR

    def test_a_night_the_clocks_change_in_is_drawn_hour_by_hour(self) -> None:
        """03:00 to 04:00 comes twice on 25 October 2026."""
        begins, _ = day_bounds(date(2026, 10, 25), HELSINKI)
        floor = floor_of(facts(placement(begins, 8), day=date(2026, 10, 25)))

        assert [tick.words for tick in floor.ticks[:6]] == ["00", "01", "02", "03", "03", "04"]
        assert floor.rows[0].items[0].x == "0.00%"

    def test_hours_are_full_by_the_shop_s_own_clock(self) -> None:
        kathmandu = ZoneInfo("Asia/Kathmandu")

        floor = floor_of(facts(zone=kathmandu))

        assert (floor.ticks[0].at, floor.ticks[0].words) == ("0.00%", "07")
        assert floor.now_words == "13:45"

    def test_a_job_handed_back_stays_on_its_day(self) -> None:
        job = replace(JOB, state=JobState.HANDED_BACK)

        floor = floor_of(facts(placement(), job=job))

        assert floor.rows[0].items[0].job.standing.state is State.HANDED_BACK
        assert floor.unplaced == ()


class TestWhereAJobStands:
    @pytest.mark.parametrize(
        ("state", "shown"), [(JobState.HANDED_BACK, State.HANDED_BACK), (JobState.CANCELLED, State.CANCELLED)]
    )
    def test_a_closed_job_is_closed_whatever_hangs_on_it(self, state: JobState, shown: State) -> None:
        play = Play(a_packet())
        play.hangs_tag()

        assert standing_of(replace(JOB, state=state), play.sheet).state is shown

    def test_nothing_recorded_is_not_begun(self) -> None:
        standing = standing_of(JOB, Play(a_packet()).sheet)

        assert (standing.state, standing.done, standing.total, standing.step) == (State.NOT_BEGUN, 0, 7, 1)

    def test_the_step_is_the_first_that_nothing_has_to_come_before(self) -> None:
        play = Play(a_packet(a_step("one", after=("two",)), a_step("two")))

        standing = standing_of(JOB, play.sheet)

        assert (standing.step, standing.step_title) == (2, "Two")

    def test_a_hold_tag_comes_first(self) -> None:
        play = whole_job()
        play.hangs_tag("stud", BEN, "Burr on the nut")

        standing = standing_of(JOB, play.sheet)

        assert (standing.state, standing.held) == (State.HELD, "Burr on the nut")

    def test_a_tag_taken_off_holds_nothing(self) -> None:
        play = whole_job()
        tag = play.hangs_tag("stud", BEN, "Burr on the nut")
        play.does(BEN, e.HoldLifted(hold=tag, reason="New nut"))

        assert standing_of(JOB, play.sheet).state is State.READY

    def test_all_done_but_for_a_second_look_waits_for_a_second_person(self) -> None:
        play = Play(a_packet(a_step("one", countersign=True)))
        play.finishes("one")

        standing = standing_of(JOB, play.sheet)

        assert (standing.state, standing.seconds) == (State.SECOND, 1)

    def test_all_done_with_something_set_aside_is_not_ready(self) -> None:
        play = whole_job()
        play.finishes("undo", BEN)

        standing = standing_of(JOB, play.sheet)

        assert (standing.state, standing.asides) == (State.IN_WORK, 1)

    def test_a_job_without_a_sheet_is_not_begun(self) -> None:
        assert standing_of(JOB, Sheet(JOB.id)).state is State.NOT_BEGUN


class TestWhatWaits:
    def test_a_job_placed_later_on_waits_for_no_bay(self) -> None:
        tomorrow = placement(MONDAY + 24 * HOUR)

        assert floor_of(facts(standing={JOB.id: (tomorrow,)})).unplaced == ()

    def test_a_job_that_goes_on_later_is_not_overdue(self) -> None:
        over, later = placement(MONDAY - 3 * HOUR), placement(MONDAY + HOUR, id="p-2")

        items = floor_of(facts(over, later)).rows[0].items

        assert [one.overdue for one in items] == [False, False]
        assert [one.is_over for one in items] == [True, False]

    def test_what_settles_itself_comes_after_what_waits_for_the_foreman(self) -> None:
        play = Play(a_packet())
        play.finishes("undo")
        play.tests()
        play.finishes("look", ADA)
        play.finishes("look", BEN)

        asides = floor_of(facts(sheet=play.sheet), frozenset({"step_locked"})).asides

        assert [(one.reason, one.itself) for one in asides] == [("already_signed", False), ("step_locked", True)]

    def test_who_did_it_is_named_as_who_may_not_be_the_second(self) -> None:
        play = Play(a_packet(a_step("one", countersign=True)))
        play.finishes("one", ADA)

        second = floor_of(facts(sheet=play.sheet)).seconds[0]

        assert (second.words, second.firsts) == ("One", "Ada")

    def test_a_bay_no_longer_in_use_is_not_due(self) -> None:
        bay = replace(BAYS[0], active=False, inspected_on=None)

        assert floor_of(facts(bays=(bay,))).due == ()

    def test_a_foreman_s_own_tag_is_among_the_tags(self) -> None:
        play = Play(a_packet())
        play.hangs_tag("undo", FAY, "Wait")

        hold = floor_of(facts(sheet=play.sheet)).holds[0]

        assert (hold.step, hold.reason, hold.name) == ("Undo", "Wait", "Fay")
