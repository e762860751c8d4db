"""Torque tools against ISO 6789 as quoted, tool manuals, FAA AC 43.13-1B and army manuals."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction

import pytest

from app.trade import torque_tool
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import SinceCalibration
from app.trade.units import amount_in, parse_quantity
from tests.reference_checks.rows import Row, cases, check


def _torque(row: Row, name: str, missing: str = "") -> Quantity | None:
    text = row.inputs.get(name, missing)
    return parse_quantity(text, Dimension.TORQUE) if text else None


def _given_torque(row: Row, name: str, missing: str = "") -> Quantity:
    torque = _torque(row, name, missing)
    assert torque is not None
    return torque


def _lever(row: Row) -> tuple[Quantity, Quantity, Quantity]:
    lengths = [parse_quantity(row.inputs[name], Dimension.LENGTH) for name in ("wrench", "extension")]
    return lengths[0], lengths[1], parse_quantity(row.inputs["angle"], Dimension.ANGLE)


def _as_target(found: Quantity, target: Quantity) -> Fraction:
    return amount_in(found, Dimension.TORQUE, target.unit)


def _setting(row: Row) -> Fraction:
    target = _given_torque(row, "target")
    return _as_target(torque_tool.setting_with_extension(target, *_lever(row)), target)


def _at_fastener(row: Row) -> Fraction:
    setting = _given_torque(row, "setting")
    return _as_target(torque_tool.torque_at_fastener(setting, *_lever(row)), setting)


def _due(row: Row) -> str:
    since = SinceCalibration(
        cycles=int(row.inputs["cycles"]),
        heaviest=_torque(row, "heaviest"),
        was_dropped=row.inputs.get("dropped") == "yes",
    )
    verdict = torque_tool.due(
        date.fromisoformat(row.inputs["last"]),
        date.fromisoformat(row.inputs["today"]),
        _given_torque(row, "largest", "200 N·m"),
        since,
    )
    return " ".join(verdict.reasons) or "no"


def _castle(row: Row) -> str:
    ahead = parse_quantity(row.inputs["ahead"], Dimension.ANGLE)
    nut = torque_tool.castle_nut(
        ahead,
        slots=int(row.inputs.get("slots", "6")),
        torque=_torque(row, "torque"),
        highest=_torque(row, "highest"),
    )
    return f"{nut.action} {float(amount_in(nut.further, Dimension.ANGLE, '°')):g}"


def _castle_at_most(row: Row) -> Fraction:
    nut = torque_tool.castle_nut(Quantity(Dimension.ANGLE, 0), slots=int(row.inputs["slots"]))
    return amount_in(nut.at_most, Dimension.ANGLE, "°")


def _check_points(row: Row) -> str:
    points = torque_tool.calibration_points(_given_torque(row, "largest"))
    return " ".join(f"{float(amount_in(point, Dimension.TORQUE, 'N·m')):g}" for point in points)


def _resolution(row: Row) -> str:
    allowed = parse_quantity(row.inputs["allowed"], Dimension.RATIO)
    step, reading = _given_torque(row, "step"), _given_torque(row, "reading")
    return "fine" if torque_tool.is_resolution_fine_enough(step, reading, allowed) else "coarse"


def _percent(quantity: Quantity) -> Fraction:
    return amount_in(quantity, Dimension.RATIO, "%")


def _usable_low(row: Row) -> Fraction:
    usable = torque_tool.usable_range(_given_torque(row, "largest"), _torque(row, "mark"))
    return amount_in(usable.low, Dimension.TORQUE, "N·m")


SUMS: dict[str, Callable[[Row], object]] = {
    "permissible": lambda row: _percent(torque_tool.permissible_deviation(_given_torque(row, "largest"))),
    "check_points": _check_points,
    "usable_low": _usable_low,
    "due": _due,
    "resolution": _resolution,
    "deviation": lambda row: _percent(
        torque_tool.deviation(_given_torque(row, "setting"), _given_torque(row, "measured"))
    ),
    "setting": _setting,
    "at_fastener": _at_fastener,
    "castle": _castle,
    "castle_at_most": _castle_at_most,
    "run_on": lambda row: amount_in(
        torque_tool.add_run_on(_given_torque(row, "target"), _given_torque(row, "drag")), Dimension.TORQUE, "N·m"
    ),
    "range_fits": lambda row: (
        torque_tool.window_of(low=_torque(row, "low"), high=_torque(row, "high"))
        .place(_given_torque(row, "reading"))
        .value
    ),
}


@pytest.mark.parametrize("row", cases("torque_tools.csv"))
def test_torque_tool_agrees_with_its_source(row: Row) -> None:
    check(row, SUMS)
