"""Keep what a tablet proved of itself, and say it in words for the Desk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.domain.problems import NotFound, Problem, Refused
from app.domain.readiness import POINTS, ReadinessCheck, ReadinessPoint
from app.use_cases.office import Office

LONGEST = 400


def keep_readiness(office: Office, tablet: str, points: Sequence[ReadinessPoint]) -> ReadinessCheck:
    """Put this look in the place of the last one.

    That the office takes it is itself the proof of the credential, so that point is the office's to give.
    Raises: NotFound for a tablet that is unknown or not in use any more; Refused for points that are none.
    """
    keys = [one.key for one in points]
    if len(set(keys)) != len(keys) or not set(keys) <= set(POINTS) or any(len(one.words) > LONGEST for one in points):
        raise Refused([Problem("readiness_unreadable", "points")])
    given = {one.key: one for one in points} | {"credential": ReadinessPoint("credential", True, "")}
    with office.store.writing() as unit:
        known = unit.tablets.get(tablet)
        if known is None or known.retired:
            raise NotFound("tablet", tablet)
        check = ReadinessCheck(tablet, tablet, office.clock(), tuple(given[key] for key in POINTS if key in given))
        if unit.readiness.get(tablet) is None:
            unit.readiness.add(check)
        else:
            unit.readiness.save(check)
        unit.tablets.save(replace(known, seen_at=office.clock()))
        unit.commit()
    return check
