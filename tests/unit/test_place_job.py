"""Placing a job in a bay: what is refused, with its reason; what moving and withdrawing leave behind."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Bay, Job, JobState, LiftKind, Placement
from app.use_cases.place_job import (
    PlacementWanted,
    free_bays,
    inspection_due,
    move_placement,
    place_job,
    why_not_bay,
    withdraw_placement,
)
from tests.builders import ADA, BEN, DEE, FAY
from tests.offices import BAYS, MONDAY, VEHICLE, Workshop, an_office

HOUR = timedelta(hours=1)
TODAY = MONDAY.date()


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def job(here: Workshop) -> Job:
    return here.opens()


def wanted(job: Job, **over: Any) -> PlacementWanted:
    """Bay 1, Ada, from now for two hours."""
    made = PlacementWanted(job.id, "bay-1", ADA.id, MONDAY, MONDAY + 2 * HOUR)
    return replace(made, **over)


def placed(here: Workshop, job: Job, **over: Any) -> Placement:
    return place_job(here.office, FAY.id, wanted(job, **over))


def refused(here: Workshop, job: Job, **over: Any) -> dict[str, Problem]:
    """The problems a placement is refused with, by code; and nothing is placed."""
    before = here.all("placements")
    with pytest.raises(Refused) as error:
        placed(here, job, **over)
    assert here.all("placements") == before
    return {one.code: one for one in error.value.problems}


def test_a_job_is_placed_and_the_floor_hears_of_it(here: Workshop, job: Job) -> None:
    here.announced.clear()

    placement = placed(here, job)

    assert here.all("placements") == (placement,)
    assert (placement.bay, placement.technician, placement.placed_by) == ("bay-1", ADA.id, FAY.id)
    assert "floor" in here.announced


class TestTheBay:
    def test_a_bay_that_carries_less_than_the_vehicle_weighs_is_refused(self, here: Workshop, job: Job) -> None:
        here.save("bays", replace(BAYS[0], capacity_g=1_699_000))

        problem = refused(here, job)["bay_too_weak"]

        assert problem.details == {"bay": "Bay 1", "capacity": "1699 kg", "mass": "1700 kg"}

    def test_a_bay_that_carries_just_the_vehicle_will_do(self, here: Workshop, job: Job) -> None:
        here.save("bays", replace(BAYS[0], capacity_g=1_700_000))

        assert placed(here, job).bay == "bay-1"

    @pytest.mark.parametrize(
        ("front", "rear", "axles"), [(None, 1, "front"), (1, None, "rear"), (None, None, "front and rear")]
    )
    def test_a_mass_nobody_entered_is_asked_for_and_not_assumed(
        self, here: Workshop, job: Job, front: int | None, rear: int | None, axles: str
    ) -> None:
        vehicle = replace(
            VEHICLE, front=replace(VEHICLE.front, mass_g=front), rear=replace(VEHICLE.rear, mass_g=rear)
        )  # fmt: skip
        here.save("vehicles", vehicle)

        assert refused(here, job)["mass_unknown"].details == {"plate": "CP 1001", "axles": axles}

    def test_a_lift_is_inspected_every_year(self, here: Workshop, job: Job) -> None:
        """Source: ANSI/ALI ALOIM, from memory: at least yearly."""
        here.save("bays", replace(BAYS[0], inspected_on=date(2025, 6, 7)))

        assert refused(here, job)["lift_overdue"].details["due"] == "7 Jun 2026"

    def test_on_the_anniversary_the_inspection_still_counts(self, here: Workshop, job: Job) -> None:
        here.save("bays", replace(BAYS[0], inspected_on=date(2025, 6, 8)))

        assert placed(here, job)

    def test_it_has_to_count_on_the_placement_s_last_day(self, here: Workshop, job: Job) -> None:
        here.save("bays", replace(BAYS[0], inspected_on=date(2025, 6, 8)))

        assert "lift_overdue" in refused(here, job, ends_at=MONDAY + 24 * HOUR)

    def test_the_last_day_is_the_shop_s_own(self, here: Workshop, job: Job) -> None:
        """22:30 UTC on the 8th is 01:30 on the 9th in the workshop."""
        here.save("bays", replace(BAYS[0], inspected_on=date(2025, 6, 8)))

        assert "lift_overdue" in refused(here, job, ends_at=MONDAY.replace(hour=22, minute=30))
        assert placed(here, job, ends_at=MONDAY.replace(hour=20, minute=30))

    @pytest.mark.parametrize("on", [None, date(2026, 6, 9)])
    def test_an_inspection_nobody_entered_or_not_yet_made_does_not_count(
        self, here: Workshop, job: Job, on: date | None
    ) -> None:
        here.save("bays", replace(BAYS[0], inspected_on=on))

        assert "lift_never_inspected" in refused(here, job)

    def test_a_flat_bay_has_no_lift_to_inspect(self) -> None:
        bay = Bay("b", "B", LiftKind.FLAT, 9_000_000, None)

        assert why_not_bay(bay, VEHICLE, TODAY, TODAY) == ()

    def test_a_leap_day_s_inspection_counts_to_the_end_of_february(self) -> None:
        assert inspection_due(date(2024, 2, 29)) == date(2025, 2, 28)

    @pytest.mark.parametrize("bay", ["", "bay-9"])
    def test_an_unknown_bay_is_asked_for(self, here: Workshop, job: Job, bay: str) -> None:
        assert refused(here, job, bay=bay)["bay_missing"].field == "bay"

    def test_a_bay_no_longer_in_use_is_asked_for(self, here: Workshop, job: Job) -> None:
        here.save("bays", replace(BAYS[0], active=False))

        assert set(refused(here, job)) == {"bay_missing"}


class TestTheTechnician:
    @pytest.mark.parametrize("person", ["", "nobody", DEE.id, FAY.id])
    def test_only_technicians_are_given_work(self, here: Workshop, job: Job, person: str) -> None:
        assert "technician_missing" in refused(here, job, technician=person)

    def test_somebody_who_left_is_given_no_work(self, here: Workshop, job: Job) -> None:
        here.save("people", replace(here.get("people", ADA.id), active=False))

        assert "technician_missing" in refused(here, job)

    def test_nobody_is_in_two_bays_at_once(self, here: Workshop, job: Job) -> None:
        placed(here, here.opens())

        problem = refused(here, job, bay="bay-2", begins_at=MONDAY + HOUR)["technician_elsewhere"]

        assert problem.details == {"bay": "Bay 1", "number": "26-0002", "name": "Ada", "span": "11:00 to 13:00"}


class TestTheTime:
    def test_two_jobs_are_never_in_one_bay(self, here: Workshop, job: Job) -> None:
        placed(here, here.opens())

        problem = refused(here, job, technician=BEN.id, begins_at=MONDAY + HOUR, ends_at=MONDAY + 3 * HOUR)["bay_taken"]

        assert problem.details["span"] == "11:00 to 13:00"

    def test_one_may_begin_when_the_other_ends(self, here: Workshop, job: Job) -> None:
        first = placed(here, here.opens())

        assert placed(here, job, begins_at=first.ends_at, ends_at=first.ends_at + HOUR)

    def test_one_that_was_withdrawn_stands_in_nobody_s_way(self, here: Workshop, job: Job) -> None:
        withdraw_placement(here.office, placed(here, here.opens(), begins_at=MONDAY + HOUR).id)

        assert placed(here, job)

    def test_a_job_is_not_in_two_bays_at_once(self, here: Workshop, job: Job) -> None:
        placed(here, job)

        assert "job_placed_elsewhere" in refused(here, job, bay="bay-2", technician=BEN.id)

    @pytest.mark.parametrize(
        ("begins", "ends", "code", "field"),
        [
            (None, MONDAY + HOUR, "placement_begin_missing", "begins_at"),
            (MONDAY, None, "placement_end_missing", "ends_at"),
            (MONDAY + HOUR, MONDAY + HOUR, "placement_ends_before", "ends_at"),
            (MONDAY + 2 * HOUR, MONDAY + HOUR, "placement_ends_before", "ends_at"),
            (MONDAY - HOUR, MONDAY + HOUR, "placement_begin_past", "begins_at"),
            (MONDAY, MONDAY + timedelta(days=32), "placement_too_long", "ends_at"),
            (MONDAY + timedelta(days=400), MONDAY + timedelta(days=400, hours=1), "placement_too_far", "begins_at"),
        ],
    )
    def test_times_that_cannot_be(
        self, here: Workshop, job: Job, begins: datetime | None, ends: datetime | None, code: str, field: str
    ) -> None:
        assert refused(here, job, begins_at=begins, ends_at=ends)[code].field == field

    def test_a_beginning_just_past_counts_as_now(self, here: Workshop, job: Job) -> None:
        assert placed(here, job, begins_at=MONDAY - timedelta(minutes=9))

    def test_everything_that_is_wrong_is_said_at_once(self, here: Workshop, job: Job) -> None:
        assert set(refused(here, job, bay="", technician="", begins_at=None, ends_at=None)) == {
            "bay_missing", "technician_missing", "placement_begin_missing", "placement_end_missing",
        }  # fmt: skip


class TestTheJob:
    @pytest.mark.parametrize("state", [JobState.HANDED_BACK, JobState.CANCELLED])
    def test_a_closed_job_gets_no_bay(self, here: Workshop, job: Job, state: JobState) -> None:
        here.save("jobs", replace(job, state=state))

        assert set(refused(here, job)) == {"job_not_open"}

    def test_an_unknown_job_is_not_found(self, here: Workshop, job: Job) -> None:
        with pytest.raises(NotFound):
            placed(here, replace(job, id="job-9"))


class TestMoving:
    def test_one_not_begun_is_withdrawn_and_made_anew(self, here: Workshop, job: Job) -> None:
        old = placed(here, job, begins_at=MONDAY + HOUR)

        new = move_placement(here.office, FAY.id, old.id, wanted(job, bay="bay-2"))

        assert here.all("placements") == (replace(old, withdrawn=True), new)
        assert new.bay == "bay-2"

    def test_one_that_has_begun_and_stays_keeps_its_beginning(self, here: Workshop, job: Job) -> None:
        old = placed(here, job)
        here.clock.forward(hours=1)

        new = move_placement(here.office, FAY.id, old.id, wanted(job, ends_at=MONDAY + 4 * HOUR))

        assert new == replace(old, ends_at=MONDAY + 4 * HOUR)
        assert here.all("placements") == (new,)

    def test_one_that_has_begun_and_goes_elsewhere_ends_now(self, here: Workshop, job: Job) -> None:
        old = placed(here, job)
        here.clock.forward(hours=1)

        new = move_placement(here.office, FAY.id, old.id, wanted(job, bay="bay-2", begins_at=MONDAY + HOUR))

        assert here.all("placements") == (replace(old, ends_at=MONDAY + HOUR), new)

    def test_what_has_been_cannot_be_moved_elsewhere(self, here: Workshop, job: Job) -> None:
        old = placed(here, job)
        here.clock.forward(hours=1)

        with pytest.raises(Refused) as error:
            move_placement(here.office, FAY.id, old.id, wanted(job, bay="bay-2"))

        assert [one.code for one in error.value.problems] == ["placement_begin_past"]
        assert here.all("placements") == (old,)

    def test_it_is_refused_like_a_new_one(self, here: Workshop, job: Job) -> None:
        placed(here, here.opens(), bay="bay-2", technician=BEN.id)
        old = placed(here, job)

        with pytest.raises(Refused) as error:
            move_placement(here.office, FAY.id, old.id, wanted(job, bay="bay-2"))

        assert [one.code for one in error.value.problems] == ["bay_taken"]

    def test_its_own_old_time_is_not_in_its_way(self, here: Workshop, job: Job) -> None:
        old = placed(here, job, begins_at=MONDAY + HOUR)

        assert move_placement(here.office, FAY.id, old.id, wanted(job, ends_at=MONDAY + 3 * HOUR))

    def test_one_that_is_over_is_not_moved(self, here: Workshop, job: Job) -> None:
        old = placed(here, job)
        here.clock.forward(hours=3)

        with pytest.raises(Refused, match="placement_over"):
            move_placement(here.office, FAY.id, old.id, wanted(job))


class TestWithdrawing:
    def test_one_not_begun_never_was(self, here: Workshop, job: Job) -> None:
        old = placed(here, job, begins_at=MONDAY + HOUR)

        assert withdraw_placement(here.office, old.id).withdrawn

    def test_one_that_has_begun_ends_now(self, here: Workshop, job: Job) -> None:
        old = placed(here, job)
        here.clock.forward(hours=1)

        assert withdraw_placement(here.office, old.id) == replace(old, ends_at=MONDAY + HOUR)

    def test_twice_is_said(self, here: Workshop, job: Job) -> None:
        old = placed(here, job, begins_at=MONDAY + HOUR)
        withdraw_placement(here.office, old.id)

        with pytest.raises(Refused, match="placement_over"):
            withdraw_placement(here.office, old.id)

    def test_an_unknown_one_is_not_found(self, here: Workshop) -> None:
        with pytest.raises(NotFound):
            withdraw_placement(here.office, "placement-9")

    def test_a_closed_job_frees_its_bays(self, here: Workshop, job: Job) -> None:
        now, later = placed(here, job), placed(here, job, begins_at=MONDAY + 5 * HOUR, ends_at=MONDAY + 6 * HOUR)
        here.clock.forward(hours=1)

        with here.store.writing() as unit:
            free_bays(unit, job.id, here.clock())
            unit.commit()

        assert here.all("placements") == (replace(now, ends_at=MONDAY + HOUR), replace(later, withdrawn=True))

    def test_the_next_job_may_have_the_bay_in_the_minute_in_which_it_was_freed(self, here: Workshop, job: Job) -> None:
        placed(here, job)
        here.clock.forward(minutes=59, seconds=40)
        with here.store.writing() as unit:
            free_bays(unit, job.id, here.clock())
            unit.commit()

        next_one = placed(here, here.opens(), begins_at=here.clock().replace(second=0), ends_at=MONDAY + 3 * HOUR)

        assert next_one.begins_at == MONDAY + timedelta(minutes=59)

    def test_a_bay_given_and_freed_within_one_minute_was_never_taken(self, here: Workshop, job: Job) -> None:
        placed(here, job)
        here.clock.forward(seconds=40)
        with here.store.writing() as unit:
            free_bays(unit, job.id, here.clock())
            unit.commit()

        assert placed(here, here.opens())
