"""Fills an empty installation with the invented workshop, through the use cases wherever a person would.

Deterministic but for ids. Entries get times that look like the last two days of work, so that pages look lived in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from app.domain import entry as e
from app.domain.compiling import figure_keys
from app.domain.packet import Axle, Stage, Step
from app.domain.records import (
    Customer,
    FigureRecord,
    Job,
    JobLine,
    Person,
    Placement,
    Tablet,
    Vehicle,
)
from app.use_cases.office import Office
from app.use_cases.open_job import JobWanted, open_job
from app.use_cases.record_entry import record_form
from demo import larkfield
from demo.larkfield import Car
from demo.player import Player


class Moving:
    """A clock that moves on a little each time it is asked, from a moment in the past."""

    def __init__(self, at: datetime, step: timedelta = timedelta(seconds=25)) -> None:
        self.at, self.step = at, step

    def __call__(self) -> datetime:
        self.at += self.step
        return self.at


def is_seeded(office: Office) -> bool:
    with office.store.reading() as unit:
        return bool(unit.people.all())


def seed(office: Office, now: datetime) -> None:
    """Seed everything: the shop's own things, then jobs in every state."""
    shop_things(office, now)
    Jobs(office, now).make()


def shop_things(office: Office, now: datetime) -> None:
    with office.store.writing() as unit:
        unit.shops.add(larkfield.SHOP)
        for one in larkfield.PEOPLE:
            unit.people.add(Person(one.key, one.name, one.roles, office.pins.hash(one.pin)))
        for bay in larkfield.bays(now.date()):
            unit.bays.add(bay)
        for tool in larkfield.tools(now.date()):
            unit.tools.add(tool)
        for owner in larkfield.OWNERS:
            unit.customers.add(Customer(owner.key, owner.name, owner.email, owner.phone, owner.language))
        for car in larkfield.CARS:
            unit.vehicles.add(vehicle_of(car))
        for number in (1, 2):
            unit.tablets.add(Tablet(f"tablet-{number}", f"Tablet {number}"))
        for figure in figures(office, now):
            unit.figures.add(figure)
        unit.commit()


def vehicle_of(car: Car) -> Vehicle:
    return Vehicle(
        id=car.key, customer=car.owner, plate=car.plate, vin=car.vin, model=car.model, year=car.year,
        colour=car.colour, tyre_front=car.tyre, tyre_rear=car.tyre, wheelbase_um=car.wheelbase_mm * 1_000,
        front=car.front, rear=car.rear, high_voltage=car.high_voltage, hv_wait_s=car.hv_wait_s,
        airbag_wait_s=car.airbag_wait_s,
    )  # fmt: skip


def figures(office: Office, now: datetime) -> list[FigureRecord]:
    """The invented manual's figures for every model. Two of the Sedge's are not compared; one differs."""
    made = []
    for car in larkfield.CARS:
        for axle in larkfield.AXLES:
            for place in figure_keys(office.book):
                made.append(_figure(office, car, axle, place.key, now))
    return made


def _figure(office: Office, car: Car, axle: Axle, key: str, now: datetime) -> FigureRecord:
    torque = larkfield.TORQUES.get(key, larkfield.PLAIN_TORQUE)
    open_one = car.key == "sedge" and axle is Axle.FRONT and key in ("lower_ball_joint_stud", "wheel_nuts")
    text = f"{torque} N·m"
    low, high = round(torque * 960), round(torque * 1_040)
    return FigureRecord(
        id=office.new_id(), model=car.model, axle=axle, place_key=key, edition=1, text=text, unit="N·m",
        stages=(Stage(low_mnm=low, target_mnm=torque * 1_000, high_mnm=high, text=text),),
        thread="", strength="", lubrication="dry", one_time=False, critical=False,
        document=f"Workshop manual, {car.model} (invented)", page=f"p. {12 + len(key)}", document_date=str(car.year),
        typed_by="maud", typed_at=now - timedelta(days=30),
        compared_by=None if open_one else "tarek",
        compared_at=None if open_one else now - timedelta(days=29),
        compared_text="" if open_one else text,
    )  # fmt: skip


class Jobs:
    """The demo's jobs, one method for each state a job can be in."""

    def __init__(self, office: Office, now: datetime) -> None:
        self.office, self.now = office, now

    def make(self) -> None:
        self.handed_back()
        self.ready_to_hand_back()
        self.second_person_waits()
        self.at_a_gate()
        self.held()
        self.with_something_aside()
        self.placed_next()
        self.not_placed()

    def at(self, hours_ago: float) -> Office:
        return replace(self.office, clock=Moving(self.now - timedelta(hours=hours_ago)))

    def opened(self, office: Office, car: str, complaint: str, *lines: JobLine, promised_h: float = 5) -> Job:
        wanted = JobWanted(car, complaint, office.clock() + timedelta(hours=promised_h), 84_210, lines)
        return open_job(office, "maud", wanted)

    def placed(self, job: Job, bay: str, technician: str, begins_h: float, hours: float) -> None:
        begins = self.now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=begins_h)
        placement = Placement(
            self.office.new_id(), job.id, bay, technician, begins, begins + timedelta(hours=hours), "foreman"
        )
        with self.office.store.writing() as unit:
            unit.placements.add(placement)
            unit.commit()

    def handed_back(self) -> None:
        office = self.at(30)
        job = self.opened(
            office, "wexcombe", "Clonks at the back over bumps", line("stabiliser", Axle.FRONT, parts="links")
        )
        Player(office, job.id, "ines", "bram").play()
        self._release(office, job)

    def _release(self, office: Office, job: Job) -> None:
        player = Player(office, job.id, "foreman", "")
        record_form(office, player.entry(e.HandedBack("")))

    def ready_to_hand_back(self) -> None:
        office = self.at(7)
        job = self.opened(
            office, "ismay", "Rear sits low, knocks when loaded",
            line("shock_absorber", Axle.REAR, "left", **SHOCK), line("shock_absorber", Axle.REAR, "right", **SHOCK),
        )  # fmt: skip
        self.placed(job, "bay-4", "joss", -6, 5)
        Player(office, job.id, "joss", "tarek").play()

    def second_person_waits(self) -> None:
        office = self.at(4)
        job = self.opened(office, "harrop", "Front knocks when turning in", line("strut", Axle.FRONT, "left"))
        self.placed(job, "bay-2", "ines", -3, 5)
        player = Player(office, job.id, "ines", "tarek")
        player.second_readings = lambda step: None  # type: ignore[method-assign]
        player.play(until=_line_of("closing"))

    def at_a_gate(self) -> None:
        office = self.at(2)
        job = self.opened(
            office, "tallis", "Clunk from the front left over speed humps, wheel shakes when braking",
            line("ball_joint", Axle.FRONT, "left", joint_position="lower"),
        )  # fmt: skip
        self.placed(job, "bay-1", "bram", -1, 4)
        Player(office, job.id, "bram", "ines").play(until=lambda step: "carry_arm" in step.id)

    def held(self) -> None:
        office = self.at(3)
        job = self.opened(office, "barrow", "Pulls to the right, new tyre worn inside", line("inspection", Axle.FRONT))
        self.placed(job, "bay-4", "joss", 0, 3)
        player = Player(office, job.id, "joss", "bram")
        player.play(until=_after(3))
        player.say(
            e.HoldPlaced("Jack pad on the frame is rusted through. Not to be lifted until the foreman has seen it.")
        )

    def with_something_aside(self) -> None:
        office = self.at(1.5)
        job = self.opened(office, "corrie", "Squeaks at the front", line("inspection", Axle.FRONT))
        self.placed(job, "bay-2", "tarek", 3, 2)
        player = Player(office, job.id, "tarek", "ines")
        player.play(until=_after(2))
        step = next(iter(player.steps_to_do()))
        player.do(step)
        record_form(office, player.entry(e.StepDone(step.id), step, "ines"))

    def placed_next(self) -> None:
        office = self.at(20)
        job = self.opened(
            office, "quillon", "Bounces on and on after bumps, oil on the left front strut",
            line("strut", Axle.FRONT, "left"), line("strut", Axle.FRONT, "right"), promised_h=28,
        )  # fmt: skip
        self.placed(job, "bay-1", "bram", 4, 4)

    def not_placed(self) -> None:
        office = self.at(0.5)
        self.opened(
            office, "fennick", "Message on the dash: suspension, sinks overnight", line("inspection", Axle.REAR)
        )
        self.opened(office, "sedge", "Wanders at speed", line("inspection", Axle.FRONT), line("inspection", Axle.REAR))


SHOCK = {"unit": "gas_strapped", "upper_end": "eye", "lower_end": "eye"}


def line(procedure: str, axle: Axle, corner: str = "", **options: str) -> JobLine:
    return JobLine("", procedure, axle, corner, tuple(sorted(options.items())))


def _after(count: int) -> Callable[[Step], bool]:
    """True for the step after so many have been offered."""
    left = [count]

    def until(_: Step) -> bool:
        left[0] -= 1
        return left[0] < 0

    return until


def _line_of(procedure: str) -> Callable[[Step], bool]:
    return lambda step: procedure in step.line
