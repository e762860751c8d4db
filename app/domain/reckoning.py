"""Limits a gate needs, worked out from one vehicle's figures: how strong stands, lift, jack and compressor have to be.

Every result comes with what it was made from and how sure it is, in words; a figure nobody has given is named instead,
and nothing is guessed in its place. The sums themselves are in `app.trade`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from app.domain.packet import Axle, Reckoned
from app.domain.records import AxleFacts, Shop, Vehicle
from app.trade import loads, spring
from app.trade.problems import OutOfRange, TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show

# House rule: stands are taken to stand no farther inboard than a quarter of the wheelbase; the gate measures it.
INBOARD_PARTS = 4


@dataclass(frozen=True, slots=True)
class Reckoning:
    """A computed limit in its dimension's small unit with the lines that explain it, or what is missing, in words."""

    dimension: Dimension
    value: int | None
    lines: tuple[Reckoned, ...] = ()
    needs: str = ""

    @property
    def text(self) -> str:
        """The limit as a person reads it, "" when it is not known."""
        if self.value is None:
            return ""
        unit, places = _SHOWN[self.dimension]
        return show(Quantity(self.dimension, self.value), unit, places)


_SHOWN: Mapping[Dimension, tuple[str, int]] = {
    Dimension.MASS: ("kg", 0),
    Dimension.LENGTH: ("mm", 0),
    Dimension.FORCE: ("N", 0),
    Dimension.ENERGY: ("J", 0),
    Dimension.DURATION: ("min", 0),
}


def reckon(name: str, vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """Work out a limit by its name in the gates file. For both axles the harder of the two counts.

    Raises: KeyError for a name the gates file may not hold.
    """
    worker = _WORKERS[name]
    if axle is not Axle.BOTH:
        return worker(vehicle, axle, shop)
    both = [worker(vehicle, one, shop) for one in (Axle.FRONT, Axle.REAR)]
    missing = next((one for one in both if one.value is None), None)
    if missing is not None:
        return missing
    hardest = min if name == "stand_inboard" else max
    return hardest(both, key=lambda one: one.value or 0)


# --- Stands, lift, jack -------------------------------------------------------------------------------------------


def stand_load(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """What a stand's label has to reach: the worst load on one stand, and the shop's margin.

    Source: moments about the other support (`loads.stand_load`); margin and inboard limit are house rules.
    """
    axles, needs = _axles(vehicle)
    if axles is None:
        return Reckoning(Dimension.MASS, None, needs=needs)
    inboard = Quantity(Dimension.LENGTH, axles.wheelbase.value // INBOARD_PARTS)
    try:
        heaviest = heaviest_stand(axles, axle, inboard)
    except OutOfRange:
        return Reckoning(
            Dimension.MASS,
            None,
            needs="stands nearer to the axle: so much weight lies over this axle that it could tip over them",
        )
    limit = _up(-(-heaviest.value * (100 + shop.stand_margin_percent) // 100))
    # Shown in whole millimetres downwards, as the gate asks for it: never more than the sum allows.
    shown = show(Quantity(Dimension.LENGTH, inboard.value // 1_000 * 1_000), "mm", 0)
    inputs = f"{_masses(axles)}; stands no more than {shown} in from the axle (measured below)"
    lines = (
        Reckoned("Load on one stand", show(heaviest, "kg", 0), inputs, "both sides taken as equal, body about level"),
        Reckoned(
            "What a stand has to bear by its label",
            show(Quantity(Dimension.MASS, limit), "kg", 0),
            f"the load and the shop's margin of {shop.stand_margin_percent} %",
        ),
    )
    return Reckoning(Dimension.MASS, limit, lines)


def heaviest_stand(axles: loads.AxleMasses, axle: Axle, inboard: Quantity) -> Quantity:
    """The load on one stand of this axle, whether only this end is up or both, stands set in from the axles.

    Raises: OutOfRange if the vehicle would tip over the line of the stands.
    """
    front_at = inboard
    rear_at = Quantity(Dimension.LENGTH, axles.wheelbase.value - inboard.value)
    both_up = loads.stand_load(axles, front_stands_at=front_at, rear_stands_at=rear_at)
    if axle is Axle.FRONT:
        one_up = loads.stand_load(axles, front_stands_at=front_at)
        found = (one_up.front_left, one_up.front_right, both_up.front_left, both_up.front_right)
    else:
        one_up = loads.stand_load(axles, rear_stands_at=rear_at)
        found = (one_up.rear_left, one_up.rear_right, both_up.rear_left, both_up.rear_right)
    return max((one for one in found if one is not None), key=lambda one: one.value)


def stand_inboard(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """How far in from the axle the stands may bear: what the sum of the stand's load took for granted."""
    if vehicle.wheelbase_um is None:
        return Reckoning(Dimension.LENGTH, None, needs=_WHEELBASE)
    # Down to a whole millimetre: the sum took no more for granted.
    return Reckoning(Dimension.LENGTH, vehicle.wheelbase_um // INBOARD_PARTS // 1_000 * 1_000)


def vehicle_mass(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """What the lift's plate has to reach: the whole vehicle."""
    front, rear = vehicle.front.mass_g, vehicle.rear.mass_g
    if front is None or rear is None:
        return Reckoning(Dimension.MASS, None, needs=_mass_of(Axle.FRONT if front is None else Axle.REAR))
    total = Quantity(Dimension.MASS, front + rear)
    inputs = f"front {_kg(front)}, rear {_kg(rear)}"
    return Reckoning(Dimension.MASS, _up(front + rear), (Reckoned("The whole vehicle", show(total, "kg", 0), inputs),))


def jack_load(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """What a jack has to bear while an arm, link, beam or axle is let down on it.

    Source: common practice, no source: no jack under an axle is asked for more than what stands on that axle.
    """
    mass = _facts(vehicle, axle).mass_g
    if mass is None:
        return Reckoning(Dimension.MASS, None, needs=_mass_of(axle))
    label = "The most a jack here can be asked for"
    return Reckoning(
        Dimension.MASS,
        _up(mass),
        (Reckoned(label, _kg(mass), f"all that stands on the {axle} axle", "more than it will be"),),
    )


# --- Springs ------------------------------------------------------------------------------------------------------


def spring_force(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """The most force the coil may hold at its ride-height length, where it is shortest while anyone is near it."""
    return _spring(vehicle, axle, shop, "force")


def spring_energy(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """The most energy the coil may hold at its ride-height length."""
    return _spring(vehicle, axle, shop, "energy")


def compressor_rating(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """What a compressor's rating has to reach: the most force, and the shop's margin."""
    return _spring(vehicle, axle, shop, "compressor")


def _spring(vehicle: Vehicle, axle: Axle, shop: Shop, wanted: str) -> Reckoning:
    dimension = Dimension.ENERGY if wanted == "energy" else Dimension.FORCE
    facts = _facts(vehicle, axle).spring
    given = (
        (facts.rate_npm, "the coil's rate"),
        (facts.free_length_um, "the coil's free length"),
        (facts.installed_um, "the coil's length at ride height"),
    )
    missing = next((words for value, words in given if value is None), None)
    if missing is not None:
        return Reckoning(dimension, None, needs=f"{missing}, {axle} axle")
    rate = Quantity(Dimension.RATE, facts.rate_npm or 0)
    free = Quantity(Dimension.LENGTH, facts.free_length_um or 0)
    installed = Quantity(Dimension.LENGTH, facts.installed_um or 0)
    margin = Quantity(Dimension.RATIO, 1_000_000 + shop.compressor_margin_percent * 10_000)
    try:
        held = spring.force_at_gate(rate, free_length=free, compressed_length=installed, margin=margin)
    except TradeProblem:
        needs = (
            f"coil figures that go together, {axle} axle: the length at ride height is not shorter than the free one"
        )
        return Reckoning(dimension, None, needs=needs)
    inputs = _spring_inputs(rate, free, installed, facts.source)
    certainty = (
        f"{held.certainty.grade}, within {show(held.certainty.spread, '%', 0)}{_assumed(held.certainty.assumed)}"
    )
    if wanted == "energy":
        lifting = show(held.lifting.mass, "kg", 0)
        text = f"{show(held.energy, 'J', 0)}, at most {show(held.energy_high, 'J', 0)}"
        line = Reckoned("Energy in the coil", f"{text}: it would lift {lifting} by one metre", inputs, certainty)
        return Reckoning(dimension, held.energy_high.value, (line,))
    text = f"{show(held.force, 'N', 0)}, at most {show(held.force_high, 'N', 0)}"
    force = Reckoned("Force of the coil at its ride-height length", text, inputs, certainty)
    if wanted == "force":
        return Reckoning(dimension, held.force_high.value, (force,))
    rating = _up(held.compressor_needs.value)
    needs_line = Reckoned(
        "What a compressor has to be rated for",
        show(Quantity(dimension, rating), "N", 0),
        f"the most force and the shop's margin of {shop.compressor_margin_percent} %",
        "wind it no shorter than the coil's length at ride height, or the force is more than this",
    )
    return Reckoning(dimension, rating, (force, needs_line))


def _spring_inputs(rate: Quantity, free: Quantity, installed: Quantity, source: str) -> str:
    figures = f"rate {show(rate, 'N/mm', 1)}, free {show(free, 'mm', 0)}, at ride height {show(installed, 'mm', 0)}"
    return f"{figures} ({source})" if source else figures


_ASSUMED_WORDS = {
    "rate_spread": "the spread of its rate",
    "length_within": "how closely the lengths were measured",
    "force_spread": "the spread of its force",
}


def _assumed(names: tuple[str, ...]) -> str:
    if not names:
        return ""
    return "; assumed: " + " and ".join(_ASSUMED_WORDS[name] for name in names)


# --- Waiting times ------------------------------------------------------------------------------------------------


def hv_wait(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """This vehicle's waiting time after isolating its high voltage: its maker's, never a general one."""
    return _wait(vehicle.hv_wait_s, "this vehicle's waiting time after isolating its high voltage, from its maker")


def airbag_wait(vehicle: Vehicle, axle: Axle, shop: Shop) -> Reckoning:
    """This vehicle's waiting time after the battery is off: its maker's, never a general one."""
    return _wait(vehicle.airbag_wait_s, "this vehicle's waiting time after the battery is off, from its maker")


def _wait(seconds: int | None, words: str) -> Reckoning:
    if seconds is None:
        return Reckoning(Dimension.DURATION, None, needs=words)
    value = Quantity(Dimension.DURATION, seconds * 1_000)
    unit = "min" if seconds % 60 == 0 else "s"
    line = Reckoned("Waiting time of this vehicle", show(value, unit, 0), "as its maker gives it")
    return Reckoning(Dimension.DURATION, value.value, (line,))


# --- Inside -------------------------------------------------------------------------------------------------------

_WHEELBASE = "the wheelbase"


def _facts(vehicle: Vehicle, axle: Axle) -> AxleFacts:
    return vehicle.front if axle is Axle.FRONT else vehicle.rear


def _mass_of(axle: Axle) -> str:
    return f"the mass on the {axle} axle"


def _kg(grams: int) -> str:
    return show(Quantity(Dimension.MASS, grams), "kg", 0)


def _axles(vehicle: Vehicle) -> tuple[loads.AxleMasses | None, str]:
    front, rear, base = vehicle.front.mass_g, vehicle.rear.mass_g, vehicle.wheelbase_um
    if front is None:
        return None, _mass_of(Axle.FRONT)
    if rear is None:
        return None, _mass_of(Axle.REAR)
    if base is None:
        return None, _WHEELBASE
    mass, length = Dimension.MASS, Dimension.LENGTH
    return loads.AxleMasses(Quantity(mass, front), Quantity(mass, rear), Quantity(length, base)), ""


def _masses(axles: loads.AxleMasses) -> str:
    front, rear = show(axles.front, "kg", 0), show(axles.rear, "kg", 0)
    return f"front {front}, rear {rear}, wheelbase {show(axles.wheelbase, 'mm', 0)}"


def _up(amount: int) -> int:
    """Up to a whole kilogram or newton, so that a label with just the figure shown is enough, and never less."""
    return -(-amount // 1_000) * 1_000


_WORKERS: Mapping[str, Callable[[Vehicle, Axle, Shop], Reckoning]] = {
    worker.__name__: worker
    for worker in (
        stand_load,
        stand_inboard,
        vehicle_mass,
        jack_load,
        spring_force,
        spring_energy,
        compressor_rating,
        hv_wait,
        airbag_wait,
    )
}
