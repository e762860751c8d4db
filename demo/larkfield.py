"""The invented workshop: Larkfield Axle & Spring. Its people, bays, tools, customers, vehicles and figures.

Nothing here is real: no person, maker, vehicle, number or torque. The figures exist to show the product; the name of
every document says that it is invented. Only data and the small functions that spell it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any, TypeAlias

from app.domain.packet import Axle, Stage
from app.domain.records import (
    AxleFacts,
    Bay,
    LiftKind,
    Role,
    Shop,
    SpringFacts,
    Tool,
    ToolKind,
)

SHOP = Shop(
    id="shop",
    name="Larkfield Axle & Spring",
    address="7 Tannery Row, Larkfield",
    email="desk@larkfield.example",
    phone="+00 555 0142",
    timezone="Europe/London",
)


@dataclass(frozen=True)
class Someone:
    key: str
    name: str
    pin: str
    roles: frozenset[Role]


PEOPLE = (
    Someone("foreman", "Ottilie Brand", "4826", frozenset({Role.FOREMAN})),
    Someone("bram", "Bram Nwosu", "7391", frozenset({Role.TECHNICIAN})),
    Someone("ines", "Ines Calloway", "2748", frozenset({Role.TECHNICIAN})),
    Someone("tarek", "Tarek Lindqvist", "6153", frozenset({Role.TECHNICIAN, Role.FOREMAN})),
    Someone("joss", "Joss Achterberg", "9064", frozenset({Role.TECHNICIAN})),
    Someone("maud", "Maud Pereira", "5837", frozenset({Role.DESK})),
)


def bays(today: date) -> tuple[Bay, ...]:
    return (
        Bay("bay-1", "Bay 1", LiftKind.TWO_POST, 3_500_000, today - timedelta(days=120), lift_tool="tool-l1"),
        Bay("bay-2", "Bay 2", LiftKind.FOUR_POST, 5_000_000, today - timedelta(days=200), lift_tool="tool-l2"),
        Bay("bay-3", "Bay 3", LiftKind.SCISSOR, 2_000_000, today - timedelta(days=420), lift_tool="tool-l3"),
        Bay("bay-4", "Bay 4, flat", LiftKind.FLAT, 6_000_000, None),
    )


def tools(today: date) -> tuple[Tool, ...]:
    """Wrenches in date, overdue and dropped; stands, a jack and compressors to choose from; the bays' lifts."""
    wrench = ToolKind.TORQUE_WRENCH
    ago = {days: today - timedelta(days=days) for days in (20, 60, 120, 200, 225, 374, 420)}
    later, over = today + timedelta(days=140), today - timedelta(days=9)
    good: dict[str, Any] = {"due_on": later, "type": "II A", "checked_on": ago[225]}
    half = today + timedelta(days=122)
    return (
        Tool("tool-w12", "W12", wrench, "Click wrench, small", "N·m", 5_000, 50_000, 280_000, **good),
        Tool("tool-w20", "W20", wrench, "Click wrench, middle", "N·m", 40_000, 200_000, 420_000, **good),
        Tool("tool-w27", "W27", wrench, "Click wrench, foot-pounds", "lbf·ft", 40_675, 203_373, 460_000, **good),
        Tool("tool-w31", "W31", wrench, "Click wrench, long", "N·m", 120_000, 600_000, 900_000, cycles=1_180, **good),
        Tool(
            "tool-w08", "W08", wrench, "Click wrench, overdue", "N·m", 20_000, 200_000, 420_000,
            due_on=over, type="II A", checked_on=ago[374],
        ),
        Tool("tool-w15", "W15", wrench, "Click wrench, dropped", "N·m", 20_000, 120_000, 400_000, **good),
        Tool(
            "tool-s1", "S1", ToolKind.STANDS, "Stands, tall", rating=3_000_000, rating_basis="each",
            due_on=half, checked_on=ago[60],
        ),
        Tool(
            "tool-s2", "S2", ToolKind.STANDS, "Stands, short", rating=3_000_000, rating_basis="pair",
            due_on=today + timedelta(days=10), checked_on=ago[200],
        ),
        Tool("tool-j1", "J1", ToolKind.JACK, "Trolley jack", rating=2_500_000, due_on=half, checked_on=ago[60]),
        Tool("tool-c1", "C1", ToolKind.SPRING_COMPRESSOR, "Bench compressor", rating=18_000_000, type="bench"),
        Tool("tool-c2", "C2", ToolKind.SPRING_COMPRESSOR, "Hook compressor", rating=9_000_000, type="hooks"),
        Tool(
            "tool-l1", "L1", ToolKind.LIFT, "Two-post, bay 1", rating=3_500_000, checked_on=ago[120],
            due_on=today + timedelta(days=245),
        ),
        Tool(
            "tool-l2", "L2", ToolKind.LIFT, "Four-post, bay 2", rating=5_000_000, checked_on=ago[200],
            due_on=today + timedelta(days=165),
        ),
        Tool(
            "tool-l3", "L3", ToolKind.LIFT, "Scissor, bay 3", rating=2_000_000, checked_on=ago[420],
            due_on=today - timedelta(days=55),
        ),
    )  # fmt: skip


# What the invented laboratory found: set and measured in N·m, (set - measured)/measured within 4 % but for the last.
TRUE_W20 = (("40", "39.4"), ("120", "118.2"), ("200", "197.5"))
# W12 gave 6 % less than it said: 10/9.434, 30/28.302 and 50/47.170 are 1.06. It was set right and sent back.
OUT_W12 = (("10", "9.434"), ("30", "28.302"), ("50", "47.17"))


@dataclass(frozen=True)
class Owner:
    key: str
    name: str
    email: str
    phone: str
    language: str = "en"


OWNERS = (
    Owner("owner-1", "Halvor Bright", "halvor.bright@post.example", "+00 555 0101"),
    Owner("owner-2", "Søren Ødegård-Nuñez", "soren+car@post.example", "+00 555 0102"),
    Owner("owner-3", "Ψίλα Καραβά", "psila@post.example", "+00 555 0103"),
    Owner("owner-4", "Priory Lane Nursery", "office@priorylane.example", "+00 555 0104"),
    Owner("owner-5", "Wendeline Oakes", "", "+00 555 0105"),
    Owner("owner-6", "Marisol Vega Prado", "marisol.vega@post.example", "+00 555 0106", "es"),
)
# Who has said that letters may be mailed; the others have not been asked yet.
MAY_BE_MAILED = ("owner-3", "owner-4", "owner-6")


def axle(layout: str, mass_kg: int, *, place: str = "", spring: SpringFacts | None = None, **facts: str) -> AxleFacts:
    """An axle with every fact given that its layout can be asked, the usual where nothing else is said."""
    usual = {
        "alignment": "none", "arm_bushings": "pressed", "stabiliser": "yes", "height_sensor": "no",
        "active_damper": "no", "damper_limits_droop": "yes", "adas": "no", "airbag_near": "no",
        "joint_fixing": "bolted", "joint_stud": "castle", "wear_indicator": "no", "grease_fitting": "no",
    }  # fmt: skip
    kind = place or layout
    if kind in ("strut", "strut_arm_coil"):
        usual["strut_unit"] = "insert"
    if kind in ("solid_coil", "solid_leaf"):
        usual["axle_joints"] = "none"
    if kind == "twist_beam":
        usual = {key: value for key, value in usual.items() if not key.startswith("joint")}
    return AxleFacts(
        layout=layout,
        mass_g=mass_kg * 1_000,
        track_um=1_540_000,
        place=place,
        facts=tuple(sorted({**usual, **facts}.items())),
        spring=spring or SpringFacts(),
    )


def coil(rate_n_mm: int, free_mm: int, installed_mm: int, hanging_mm: int, wire_mm: int) -> SpringFacts:
    return SpringFacts(
        rate_npm=rate_n_mm * 1_000,
        free_length_um=free_mm * 1_000,
        installed_um=installed_mm * 1_000,
        hanging_um=hanging_mm * 1_000,
        wire_um=wire_mm * 1_000,
        source="Invented workshop manual, spring table",
    )


@dataclass(frozen=True)
class Car:
    key: str
    owner: str
    plate: str
    vin: str
    model: str
    year: int
    colour: str
    tyre: str
    wheelbase_mm: int
    front: AxleFacts
    rear: AxleFacts
    high_voltage: bool = False
    hv_wait_s: int | None = None
    airbag_wait_s: int | None = None
    more: dict[str, str] = field(default_factory=dict)


# Place, axle, text, unit, low, target, high.
OtherFigure: TypeAlias = tuple[str, Axle, str, str, int | None, int | None, int | None]

LBF_FT_MNM = 1_355.817_948_331_400_4  # NIST SP 811, appendix B.8: 1 lbf·ft = 1.355 818 N·m

# VINs are V and digits in a row, never of a vehicle; the Kestle's fails its check digit, to show what is said then.
CARS = (
    Car("tallis", "owner-1", "LK 14 TAL", "11111111111111111", "Tallis 2.4 saloon", 2014, "grey", "205/65R15", 2_750,
        axle("wishbone_lower_coil", 820, spring=coil(42, 340, 245, 300, 13), joint_fixing="riveted",
             alignment="shims", grease_fitting="yes", wear_indicator="yes"),
        axle("solid_coil", 640, spring=coil(28, 360, 260, 330, 12)), airbag_wait_s=180),
    Car("quillon", "owner-2", "QN 19 STR", "22222222222222222", "Quillon estate", 2019, "green", "205/55R16", 2_680,
        axle("strut", 790, spring=coil(26, 380, 250, 330, 12), adas="yes", joint_stud="pinch"),
        axle("twist_beam", 610, spring=coil(30, 320, 230, 290, 11)), airbag_wait_s=300),
    Car("sedge", "owner-3", "SG 08 UPC", "33333333333333333", "Sedge coupé", 2008, "red", "225/45R17", 2_600,
        axle("wishbone_upper_coil", 760, spring=coil(45, 310, 230, 270, 13), joint_fixing="pressed"),
        axle("multilink_link_coil", 700, spring=coil(38, 300, 215, 270, 12), joint_stud="self_locking")),
    Car("barrow", "owner-4", "BW 11 TBL", "44444444444444444", "Barrow pick-up", 2011, "white", "265/70R17", 3_080,
        axle("torsion_bar_lower", 1_150, joint_fixing="bolted", joint_stud="castle", grease_fitting="yes"),
        axle("solid_leaf", 980)),
    Car("pender", "owner-4", "PD 05 TBU", "55555555555555555", "Pender van", 2005, "white", "195/65R15", 2_900,
        axle("torsion_bar_upper", 1_020, joint_fixing="threaded", arm_bushings="threaded"),
        axle("solid_leaf", 900)),
    Car("corrie", "owner-5", "CR 16 SAC", "66666666666666666", "Corrie hatchback", 2016, "blue", "185/60R15", 2_530,
        axle("strut_arm_coil", 720, spring=coil(40, 300, 220, 275, 12), strut_unit="sealed"),
        axle("twist_beam", 520, spring=coil(27, 310, 225, 290, 11))),
    Car("fennick", "owner-6", "FN 21 AIR", "77777777777777777", "Fennick 3 estate", 2021, "black", "235/45R18", 2_920,
        axle("wishbone_lower_coil", 980, spring=coil(48, 330, 240, 290, 14), joint_fixing="pressed",
             joint_stud="self_locking", adas="yes"),
        axle("air", 940, place="multilink_link_coil", height_sensor="yes", active_damper="yes"), airbag_wait_s=120),
    Car("harrop", "owner-1", "HP 22 VLT", "88888888888888888", "Harrop electric", 2022, "silver", "215/60R16", 2_700,
        axle("strut", 930, spring=coil(34, 370, 250, 325, 13), strut_unit="sealed", adas="yes", joint_stud="pinch"),
        axle("multilink_link_coil", 910, spring=coil(44, 290, 210, 265, 13)), True, 600, 300),
    Car("ismay", "owner-2", "IS 97 SOL", "99999999999999999", "Ismay off-roader", 1997, "sand", "31x10.50R15LT", 2_600,
        axle("solid_coil", 900, spring=coil(36, 400, 290, 370, 14), axle_joints="ball_joints"),
        axle("solid_coil", 880, spring=coil(34, 410, 300, 380, 14))),
    Car("kestle", "owner-3", "KS 18 MLT", "11111111111111112", "Kestle saloon", 2018, "white", "225/45R17", 2_840,
        axle("multilink_link_coil", 860, spring=coil(40, 300, 220, 275, 13), joint_stud="self_locking"),
        axle("multilink_link_coil", 800, spring=coil(38, 300, 215, 270, 12), joint_stud="self_locking")),
    Car("lorne", "owner-5", "LN 09 LVC", "", "Lorne minibus", 2009, "yellow", "LT235/85R16", 3_300,
        axle("wishbone_lower_coil", 1_250, spring=coil(70, 340, 250, 300, 16), arm_bushings="bonded",
             alignment="cams"),
        axle("solid_leaf", 1_400)),
    Car("wexcombe", "owner-6", "WX 12 STR", "VVVVVVVVXVV000021", "Wexcombe city car", 2012, "orange", "175/65R14",
        2_350,
        axle("strut", 560, spring=coil(20, 360, 240, 315, 11)),
        axle("twist_beam", 400, spring=coil(22, 300, 215, 275, 10))),
)  # fmt: skip

# Torques of the invented manual, N·m, by figure key; what is not listed has the plain figure at the end.
TORQUES = {
    "bar_bushing_bracket": 45, "brake_hose_bracket": 20, "link_lower": 60, "link_upper": 60, "shock_lower": 90,
    "shock_upper": 45, "strut_centre_nut": 70, "strut_ring_nut": 150, "strut_to_knuckle": 120, "strut_top_nuts": 30,
    "wheel_nuts": 110, "lower_ball_joint_flange": 50, "upper_ball_joint_flange": 45, "lower_ball_joint_stud": 110,
    "upper_ball_joint_stud": 85, "lower_ball_joint_pinch": 60, "upper_ball_joint_pinch": 55,
}  # fmt: skip
PLAIN_TORQUE = 130
AXLES = (Axle.FRONT, Axle.REAR)

# Printed otherwise than in plain N·m: a figure in foot-pounds, and one in stages with a further turn.
IN_FOOT_POUNDS = {"ismay": {"wheel_nuts": 81}}
STAGED = {"quillon": {"strut_to_knuckle": (60, 90)}}

# Typed once, and typed twice with two results: neither can be signed against.
NOT_COMPARED = ("sedge", Axle.FRONT, "lower_ball_joint_stud")
READ_DIFFERENTLY = ("sedge", Axle.FRONT, "upper_ball_joint_stud")
DIFFERENT_NM = 58

# What else the invented manual gives, by car: place, axle, text, unit, low, target, high in the small unit.
# The Tallis and the Quillon stood low and leaned in at the front left before the work; after it they lie within.
_FRONT_ANGLES = (
    ("camber", Axle.FRONT, "−1.2° to −0.3°, target −0.8°", "°", -1_200, -800, -300),
    ("caster", Axle.FRONT, "3.5° to 4.7°", "°", 3_500, None, 4_700),
    ("toe", Axle.FRONT, "−0.05° to 0.15°, target 0.07°", "°", -50, 70, 150),
    ("camber_cross", Axle.FRONT, "−0.5° to 0.5°", "°", -500, None, 500),
    ("toe_total", Axle.FRONT, "−0.1° to 0.3°", "°", -100, None, 300),
)
_FRONT_HEIGHT = ("ride_height", Axle.FRONT, "656 mm ±10 mm", "mm", 646_000, 656_000, 666_000)
OTHER_FIGURES: dict[str, tuple[OtherFigure, ...]] = {
    "tallis": (
        *_FRONT_ANGLES, _FRONT_HEIGHT,
        ("load_joint_axial", Axle.FRONT, "at most 1.2 mm", "mm", None, None, 1_200),
        ("load_joint_radial", Axle.FRONT, "at most 0.8 mm", "mm", None, None, 800),
        ("spring_free_length", Axle.FRONT, "340 mm ±8 mm", "mm", 332_000, 340_000, 348_000),
        ("spring_rate", Axle.FRONT, "42 N/mm", "N/mm", None, 42_000, None),
        ("axle_mass", Axle.FRONT, "820 kg", "kg", None, 820_000, None),
        ("airbag_wait", Axle.BOTH, "3 min", "min", None, 180_000, None),
    ),
    "quillon": (*_FRONT_ANGLES, _FRONT_HEIGHT),
    "harrop": (("high_voltage_wait", Axle.BOTH, "10 min", "min", None, 600_000, None),),
}  # fmt: skip
HEIGHT_POINT = "lower edge of the wheel arch"

# Typed once, and typed twice with two results, of the other kinds.
OTHER_NOT_COMPARED = ("sedge", ("camber", Axle.FRONT, "−1° to 0°", "°", -1_000, None, 0))
OTHER_READ_DIFFERENTLY = (
    "sedge",
    ("toe", Axle.FRONT, "−0.1° to 0.1°", "°", -100, None, 100),
    ("toe", Axle.FRONT, "−0.1° to 0.15°", "°", -100, None, 150),
)

Torque: TypeAlias = tuple[str, str, tuple[Stage, ...]]


def torque_of(car: str, axle: Axle, key: str) -> Torque:
    """The figure as the invented manual prints it: its text, its unit, its stages."""
    staged = STAGED.get(car, {}).get(key)
    if staged is not None and axle is Axle.FRONT:
        return staged_torque(*staged)
    pounds = IN_FOOT_POUNDS.get(car, {}).get(key)
    if pounds is not None:
        return _window(f"{pounds} lbf·ft", "lbf·ft", round(pounds * LBF_FT_MNM))
    return plain_torque(TORQUES.get(key, PLAIN_TORQUE))


def plain_torque(newton_metres: int) -> Torque:
    return _window(f"{newton_metres} N·m", "N·m", newton_metres * 1_000)


def staged_torque(newton_metres: int, degrees: int) -> Torque:
    """Drawn to a torque, then turned further."""
    first = replace(plain_torque(newton_metres)[2][0], text=f"{newton_metres} N·m")
    turn = Stage(
        low_mdeg=(degrees - 5) * 1_000, target_mdeg=degrees * 1_000, high_mdeg=(degrees + 5) * 1_000, text=f"{degrees}°"
    )  # fmt: skip
    return f"{newton_metres} N·m, then {degrees}°", "N·m", (first, turn)


def _window(text: str, unit: str, target_mnm: int) -> Torque:
    """Four per cent to either side: the invented manual's own tolerance."""
    return text, unit, (Stage(target_mnm * 96 // 100, target_mnm, target_mnm * 104 // 100, text=text),)


def page_of(key: str) -> int:
    return 12 + len(key)
