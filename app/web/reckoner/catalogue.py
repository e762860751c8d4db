"""Every sum there is, in the order of the list."""

from __future__ import annotations

from app.web.reckoner import bolts, dampers, heights, prices, springs, vehicle, weights
from app.web.reckoner.sums import Group, Sum

GROUPS = (
    Group("Units, tyres, the vehicle's number", vehicle.SUMS),
    Group("Bolts", bolts.SUMS),
    Group("Torque wrenches and nuts", bolts.WRENCH_SUMS),
    Group("Springs", springs.SUMS),
    Group("Dampers and ride", dampers.SUMS),
    Group("Weight and stands", weights.SUMS),
    Group("Height and joints", heights.SUMS),
    Group("Wheel angles and shims", heights.ANGLE_SUMS),
    Group("Price", prices.SUMS),
)
SUMS: dict[str, Sum] = {one.slug: one for group in GROUPS for one in group.sums}
