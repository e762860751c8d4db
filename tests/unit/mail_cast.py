"""The people and the job that the tests of the post write letters about. All invented."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from app.domain.packet import (
    Axle,
    Choice,
    Fastener,
    Figure,
    Line,
    Measure,
    OneTime,
    Packet,
    Pass,
    Stage,
    Step,
    Support,
    Trial,
    Verdict,
    Wrench,
)
from app.domain.records import AxleFacts, Customer, Job, JobLine, OutgoingMessage, Person, Role, Shop, Vehicle
from app.domain.sheet import Aside, Mark, Note, Outcome, Sheet, Signature, StepNow, Taken
from app.ports import Sender
from app.storage.memory import MemoryStore

MORNING = datetime(2026, 3, 12, 8, 30, tzinfo=UTC)

SHOP = Shop(
    id="shop",
    name="Axle & Arm Workshop",
    address="7 Foundry Lane\nMillbrook",
    email="desk@axle-arm.example",
    phone="+44 1632 960123",
    timezone="Europe/Berlin",
    retorque_km=80,
)
CUSTOMER = Customer(id="c1", name="Mira Okonjo", email="mira@okonjo.example", phone="")
VEHICLE = Vehicle(
    id="v1",
    customer="c1",
    plate="MB 41 TK",
    vin="",
    model="Hatch 5-door",
    year=2011,
    colour="grey",
    tyre_front="",
    tyre_rear="",
    wheelbase_um=None,
    front=AxleFacts(layout="wishbone_lower_coil"),
    rear=AxleFacts(layout="twist_beam"),
)
JOB = Job(
    id="j1",
    number="2026-0117",
    vehicle="v1",
    customer="c1",
    complaint="Clunks when I turn into the drive.\nPulls to the left.",
    promised_at=None,
    opened_at=MORNING,
    opened_by="p-desk",
    odometer_km=148_200,
    lines=(JobLine(id="l2", procedure="ball_joint", axle=Axle.FRONT, corner="left"),),
)
SENDER = Sender(name=SHOP.name, address="post@axle-arm.example", reply_to=SHOP.email)


def mark(name: str, minutes: int) -> Mark:
    at = MORNING + timedelta(minutes=minutes)
    return Mark(person=f"p-{name}", name=name, at_ms=int(at.timestamp() * 1_000), entry=f"e{minutes}")


def a_step(key: str, line: str, title: str, **more: object) -> Step:
    made = Step(
        id=f"{line}.{key}", line=line, key=key, title=title, do="", why="", axle=Axle.FRONT,
        supports=(Support.STANDS_ARM,), corner="left",
    )  # fmt: skip
    return dataclasses.replace(made, **more)  # type: ignore[arg-type]


def a_trial(part: str) -> Trial:
    return Trial(
        id="trial",
        part=part,
        choices=(Choice("moves", "moves under the bar", False), Choice("still", "no movement seen", True)),
    )


BALL_JOINT_NUT = Fastener(
    id="stud-nut",
    place="ball joint stud nut, front left",
    tighten=Pass.FINAL,
    load_states=(Support.STANDS_ARM,),
    figure_key="stud_nut",
    one_time=True,
    critical=True,
    figure=Figure(
        id="f1",
        text="81 lb-ft",
        unit="lbf·ft",
        stages=(Stage(low_mnm=105_000, target_mnm=110_000, high_mnm=115_000),),
        source="workshop manual of this model, p. 4-12",
        verified=True,
    ),
)
PIVOT_SNUG = dataclasses.replace(
    BALL_JOINT_NUT, id="pivot-snug", place="pivot bolt, front left", tighten=Pass.SNUG, figure=None, one_time=False
)

STEPS = (
    a_step("play", "l1", "Feel for play in the lower ball joint", trial=a_trial("lower ball joint")),
    a_step("bushing", "l1", "Look at the rear bushing", trial=a_trial("rear arm bushing")),
    a_step("link", "l1", "Look at the stabiliser link", trial=a_trial("stabiliser link")),
    a_step(
        "height",
        "l1",
        "Measure the ride height",
        measures=(
            Measure(
                id="before", ask="Ride height before", dimension="length", unit="mm", low=380_000, high=395_000,
                window_text="380 to 395 mm", source="workshop manual of this model, p. 2-3",
            ),
            Measure(id="pressure", ask="Tyre pressure", dimension="pressure", unit="bar"),
        ),
    ),
    a_step("out", "l2", "Break the taper and take the joint out"),
    a_step(
        "nut",
        "l2",
        "Tighten the stud nut",
        fasteners=(BALL_JOINT_NUT, PIVOT_SNUG),
        one_time=(OneTime("pin", "cotter pin"),),
        countersign=True,
    ),
)  # fmt: skip

PACKET = Packet(
    v=1,
    job="j1",
    number="2026-0117",
    edition=1,
    vehicle={},
    layouts={"front": "wishbone_lower_coil"},
    lines=(
        Line(id="l1", procedure="inspection", version=1, title="Inspection", axle=Axle.FRONT),
        Line(id="l2", procedure="ball_joint", version=1, title="Lower ball joint", axle=Axle.FRONT, corner="left"),
    ),
    steps=STEPS,
    gates=(),
    wrenches=(Wrench("W3", "half-inch wrench", "lbf·ft", 20_000, 200_000, "2026-12-01", 400_000),),
    procedures={},
)


def an_outcome(verdict: Verdict, choice: str, reason: str, minutes: int) -> StepNow:
    by = mark("Tomas Brandt", minutes)
    return StepNow(done=by, outcome=Outcome(mark=by, choice=choice, verdict=verdict, reason=reason))


def a_closed_sheet() -> Sheet:
    """Every step done, the nut read twice, one value outside its window, one entry set aside and settled."""
    tomas, lena = "Tomas Brandt", "Lena Sørensen"
    steps = {
        "l1.link": an_outcome(Verdict.SOUND, "still", "", 5),
        "l1.bushing": an_outcome(Verdict.WATCH, "still", "first cracks at the edge", 6),
        "l1.play": an_outcome(Verdict.REPLACE, "moves", "1.8 mm where the maker allows 0.5 mm", 7),
        "l1.height": StepNow(
            done=mark(tomas, 12),
            readings={
                "before": Taken(mark(tomas, 10), 371_000, "371", "mm", False),
                "pressure": Taken(mark(tomas, 11), 230_000, "2,3 bar", "bar", None),
            },
        ),
        "l2.out": StepNow(done=mark(tomas, 60), reopened=(Note(mark(lena, 55), "boot was cut, look again"),)),
        "l2.nut": StepNow(
            done=mark(tomas, 80),
            signatures={
                "stud-nut": Signature(
                    mark(tomas, 78), Pass.FINAL, ("81 lb-ft lbf·ft",), (109_822,), "W3", new_part=True
                ),
                "pivot-snug": Signature(mark(tomas, 77), Pass.SNUG),
            },
            counters={
                "stud-nut": Signature(
                    mark(lena, 90), Pass.FINAL, ("100 N·m N·m",), (125_000,), "W3", extension_um=100_000
                )
            },
            seen=mark(lena, 91),
            seen_text="pin through the nut and bent over",
            new_parts=("pin",),
            notes=(Note(mark(tomas, 79), "Thread cleaned first."), Note(mark(tomas, 79), "pin.jpg", photo="ab" * 32)),
        ),
    }
    aside = Aside(
        mark("Ivo Marsh", 70), "signed_off", "l2.nut", "stud-nut", "reading_outside", {"typed": "20 N·m"},
        settled=mark(lena, 75), outcome="do_again", settled_reason="wrong socket, Ivo was in a hurry",
    )  # fmt: skip
    return Sheet(
        job="j1",
        packet=PACKET,
        entries=20,
        steps=steps,
        asides={"e70": aside},
        notes=(Note(mark(lena, 95), "Alignment printed and in the car."),),
        handed_back=mark(lena, 120),
        handed_back_note="Come by if it knocks again.",
    )


def a_message(**more: object) -> OutgoingMessage:
    made = OutgoingMessage(
        id="m1",
        key="handback:j1:1",
        job="j1",
        to="mira@okonjo.example",
        subject="MB 41 TK: what we did",
        text="Grüße.\n.\n..two dots\nThe end.\n",
        html="<p>Grüße.</p>\n",
        message_id="<m1@axle-arm.example>",
        made_at=MORNING,
    )
    return dataclasses.replace(made, **more)  # type: ignore[arg-type]


class FakeClock:
    """Time that moves only when told to."""

    def __init__(self, now: datetime = MORNING) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def forward(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)


def counting(prefix: str = "m") -> Callable[[], str]:
    """Ids that count: m1, m2, …"""
    made = 0

    def new_id() -> str:
        nonlocal made
        made += 1
        return f"{prefix}{made}"

    return new_id


def a_store() -> MemoryStore:
    """A store that knows the shop, the customer, the vehicle and the job."""
    store = MemoryStore()
    with store.writing() as unit:
        unit.shops.add(SHOP)
        unit.people.add(Person(id="p-desk", name="Ada Lind", roles=frozenset({Role.DESK}), pin_hash=""))
        unit.customers.add(CUSTOMER)
        unit.vehicles.add(VEHICLE)
        unit.jobs.add(JOB)
        unit.commit()
    return store
