"""`python tests/bench/trade.py`: microseconds per sum, and what part of a sheet page's sums is spent in pint.

Each sum is repeated for a while; the best of five rounds is shown, because other work on the machine only ever adds.
A sheet page needs the sums marked `page`; together they are to stay under 1 ms, with pint never woken.
"""

from __future__ import annotations

import cProfile
import math
import pstats
import sys
import time
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from app.trade import (
    alignment,
    damping,
    fastener,
    labour,
    loads,
    play,
    ride_height,
    spring,
    torque_tool,
    tyre,
    vin,
)
from app.trade.limits import around
from app.trade.quantity import Dimension, Quantity
from app.trade.units import both, parse_quantity, show

LIMIT_US = 1_000.0


def _q(text: str, dimension: Dimension) -> Quantity:
    return parse_quantity(text, dimension)


TARGET = _q("81 lb·ft", Dimension.TORQUE)
WRENCH, REACH, ANGLE = _q("400 mm", Dimension.LENGTH), _q("50 mm", Dimension.LENGTH), _q("30°", Dimension.ANGLE)
LARGEST = _q("200 N·m", Dimension.TORQUE)
FOUR_PERCENT = _q("4 %", Dimension.RATIO)
THREAD = fastener.Thread.parse("M12x1.25")
SPEC = fastener.Spec(TARGET, THREAD, "10.9")
FITTED, PLACARD = tyre.TyreSize.parse("225/65R17"), tyre.TyreSize.parse("205/55R16")
CAR = loads.axle_split(_q("1500 kg", Dimension.MASS), _q("2.7 m", Dimension.LENGTH), _q("1.2 m", Dimension.LENGTH))
STANDS_AT = _q("0.6 m", Dimension.LENGTH)
RATE, FREE, SHORT = (
    _q("30 N/mm", Dimension.RATE),
    _q("350 mm", Dimension.LENGTH),
    _q("200 mm", Dimension.LENGTH),
)
WINDOW = torque_tool.window_of(TARGET, tolerance=FOUR_PERCENT)
TOE, ACROSS = _q("2 mm", Dimension.LENGTH), _q("406.4 mm", Dimension.LENGTH)
PEAKS = tuple(Quantity(Dimension.LENGTH, value) for value in (40_000, 21_000, 11_000))
LINES = (
    labour.LabourLine("ball joint", _q("1.4 h", Dimension.DURATION), labour.Money("USD", 13_500)),
    labour.PartLine("ball joint", Decimal(1), labour.Money("USD", 8_495)),
)

CORNER, UNSPRUNG = _q("410 kg", Dimension.MASS), _q("42 kg", Dimension.MASS)
LEVER, DROOP = _q("0.62", Dimension.RATIO), _q("85 mm", Dimension.LENGTH)
TYRE_RATE, LABEL = _q("190 N/mm", Dimension.RATE), _q("3000 kg", Dimension.MASS)
WIRE, COIL, COILS = _q("12 mm", Dimension.LENGTH), _q("110 mm", Dimension.LENGTH), _q("6.5", Dimension.RATIO)
SWINGS, AT_50_HZ = _q("2", Dimension.RATIO), Quantity(Dimension.FREQUENCY, 50_000)
TRACE = [math.exp(-0.0327 * i) * math.cos(0.16 * i) for i in range(400)]


def _angle(thousandths: int) -> Quantity:
    return Quantity(Dimension.ANGLE, thousandths)


SHIM = Quantity(Dimension.LENGTH, 3_050)
EFFECTS = (
    alignment.ShimEffect("front", SHIM, {"caster": _angle(600), "camber": _angle(500)}),
    alignment.ShimEffect("rear", SHIM, {"caster": _angle(-600), "camber": _angle(0)}),
)
STOCK = (alignment.ShimStock(SHIM, 6), alignment.ShimStock(Quantity(Dimension.LENGTH, 1_525), 6))
WANTED = {"camber": _angle(400), "caster": _angle(350)}
TEN = Quantity(Dimension.LENGTH, 10_000)
HEIGHT = Quantity(Dimension.LENGTH, 380_000)
HEIGHTS = ride_height.Heights(HEIGHT, HEIGHT, HEIGHT, HEIGHT)
HEIGHT_SPEC = ride_height.HeightSpec(around(HEIGHT, TEN, TEN), around(HEIGHT, TEN, TEN), TEN)
MEASURED_WELL = ride_height.Circumstances(True, True, True, {})
JOINT = play.JointReading(weight_on=False, axial=Quantity(Dimension.LENGTH, 400))
PLAY_LIMIT = play.PlayLimit(Quantity(Dimension.LENGTH, 500))

# name, whether a sheet page needs it, the sum
SUMS: tuple[tuple[str, bool, Callable[[], object]], ...] = (
    ("units: read 81 lb·ft", True, lambda: parse_quantity("81 lb·ft", Dimension.TORQUE)),
    ("units: read 1 1/16 in", True, lambda: parse_quantity("1 1/16 in", Dimension.LENGTH)),
    ("units: show in N·m", True, lambda: show(TARGET, "N·m")),
    ("units: both", True, lambda: both(TARGET, "N·m")),
    (
        "torque_tool: setting with extension",
        True,
        lambda: torque_tool.setting_with_extension(TARGET, WRENCH, REACH, ANGLE),
    ),
    ("torque_tool: window", True, lambda: torque_tool.window_of(TARGET, tolerance=FOUR_PERCENT)),
    ("torque_tool: place of a reading", True, lambda: WINDOW.place(TARGET)),
    ("torque_tool: usable range", True, lambda: torque_tool.usable_range(LARGEST)),
    ("torque_tool: due", True, lambda: torque_tool.due(date(2026, 1, 15), date(2026, 11, 25), LARGEST)),
    ("torque_tool: castellated nut", True, lambda: torque_tool.castle_nut(ANGLE)),
    ("loads: stand load", True, lambda: loads.stand_load(CAR, front_stands_at=STANDS_AT)),
    ("loads: margin on the label", True, lambda: loads.label_margin(CORNER, LABEL, loads.Basis.UNSAID)),
    ("loads: spring forces", True, lambda: loads.spring_forces(CORNER, UNSPRUNG, LEVER, RATE, DROOP)),
    (
        "spring: force at the gate",
        True,
        lambda: spring.force_at_gate(RATE, free_length=FREE, compressed_length=SHORT),
    ),
    (
        "alignment: toe angle",
        True,
        lambda: alignment.toe_angle(TOE, ACROSS, alignment.ToeMeasure.FRONT_TO_REAR_EDGE),
    ),
    ("damping: ratio from peaks", True, lambda: damping.ratio_from_peaks(PEAKS)),
    ("damping: ratio from swings", True, lambda: damping.ratio_from_swings(SWINGS)),
    (
        "ride_height: four corners",
        True,
        lambda: ride_height.judge_heights(HEIGHTS, HEIGHT_SPEC, MEASURED_WELL),
    ),
    ("play: one joint", True, lambda: play.judge_joint(play.Role.LOAD, JOINT, PLAY_LIMIT)),
    ("spring: rate", False, lambda: spring.rate(WIRE, COIL, COILS)),
    ("spring: stored", False, lambda: spring.stored(RATE, TEN, DROOP)),
    ("damping: quarter car", False, lambda: damping.ride(CORNER, UNSPRUNG, RATE, TYRE_RATE)),
    ("damping: ratio from a trace", False, lambda: damping.ratio_from_trace(TRACE, AT_50_HZ)),
    ("alignment: shims", False, lambda: alignment.solve_shims(EFFECTS, WANTED, STOCK)),
    ("fastener: question", False, lambda: fastener.question(SPEC)),
    ("fastener: read M12x1.25", False, lambda: fastener.Thread.parse("M12x1.25")),
    ("tyre: read a size", False, lambda: tyre.TyreSize.parse("205/55R16 91V")),
    ("tyre: height change", False, lambda: tyre.height_change(FITTED, PLACARD)),
    ("vin: examine", False, lambda: vin.examine("11111111111111112")),
    ("labour: price two lines", False, lambda: labour.price(LINES)),
)


def best_us(sum_: Callable[[], object], *, rounds: int = 5, seconds: float = 0.02) -> float:
    """Microseconds for one call: the best of some rounds."""
    best = float("inf")
    for _ in range(rounds):
        count, began = 0, time.perf_counter()
        while time.perf_counter() - began < seconds:
            sum_()
            count += 1
        best = min(best, (time.perf_counter() - began) / count)
    return best * 1e6


def share_in_pint() -> float:
    """The part of the page's sums spent in pint, by the profiler."""
    profile = cProfile.Profile()
    profile.enable()
    for _ in range(50):
        for _, on_page, sum_ in SUMS:
            if on_page:
                sum_()
    profile.disable()
    stats = pstats.Stats(profile)
    timed: dict[tuple[str, int, str], tuple[int, int, float, float, object]] = stats.stats  # type: ignore[attr-defined]
    in_pint = sum(own for (file, _, _), (_, _, own, _, _) in timed.items() if "/pint/" in file.replace("\\", "/"))
    return in_pint / sum(own for _, _, own, _, _ in timed.values())


def main() -> int:
    together = 0.0
    for name, on_page, sum_ in SUMS:
        took = best_us(sum_)
        together += took if on_page else 0.0
        print(f"{took:9.1f} µs  {'page' if on_page else '    '}  {name}")
    share = share_in_pint()
    woken = "pint" in sys.modules
    part = 100 * together / LIMIT_US
    print(f"{together:9.1f} µs  a sheet page's sums together: {part:.0f} % of the limit of {LIMIT_US:.0f} µs")
    print(f"{100 * share:9.1f} %   of them in pint; pint was {'woken' if woken else 'never woken'}")
    began = time.perf_counter()
    parse_quantity("3 kip", Dimension.FORCE)
    print(f"{1000 * (time.perf_counter() - began):9.0f} ms  to wake pint for the first unit outside the table")
    return 0 if together < LIMIT_US and not woken else 1


if __name__ == "__main__":
    raise SystemExit(main())
