"""Threads, loads and torques against ISO 898-1, SAE J429, VDI 2230 and textbook examples."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from app.trade import fastener
from app.trade.fastener import Thread
from app.trade.quantity import Dimension, Quantity
from app.trade.units import amount_in, parse_quantity
from tests.reference_checks.rows import Row, cases, check

IN2_PER_MM2 = 1 / 645.16
PSI_PER_MPA = 1e6 / 6894.757293168361


def _thread(row: Row) -> Thread:
    return Thread.parse(row.inputs["thread"])


def _ratio(text: str) -> Quantity:
    return parse_quantity(text, Dimension.RATIO)


def _force(row: Row) -> Quantity:
    return parse_quantity(row.inputs["preload"], Dimension.FORCE)


def _in(quantity: Quantity, unit: str) -> Fraction:
    return amount_in(quantity, quantity.dimension, unit)


def _inch_strength(row: Row) -> str:
    strength = fastener.strength_of(_thread(row), row.inputs["grade"])
    found = (strength.proof_mpa, strength.yield_mpa, strength.tensile_mpa)
    return " ".join(f"{mpa * PSI_PER_MPA / 1000:g}" for mpa in found)


def _clamp(row: Row) -> Fraction:
    proof = fastener.proof_load(_thread(row), row.inputs["grade"])
    return _in(proof, "lbf") * amount_in(_ratio(row.inputs["share"]), Dimension.RATIO, "1")


def _torque_short(row: Row) -> Fraction:
    torque = fastener.torque_from_preload(_force(row), _thread(row), _ratio(row.inputs["factor"]))
    return _in(torque, row.inputs["unit"])


def _torque_long(row: Row) -> Fraction:
    friction = _ratio(row.inputs["friction"])
    bearing = parse_quantity(row.inputs["bearing"], Dimension.LENGTH)
    torque = fastener.torque_long_form(_force(row), _thread(row), friction, friction, bearing)
    return _in(torque, row.inputs["unit"])


def _stretching(row: Row) -> tuple[Quantity, Thread, Quantity, Quantity]:
    length = parse_quantity(row.inputs["length"], Dimension.LENGTH)
    return _force(row), _thread(row), length, parse_quantity(row.inputs["modulus"], Dimension.PRESSURE)


def _joint_share(row: Row) -> Fraction:
    rates = (parse_quantity(row.inputs[name], Dimension.RATE) for name in ("bolt", "joint"))
    return _in(fastener.joint_share(*rates), "1")


def _stress(row: Row) -> Fraction:
    load = parse_quantity(row.inputs["load"], Dimension.FORCE)
    return _in(fastener.stress_in_bolt(load, _thread(row)), "ksi")


def _between(row: Row) -> str:
    """The printed range itself if our factor lies in it, so that a miss shows our figure."""
    low, high = map(Fraction, row.expected.split())
    ours = _in(fastener.nut_factor(row.inputs["condition"]), "1")
    return row.expected if low <= ours <= high else str(float(ours))


def _vdi_preload(row: Row) -> Quantity:
    friction, nine_tenths = _ratio(row.inputs["friction"]), _ratio("0.9")
    return fastener.assembly_preload(_thread(row), row.inputs["class"], friction, nine_tenths)


def _vdi_torque(row: Row, preload: Quantity) -> Fraction:
    friction = _ratio(row.inputs["friction"])
    bearing = parse_quantity(row.inputs["bearing"], Dimension.LENGTH)
    return _in(fastener.torque_by_vdi(preload, _thread(row), friction, friction, bearing), "N·m")


SUMS: dict[str, Callable[[Row], object]] = {
    "stress_area": lambda row: fastener.stress_area(_thread(row)).mm2,
    "stress_area_in2": lambda row: fastener.stress_area(_thread(row)).mm2 * IN2_PER_MM2,
    "proof_load": lambda row: _in(fastener.proof_load(_thread(row), row.inputs["class"]), "N"),
    "proof_load_lbf": lambda row: _in(fastener.proof_load(_thread(row), row.inputs["class"]), "lbf"),
    "ultimate_load": lambda row: _in(fastener.ultimate_load(_thread(row), row.inputs["class"]), "N"),
    "inch_strength": _inch_strength,
    "clamp_lbf": _clamp,
    "torque_short": _torque_short,
    "torque_long": _torque_long,
    "stretch_in": lambda row: _in(fastener.stretch(*_stretching(row)), "in"),
    "turn_angle": lambda row: _in(fastener.turn_angle(*_stretching(row)), "°"),
    "joint_share": _joint_share,
    "stress_ksi": _stress,
    "nut_factor": lambda row: _in(fastener.nut_factor(row.inputs["condition"]), "1"),
    "nut_factor_between": _between,
    "vdi_preload": lambda row: _in(_vdi_preload(row), "kN"),
    "vdi_torque": lambda row: _vdi_torque(row, _force(row)),
    "vdi_both": lambda row: _vdi_torque(row, _vdi_preload(row)),
}


@pytest.mark.parametrize("row", cases("fasteners.csv"))
def test_fastener_agrees_with_its_source(row: Row) -> None:
    check(row, SUMS)
