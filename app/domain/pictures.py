"""Every drawing that the sheet of a packet can ask for, made beforehand: a tablet looks drawings up and makes none.

What a drawing shows follows from the step in hand and from how the vehicle is held, and both have few values. Parts
that drawings have in common are kept once.
"""

from __future__ import annotations

from typing import Any

from app.domain.canonical import canonical
from app.domain.drawing import NUTS, Asked, Word, picture_of, star_order
from app.domain.packet import Axle, Packet, Reckoned, Step, Support
from app.domain.sheet import SupportNow
from app.domain.standing import WHOLE_VEHICLE

# The states in which a stand carries anything: on the lift its load is nobody's.
ON_STANDS = (str(Support.STANDS_FRAME), str(Support.STANDS_ARM), str(Support.STANDS_AXLE))


def pictures_for(packet: Packet, word: Word) -> dict[str, Any]:
    """The pictures of a packet as they travel beside it.

    parts: what pictures are made of, each once. by_key: picture_key -> name -> the part's place in `parts`.
    stars: the orders for wheel nuts.
    """
    held = [SupportNow(state, axle) for state in Support for axle in Axle]
    asked = {asked_for(packet, step, now) for step in (None, *packet.steps) for now in held}
    parts: dict[bytes, int] = {}
    kept: list[Any] = []

    def place_of(part: Any) -> int:
        place = parts.setdefault(canonical(part), len(kept))
        if place == len(kept):
            kept.append(part)
        return place

    by_key = {
        picture_key(one): {name: place_of(part) for name, part in picture_of(one, word).items()}
        for one in sorted(asked, key=picture_key)
    }
    return {"parts": kept, "by_key": by_key, "stars": stars(word)}


def words_of_pictures(pictures: dict[str, Any], others: dict[str, Any]) -> dict[str, str]:
    """What the same pictures made in another language say, by the first one's words: where they differ."""
    said: dict[str, str] = {}
    for key, names in pictures["by_key"].items():
        for name, place in names.items():
            _pair(pictures["parts"][place], others["parts"][others["by_key"][key][name]], said)
    _pair(pictures["stars"], others["stars"], said)
    return dict(sorted(said.items()))


def _pair(one: Any, other: Any, said: dict[str, str]) -> None:
    if isinstance(one, str):
        if one != other:
            said[one] = other
    elif isinstance(one, dict):
        for key, value in one.items():
            _pair(value, other[key], said)
    elif isinstance(one, (list, tuple)):
        for value, its in zip(one, other, strict=True):
            _pair(value, its, said)


def picture_key(asked: Asked) -> str:
    """What tells the pictures of one packet apart: an axle has one layout in it."""
    whole = "both" if asked.both_axles else "one"
    return f"{asked.axle} {whole} {asked.corner or '-'} {asked.support} {asked.load}"


def picture_at(pictures: dict[str, Any], asked: Asked) -> dict[str, Any]:
    """A picture put together again from its parts; one that is not there is not shown."""
    found = pictures["by_key"].get(picture_key(asked))
    if found is None:
        return {"shown": False}
    return {name: pictures["parts"][place] for name, place in found.items()}


def asked_for(packet: Packet, step: Step | None, now: SupportNow) -> Asked:
    """What is to be drawn beside this step. Without a step the work is on the whole vehicle."""
    axle = step.axle if step is not None else Axle.BOTH
    drawn = str(Axle.REAR if axle is Axle.REAR else Axle.FRONT)
    layout = packet.layouts.get(drawn, "")
    support = str(now.state if is_held_here(now, drawn) else Support.ON_WHEELS)
    loads = loads_on_stands(packet, step, support)
    return Asked(
        layout=layout,
        place=packet.layouts.get(f"{drawn}_place", "") if layout == "air" else layout,
        axle=drawn,
        both_axles=axle is Axle.BOTH,
        corner=step.corner if step is not None else "",
        support=support,
        load=loads[0].text if loads else "",
    )


def is_held_here(now: SupportNow, drawn: str) -> bool:
    """Whether what holds the vehicle holds this axle."""
    return now.state in WHOLE_VEHICLE or now.axle in (Axle.BOTH, drawn)


def loads_on_stands(packet: Packet, step: Step | None, support: str) -> list[Reckoned]:
    """What the step's gate reckons that its stands carry, where it stands on any."""
    if step is None or support not in ON_STANDS:
        return []
    gates = (packet.gate_by_id[gate_id] for gate_id in step.gates)
    return [one for gate in gates if gate.key == "stands" for one in gate.reckoned]


def has_wheel_nuts(step: Step) -> bool:
    """Whether wheel nuts are drawn up here. How many a wheel has is no fact of the vehicle: every order is shown."""
    return any(one.figure_key == "wheel_nuts" for one in step.fasteners)


def stars(word: Word) -> list[dict[str, Any]]:
    """The orders to draw wheel nuts up in."""
    return [star_order(count, word) for count in NUTS]
