"""What the people of the demo read off gauges and labels, as they would type it. Invented, but of the usual size.

Keyed by the value's own name; "opening:NAME" and the like where it differs before and after the work. `None`: the field
is left empty, as its own words allow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Found:
    """What a test shows, where all is not well."""

    choice: str
    verdict: str
    reason: str


# By the step's id on the sheet; the inspections are of a job's first line.
INSPECTED: Mapping[str, Found] = {
    "l1.complaint": Found("clunk", "sound", "Clunks at walking pace over the ramp, left front"),
    "l1.complaint_when": Found("parking", "sound", ""),
    "l1.complaint_where": Found("front_left", "sound", ""),
    "l1.complaint_changes": Found("cold_wet", "sound", ""),
    "l1.tyre_wear.left": Found("inner_edge", "watch", "2.4 mm inside, 5.8 mm outside: look at alignment first"),
    "l1.bounce.left": Found("swings_on", "replace", "Swings on three times; the right side stops at once"),
    "l1.joint_boot.right": Found("split", "replace", "Boot split, grease on the knuckle"),
    "l1.joint_noise.left": Found("creak", "watch", "Creaks at full lock, no play felt yet"),
}

READINGS: dict[str, str | None] = {
    # Heights, ground to the stated point: low at the front left before, even after.
    "opening:front_left": "643 mm", "front_left": "656 mm", "height_front_left": "643 mm",
    "opening:front_right": "657 mm", "front_right": "658 mm", "height_front_right": "657 mm",
    "rear_left": "668 mm", "height_rear_left": "668 mm", "rear_right": "667 mm", "height_rear_right": "667 mm",
    "height_stated": "655 mm", "bar_height": "656 mm",
    "level_left": "352 mm", "level_right": "351 mm",
    # Alignment: the left front wheel leans in and toes out before, even after.
    "opening:camber_left": "-1.35 °", "camber_left": "-0.85 °", "camber_right": "-0.8 °",
    "opening:toe_left": "-0.22 °", "toe_left": "0.08 °", "opening:toe_right": "0.05 °", "toe_right": "0.07 °",
    "opening:caster_left": "3.4 °", "caster_left": "4.1 °", "caster_right": "4.2 °",
    "opening:toe_total": "-0.17 °", "toe_total": "0.15 °", "opening:camber_cross": "-0.55 °", "camber_cross": "-0.05 °",
    "opening:caster_cross": "-0.8 °", "caster_cross": "-0.1 °",
    "opening:steering_wheel": "-3.5 °", "steering_wheel": "0 °",
    # Tyres and wheels
    "pressure_found": "195 kPa", "pressure_placard": "2.3 bar", "pressure_set": "230 kPa",
    "tread_inner": "2.4 mm", "tread_middle": "5.6 mm", "tread_outer": "5.8 mm", "rim_play": None,
    # Steering, joints, dampers
    "odometer_out": "84210 km", "odometer_back": "84218 km",
    "free_play": "12 mm", "free_play_limit": "30 mm",
    "load_axial": "0.4 mm", "load_axial_limit": "1.2 mm", "load_radial": "0.3 mm", "load_radial_limit": "0.8 mm",
    "follower_radial": "0 mm", "follower_axial": "0 mm", "follower_limit": None,
    "swings": "1",
    # Old part against new
    "old_diameter": "18.2 mm", "new_diameter": "18.2 mm", "old_length": "61.5 mm", "new_length": "61.5 mm",
    "sealed_changed:old_length": "548 mm", "sealed_changed:new_length": "549 mm",
    "old_open": "612 mm", "new_open": "614 mm", "old_link": "284 mm", "new_link": "284 mm",
    "old_free": "338 mm", "new_free": "346 mm", "old_wire": "13 mm", "new_wire": "13 mm",
    # Torsion bars, shims, cams, bushings
    "thread_out": "34 mm", "bolt_before": "34 mm", "bolt_after": "34 mm", "bar_bolt_final": "33.5 mm",
    "turns": "11", "turns_out": "11", "turns_in": "11",
    "front_count": "3", "front_pack": "4.5 mm", "rear_count": "2", "rear_pack": "3 mm",
    "front_cam": "12.4 mm", "rear_cam": "11.8 mm",
    "front_stands_out": "6 mm", "rear_stands_out": "6.2 mm", "bore_one": "42.02 mm", "bore_two": "42.04 mm",
    "shaft_front": "18.5 mm", "shaft_rear": "18.3 mm", "watched": "35 min",
    "left_reading": None, "right_reading": None,
}  # fmt: skip

# Where a value has no line above: something of its kind. A test sees that no job of the demo falls back on these.
USUAL = {
    "length": "12 mm", "mass": "25 kg", "force": "400 N", "torque": "40 N·m", "pressure": "230 kPa", "angle": "0.5 °",
    "duration": "15 min", "ratio": "3",
}  # fmt: skip

# What is on labels and plates, and how long somebody waited: by the gate's question.
LABELS = {
    "label": "3000 kg", "inboard": "220 mm", "plate": "3500 kg", "compressor": "18 kN", "jack_rating": "2500 kg",
    "waited": "15 min", "watch": "35 min",
}  # fmt: skip


def is_listed(step: str, measure: str) -> bool:
    return any(key in READINGS for key in _keys(step, measure))


def reading_for(step: str, measure: str, dimension: str = "length") -> str | None:
    """What is typed for this value of this step (by the step's id on the sheet); `None` leaves it empty."""
    key = next((key for key in _keys(step, measure) if key in READINGS), None)
    return READINGS[key] if key is not None else USUAL[dimension]


def _keys(step: str, measure: str) -> tuple[str, ...]:
    """Closest first: the step's own key, then its line's, then the value alone ("opening.ride_height" has two)."""
    parts = step.split(".")
    return (*(f"{part}:{measure}" for part in reversed(parts)), measure)
