"""Quantities for tests, from plain SI numbers (angles in degrees)."""

from __future__ import annotations

from app.trade.quantity import Dimension, Quantity, from_si


def length(metres: float) -> Quantity:
    return from_si(Dimension.LENGTH, metres)


def mm(millimetres: float) -> Quantity:
    return from_si(Dimension.LENGTH, millimetres / 1000)


def mass(kilograms: float) -> Quantity:
    return from_si(Dimension.MASS, kilograms)


def force(newtons: float) -> Quantity:
    return from_si(Dimension.FORCE, newtons)


def rate(newtons_per_metre: float) -> Quantity:
    return from_si(Dimension.RATE, newtons_per_metre)


def energy(joules: float) -> Quantity:
    return from_si(Dimension.ENERGY, joules)


def pressure(pascals: float) -> Quantity:
    return from_si(Dimension.PRESSURE, pascals)


def angle(degrees: float) -> Quantity:
    return from_si(Dimension.ANGLE, degrees)


def frequency(hertz: float) -> Quantity:
    return from_si(Dimension.FREQUENCY, hertz)


def speed(metres_per_second: float) -> Quantity:
    return from_si(Dimension.SPEED, metres_per_second)


def ratio(number: float) -> Quantity:
    return from_si(Dimension.RATIO, number)
