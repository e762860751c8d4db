"""Invented vehicles, lines and books for the tests of procedures and packets. Nothing real, no network, no database."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

from app.domain.compiling import Order, compile_packet
from app.domain.packet import Axle, Figure, Packet, Stage, Step
from app.domain.problems import Problem
from app.domain.procedure import Book, load_book
from app.domain.records import AxleFacts, JobLine, Shop, SpringFacts, Vehicle

SHARED = Path(__file__).parents[2] / "shared"
SHOP = Shop("shop", "Invented", "", "", "")

PLACES = (
    "wishbone_lower_coil",
    "wishbone_upper_coil",
    "torsion_bar_lower",
    "torsion_bar_upper",
    "strut",
    "strut_arm_coil",
    "solid_coil",
    "solid_leaf",
    "twist_beam",
    "multilink_link_coil",
)
# Every way an axle may be hung: (layout, the place an air spring stands in for).
AXLES = (*((layout, "") for layout in PLACES), *(("air", place) for place in PLACES))

FACTS: Mapping[str, str] = {
    "joint_fixing": "bolted",
    "joint_stud": "castle",
    "axle_joints": "ball_joints",
    "wear_indicator": "yes",
    "grease_fitting": "yes",
    "strut_unit": "sealed",
    "alignment": "none",
    "arm_bushings": "pressed",
    "stabiliser": "yes",
    "height_sensor": "no",
    "active_damper": "no",
    "damper_limits_droop": "yes",
    "adas": "no",
    "airbag_near": "no",
}
# Rate 30 N/mm, free 400 mm, at ride height 250 mm: compressed by 150 mm.
COIL = SpringFacts(30_000, 400_000, 250_000, 320_000)


@cache
def the_book() -> Book:
    return load_book(SHARED)


def an_axle(
    layout: str = "wishbone_lower_coil",
    place: str = "",
    *,
    mass_g: int | None = 800_000,
    spring: SpringFacts = COIL,
    without: tuple[str, ...] = (),
    **facts: str,
) -> AxleFacts:
    known = {key: value for key, value in {**FACTS, **facts}.items() if key not in without}
    return AxleFacts(layout, mass_g, 1_500_000, place, tuple(known.items()), spring)


def a_vehicle(
    front: AxleFacts | None = None,
    rear: AxleFacts | None = None,
    *,
    wheelbase_um: int | None = 2_700_000,
    high_voltage: bool = False,
    hv_wait_s: int | None = None,
    airbag_wait_s: int | None = None,
) -> Vehicle:
    return Vehicle(
        id="v1",
        customer="c1",
        plate="TEST 1",
        vin="",
        model="invented",
        year=2015,
        colour="",
        tyre_front="",
        tyre_rear="",
        wheelbase_um=wheelbase_um,
        front=front or an_axle(),
        rear=rear or an_axle("solid_leaf"),
        high_voltage=high_voltage,
        hv_wait_s=hv_wait_s,
        airbag_wait_s=airbag_wait_s,
    )


def a_line(
    procedure: str = "ball_joint",
    axle: Axle = Axle.FRONT,
    corner: str = "left",
    *,
    line_id: str = "work",
    **options: str,
) -> JobLine:
    if procedure == "ball_joint":
        options = {"joint_position": "lower", **options}
    return JobLine(line_id, procedure, axle, corner, tuple(options.items()))


def an_order(
    *lines: JobLine,
    vehicle: Vehicle | None = None,
    figures: Mapping[str, Figure] | None = None,
    previous: Packet | None = None,
    shop: Shop = SHOP,
) -> Order:
    edition = previous.edition + 1 if previous else 1
    return Order("job", "26-0001", edition, vehicle or a_vehicle(), lines, figures or {}, (), shop, previous)


def made(*lines: JobLine, vehicle: Vehicle | None = None, previous: Packet | None = None) -> Packet:
    packet = compile_packet(the_book(), an_order(*lines, vehicle=vehicle, previous=previous))
    assert isinstance(packet, Packet), packet
    return packet


def refused(*lines: JobLine, vehicle: Vehicle | None = None) -> tuple[Problem, ...]:
    problems = compile_packet(the_book(), an_order(*lines, vehicle=vehicle))
    assert isinstance(problems, tuple), "a packet was made"
    return problems


def a_figure(text: str = "invented figure", **more: object) -> Figure:
    stage = Stage(low_mnm=1, target_mnm=2, high_mnm=3, text=text)
    return Figure("f1", text, "N·m", (stage,), "invented source", True, **more)  # type: ignore[arg-type]


def keys(packet: Packet, line: str = "work") -> list[str]:
    return [step.key for step in packet.steps_of_line[line]]


def the_step(packet: Packet, key: str, line: str = "work") -> Step:
    (found,) = (step for step in packet.steps_of_line[line] if step.key == key)
    return found


def gate_keys(packet: Packet, step: Step) -> set[str]:
    return {packet.gate_by_id[gate].key for gate in step.gates}


def befores(packet: Packet) -> Mapping[str, frozenset[str]]:
    """For each step every step it waits for, near or far.

    Raises: AssertionError if steps wait for each other.
    """
    far: dict[str, frozenset[str]] = {}
    left = list(packet.steps)
    while left:
        ready = [step for step in left if all(one in far for one in step.after)]
        assert ready, f"these wait for each other: {[step.id for step in left]}"
        for step in ready:
            far[step.id] = frozenset(step.after).union(*(far[one] for one in step.after))
        left = [step for step in left if step.id not in far]
    return far


def waits_for(packet: Packet, later: Step, earlier: Step) -> bool:
    """Whether the later step waits, step by step, for the earlier."""
    return earlier.id in befores(packet)[later.id]
