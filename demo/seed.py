"""Fills an empty installation with the invented workshop, through the use cases wherever a person would.

Deterministic but for ids. Entries get times that look like the last two days of work, so that pages look lived in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from app.domain import entry as e
from app.domain.compiling import figure_keys
from app.domain.handback import AskedWhere, Consent
from app.domain.packet import Axle, Step
from app.domain.records import (
    Customer,
    FigureRecord,
    Job,
    JobLine,
    JobState,
    Person,
    Tablet,
    Vehicle,
)
from app.domain.spec_places import OTHER_PLACES
from app.use_cases.answer_estimate import AnswerTyped, answer_estimate
from app.use_cases.borrow_tool import borrow_tool
from app.use_cases.calibrate_tool import CalibrationWanted, calibrate_tool
from app.use_cases.cancel_job import cancel_job
from app.use_cases.make_estimate import EstimateWanted, make_estimate
from app.use_cases.office import Office
from app.use_cases.open_job import JobWanted, open_job
from app.use_cases.place_job import PlacementWanted, place_job
from app.use_cases.record_entry import record_form
from app.use_cases.report_mishap import MishapWanted, look_at_mishap, report_mishap
from demo import larkfield
from demo.larkfield import Car
from demo.player import Player
from demo.pricing import price_story
from demo.readings import INSPECTED


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
    mishaps(replace(office, clock=lambda: now - timedelta(days=6)))
    Jobs(office, now).make()
    crib_stories(office, now)
    price_story(office, now)
    came_back(replace(office, clock=Moving(now - timedelta(minutes=9))), now)


def shop_things(office: Office, now: datetime) -> None:
    with office.store.writing() as unit:
        unit.shops.add(larkfield.SHOP)
        for one in larkfield.PEOPLE:
            unit.people.add(Person(one.key, one.name, one.roles, office.pins.hash(one.pin)))
        for tool in larkfield.tools(now.date()):
            unit.tools.add(tool)
        for bay in larkfield.bays(now.date()):
            unit.bays.add(bay)
        for owner in larkfield.OWNERS:
            unit.customers.add(Customer(owner.key, owner.name, owner.email, owner.phone, owner.language))
        for owner in larkfield.OWNERS:
            if owner.key in larkfield.MAY_BE_MAILED:
                asked = now - timedelta(days=40)
                unit.consents.add(
                    Consent(f"asked-{owner.key}", owner.key, True, AskedWhere.CUSTOMER, "maud", "Maud Pereira", asked)
                )
        for car in larkfield.CARS:
            unit.vehicles.add(vehicle_of(car))
        for number in (1, 2):
            unit.tablets.add(Tablet(f"tablet-{number}", f"Tablet {number}"))
        for figure in figures(office, now):
            unit.figures.add(figure)
        for figure in other_figures(office, now):
            unit.figures.add(figure)
        unit.commit()


def crib_stories(office: Office, now: datetime) -> None:
    """Two certificates, one of which leads to Tracing, and a loan."""
    then = now - timedelta(hours=5)
    past = replace(office, clock=lambda: then)
    # On the workshop's calendar: before five in the morning that was yesterday.
    today = then.astimezone(ZoneInfo(larkfield.SHOP.timezone)).date()
    calibrate_tool(
        past, "foreman", "tool-w20",
        CalibrationWanted(
            "", str(today - timedelta(days=225)), "Hale Metrology (invented)", "HM-2207", larkfield.TRUE_W20
        ),
    )  # fmt: skip
    calibrate_tool(
        past, "foreman", "tool-w12",
        CalibrationWanted(
            "calibration-w12", str(today), "Hale Metrology (invented)", "HM-2290", larkfield.OUT_W12, adjusted="yes"
        ),
    )  # fmt: skip
    borrow_tool(past, "ines", "W20")


def mishaps(office: Office) -> None:
    """A drop nobody has looked at yet, and an overload that was looked at."""
    report_mishap(office, "joss", "tool-w15", MishapWanted("", "drop", "Fell from the lift; click not felt since"))
    overload = report_mishap(office, "ines", "tool-w31", MishapWanted("", "overload", "Rusted nut let go", "640 N·m"))
    look_at_mishap(office, "foreman", overload.event.id, "7 % over its range, below a quarter; clicks evenly", "yes")


def vehicle_of(car: Car) -> Vehicle:
    return Vehicle(
        id=car.key, customer=car.owner, plate=car.plate, vin=car.vin, model=car.model, year=car.year,
        colour=car.colour, tyre_front=car.tyre, tyre_rear=car.tyre, wheelbase_um=car.wheelbase_mm * 1_000,
        front=car.front, rear=car.rear, high_voltage=car.high_voltage, hv_wait_s=car.hv_wait_s,
        airbag_wait_s=car.airbag_wait_s,
    )  # fmt: skip


def figures(office: Office, now: datetime) -> list[FigureRecord]:
    """The invented manual's figures for every model. One waits to be compared, one was read differently."""
    return [
        one
        for car in larkfield.CARS
        for axle in larkfield.AXLES
        for place in figure_keys(office.book)
        for one in _figure(office, car, axle, place.key, now)
    ]


def _figure(office: Office, car: Car, axle: Axle, key: str, now: datetime) -> list[FigureRecord]:
    text, unit, stages = larkfield.torque_of(car.key, axle, key)
    waits = (car.key, axle, key) == larkfield.NOT_COMPARED
    differs = (car.key, axle, key) == larkfield.READ_DIFFERENTLY
    first = FigureRecord(
        id=office.new_id(), model=car.model, axle=axle, place_key=key, edition=1, text=text, unit=unit,
        stages=stages, thread="", strength="", lubrication="dry", one_time=False, critical=False,
        document=f"Workshop manual, {car.model} (invented)", page=f"p. {larkfield.page_of(key)}",
        document_date=str(car.year), typed_by="maud", typed_at=now - timedelta(days=30),
    )  # fmt: skip
    if waits:
        return [first]
    if differs:
        text, unit, stages = larkfield.plain_torque(larkfield.DIFFERENT_NM)
        other = replace(
            first, id=office.new_id(), edition=2, text=text, unit=unit, stages=stages, typed_by="tarek",
            typed_at=now - timedelta(days=29),
        )  # fmt: skip
        return [first, other]
    return [replace(first, compared_by="tarek", compared_at=now - timedelta(days=29), compared_text=text)]


def other_figures(office: Office, now: datetime) -> list[FigureRecord]:
    """Heights, alignment, play and the rest: most compared, one typed once, one read in two ways."""
    cars = {car.key: car for car in larkfield.CARS}
    found = []
    for key, figures in larkfield.OTHER_FIGURES.items():
        for one in figures:
            typed = _other(office, cars[key], one, now)
            found.append(
                replace(typed, compared_by="tarek", compared_at=now - timedelta(days=19), compared_text=typed.text)
            )
    car, once = larkfield.OTHER_NOT_COMPARED
    found.append(_other(office, cars[car], once, now))
    car, first, second = larkfield.OTHER_READ_DIFFERENTLY
    found.append(_other(office, cars[car], first, now))
    other = replace(_other(office, cars[car], second, now), edition=2, typed_by="tarek")
    return [*found, other]


def _other(office: Office, car: Car, one: larkfield.OtherFigure, now: datetime) -> FigureRecord:
    key, axle, text, unit, low, target, high = one
    place = OTHER_PLACES[key]
    return FigureRecord(
        id=office.new_id(), model=car.model, axle=axle, place_key=key, edition=1, text=text, unit=unit, stages=(),
        thread="", strength="", lubrication="", one_time=False, critical=False,
        document=f"Workshop manual, {car.model} (invented)", page=f"p. {40 + len(key)}", document_date=str(car.year),
        typed_by="maud", typed_at=now - timedelta(days=20), kind=place.kind, low=low, target=target, high=high,
        tyre=car.tyre if place.needs_tyre else "", point=larkfield.HEIGHT_POINT if place.needs_tyre else "",
    )  # fmt: skip


def came_back(office: Office, now: datetime) -> Job:
    """Yesterday its links were renewed; today it is here again with the same complaint, at no cost."""
    with office.store.reading() as unit:
        earlier = unit.jobs.where(vehicle="wexcombe", state=JobState.HANDED_BACK)[-1]
    complaint = "Clonks at the front over bumps again, since this morning"
    lines = (line("inspection", Axle.FRONT),)
    wanted = JobWanted("wexcombe", complaint, now + timedelta(hours=4), 84_262, lines, comeback_of=earlier.id)
    job = open_job(office, "maud", wanted)
    make_estimate(office, "maud", job.number, EstimateWanted({"l1.free": "yes"}, 0))
    yes = AnswerTyped(
        edition=1, said={"l1": "yes"}, put_back={}, way="phone", name="Marisol Vega Prado", number="+00 555 0106",
        said_at=now - timedelta(minutes=1), read_out="0", signature="", tick=False, old_parts=False, words="",
    )  # fmt: skip
    answer_estimate(replace(office, clock=lambda: now), "maud", job.number, yes)
    return job


class Jobs:
    """The demo's jobs, one method for each state a job can be in."""

    def __init__(self, office: Office, now: datetime) -> None:
        self.office, self.now = office, now

    def make(self) -> None:
        self.inspected()
        self.handed_back()
        self.ready_to_hand_back()
        self.second_person_waits()
        self.at_a_gate()
        self.held()
        self.with_something_aside()
        self.placed_next()
        self.cancelled()
        self.not_placed()

    def at(self, hours_ago: float) -> Office:
        return replace(self.office, clock=Moving(self.now - timedelta(hours=hours_ago)))

    def opened(self, office: Office, car: str, complaint: str, *lines: JobLine, promised_h: float = 5) -> Job:
        wanted = JobWanted(car, complaint, office.clock() + timedelta(hours=promised_h), 84_210, lines)
        return open_job(office, "maud", wanted)

    def placed(self, office: Office, job: Job, bay: str, technician: str, begins_h: float, hours: float) -> None:
        """The foreman placed it when it came in; `begins_h` hours from now, on the full hour."""
        begins = self.now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=begins_h)
        place_job(
            office, "foreman", PlacementWanted(job.id, bay, technician, begins, begins + timedelta(hours=hours))
        )  # fmt: skip

    def inspected(self) -> None:
        """An inspection that found things, handed back; its letter says what to watch and what to replace."""
        office = self.at(50)
        job = self.opened(
            office, "kestle", "Clunks at walking pace, steering creaks when parking", line("inspection", Axle.FRONT)
        )
        self.placed(office, job, "bay-2", "joss", -49, 3)
        Player(office, job.id, "joss", "bram", INSPECTED).play()
        self._release(office, job)

    def handed_back(self) -> None:
        office = self.at(30)
        job = self.opened(
            office, "wexcombe", "Clonks at the front over bumps", line("stabiliser", Axle.FRONT, parts="links")
        )
        self.placed(office, job, "bay-1", "ines", -29, 3)
        Player(office, job.id, "ines", "bram").play()
        self._release(office, job)

    def _release(self, office: Office, job: Job) -> None:
        player = Player(office, job.id, "foreman", "")
        player.say(e.HandedBack(""))

    def ready_to_hand_back(self) -> None:
        office = self.at(7)
        job = self.opened(
            office, "ismay", "Rear sits low, knocks when loaded",
            line("shock_absorber", Axle.REAR, "left", **SHOCK), line("shock_absorber", Axle.REAR, "right", **SHOCK),
        )  # fmt: skip
        self.placed(office, job, "bay-4", "joss", -6, 5)
        Player(office, job.id, "joss", "tarek").play()

    def second_person_waits(self) -> None:
        office = self.at(4)
        job = self.opened(office, "harrop", "Front knocks when turning in", line("strut", Axle.FRONT, "left"))
        self.placed(office, job, "bay-2", "ines", -3, 5)
        player = Player(office, job.id, "ines", "tarek")
        player.second_readings = lambda step: None  # type: ignore[method-assign]
        player.play(until=_line_of("closing"))

    def at_a_gate(self) -> None:
        office = self.at(2)
        job = self.opened(
            office, "tallis", "Clunk from the front left over speed humps, wheel shakes when braking",
            line("ball_joint", Axle.FRONT, "left", joint_position="lower"),
        )  # fmt: skip
        self.placed(office, job, "bay-1", "bram", -1, 4)
        player = Player(office, job.id, "bram", "ines")
        player.photograph(words="Front left as it came in")
        player.play(until=lambda step: "carry_arm" in step.id)
        player.photograph(next(iter(player.steps_to_do())), "Where the arm will be held", sent=False)

    def held(self) -> None:
        office = self.at(3)
        job = self.opened(office, "barrow", "Pulls to the right, new tyre worn inside", line("inspection", Axle.FRONT))
        self.placed(office, job, "bay-4", "joss", 0, 3)
        player = Player(office, job.id, "joss", "bram", INSPECTED)
        player.play(until=_after(8))
        player.say(
            e.HoldPlaced("Jack pad on the frame is rusted through. Not to be lifted until the foreman has seen it.")
        )

    def with_something_aside(self) -> None:
        office = self.at(1.5)
        job = self.opened(office, "corrie", "Squeaks at the front", line("inspection", Axle.FRONT))
        self.placed(office, job, "bay-2", "tarek", 3, 2)
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
        self.placed(office, job, "bay-1", "bram", 4, 4)

    def cancelled(self) -> None:
        office = self.at(8)
        job = self.opened(
            office, "lorne", "Leans to the left when empty", line("coil_spring", Axle.FRONT, "left", **COIL)
        )
        cancel_job(office, "foreman", job.number, "The owner sells the vehicle as it is")

    def not_placed(self) -> None:
        office = self.at(0.5)
        self.opened(
            office, "fennick", "Message on the dash: suspension, sinks overnight", line("inspection", Axle.REAR)
        )
        self.opened(office, "sedge", "Wanders at speed", line("inspection", Axle.FRONT), line("inspection", Axle.REAR))


COIL = {"method": "compressor"}
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
