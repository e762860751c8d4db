"""What is known of one axle: its layout, what follows from that, its facts, and the words for them.

Conditions are judged against what this module gives. Which lines an axle may have is `offering`; steps are `compiling`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.domain.conditions import Subject
from app.domain.packet import Axle
from app.domain.problems import OursToMend
from app.domain.procedure import Book
from app.domain.procedure_schema import Layout
from app.domain.records import AxleFacts, Vehicle


class BookFault(OursToMend):
    """Procedures that cannot be put together although each reads well: a final pass that is missing, or there twice."""


@dataclass(frozen=True, slots=True)
class Ground:
    """An axle's layout, and the one it stands in for where an air spring takes another's place (else the same)."""

    own: Layout
    place: Layout


def ground_of(book: Book, facts: AxleFacts) -> Ground | None:
    """The layouts of an axle, or None when an air spring's place is not said.

    Raises: KeyError for a layout the book does not have.
    """
    own = book.layouts[facts.layout]
    if own.spring_on != "as_place":
        return Ground(own, own)
    place = book.layouts.get(facts.place)
    if place is None or place.spring_on == "as_place":
        return None
    return Ground(own, place)


def axle_subject(book: Book, facts: AxleFacts) -> Subject:
    """What conditions may ask of one axle: its layout, what follows from that, and its facts.

    Raises: KeyError for a layout the book does not have; BookFault when an air spring's place is not said.
    """
    ground = ground_of(book, facts)
    if ground is None:
        raise BookFault(f"the place of the {facts.layout} is not said")
    own, place = ground.own, ground.place
    supports = (*place.joint_support, *place.work_support)
    known: dict[str, tuple[str, ...]] = {
        "layout": distinct((facts.layout, facts.place or facts.layout)),
        "kind": distinct((own.kind, place.kind)),
        "spring_on": (place.spring_on,),
        "spring_kind": (own.spring_kind,),
        "load_joint": (place.load_joint,),
        "joints": place.joints,
        "stands_under": distinct(str(state) for state in supports if state.startswith("stands")),
    }
    known |= {key: (value,) for key, value in facts.facts if key in book.facts and value}
    return Subject(known)


def joint_is(ground: Ground, position: str) -> str:
    """Whether a ball joint carries the spring's force here.

    On a solid axle the weight goes through the knuckle's joints whichever they are, so both count as load joints; of a
    multilink axle the load joint is the outer one of the link with the spring, its lower joint.
    """
    carries = {"axle": ("lower", "upper"), "link_outer": ("lower",)}.get(ground.place.load_joint)
    return "load" if position in (carries or (ground.place.load_joint,)) else "follower"


JOINT_IS_WORDS = {
    "load": "On this axle this joint carries the spring's force: the arm has to be carried first.",
    "follower": "Here it is a follower: the spring's force goes past it, but with it open the knuckle is free to drop.",
}


def distinct(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(values))


def merged_subject(book: Book, parts: Sequence[Subject]) -> Subject:
    keys = {key for part in parts for key in part.known}
    known = {key: distinct(v for part in parts for v in part.known.get(key, ())) for key in sorted(keys)}
    doubtful = frozenset(key for key in keys if key in book.facts and any(key not in part.known for part in parts))
    return Subject(known, doubtful)


def facts_of(vehicle: Vehicle, axle: Axle) -> AxleFacts:
    return vehicle.front if axle is Axle.FRONT else vehicle.rear


def fill(text: str, words: Mapping[str, str]) -> str:
    return text.format_map(words) if "{" in text or "}" in text else text


def for_each(said: Iterable[tuple[Axle, str]]) -> str:
    """One text where both axles have the same, else each with its axle."""
    by_axle = dict(said)
    texts = distinct(by_axle.values())
    if len(texts) <= 1:
        return texts[0] if texts else ""
    return "; ".join(f"{axle} axle: {text}" for axle, text in by_axle.items())


LAYOUT_WORDS: Mapping[str, Callable[[Ground], str]] = {
    "layout_name": lambda ground: ground.own.name if ground.own is ground.place else _air_name(ground),
    "joint_stand_words": lambda ground: ground.place.joint_stand_words,
    "work_stand_words": lambda ground: ground.place.work_stand_words,
    "arm_stand_words": lambda ground: ground.place.arm_stand_words,
    "spring_release_words": lambda ground: ground.own.spring_release_words,
    "load_joint_word": lambda ground: _joint_word(ground, "load"),
    "follower_joint_word": lambda ground: _joint_word(ground, "follower"),
}


def _joint_word(ground: Ground, wanted: str) -> str:
    return " and ".join(one for one in ground.place.joints if joint_is(ground, one) == wanted)


def _air_name(ground: Ground) -> str:
    return f"{ground.own.name} in place of: {ground.place.name[:1].lower()}{ground.place.name[1:]}"
