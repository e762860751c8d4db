"""Conditions and texts of procedures as a person reads them outside any job: every key in words, no brace left."""

from __future__ import annotations

from collections.abc import Mapping

from app.domain.conditions import All, AnyOf, Condition, Is, Not
from app.domain.grounds import fill
from app.domain.offering import neutral_words
from app.domain.procedure import Book
from app.domain.procedure_schema import Procedure

# What follows from an axle's layout, the line and the job. Facts and options have their words in the files.
_KEYS: Mapping[str, str] = {
    "kind": "the wheels are guided by",
    "spring_on": "the spring bears on",
    "spring_kind": "the spring is",
    "load_joint": "the joint that carries the load is",
    "joints": "the axle has a ball joint that is",
    "stands_under": "it is held for work",
    "axle": "it is on the",
    "joint_is": "the joint is a",
    "high_voltage": "the vehicle has high voltage",
    "layout": "the axle is",
    "inspected": "an inspection is on this job",
    "late_work": "something is left to do with the weight on the wheels",
}
_VALUES: Mapping[str, Mapping[str, str]] = {
    "kind": {
        "arms": "upper and lower arms",
        "strut": "a strut",
        "solid": "a solid axle",
        "beam": "a twist beam",
        "multilink": "several links",
        "air": "an air spring",
    },
    "spring_on": {
        "lower_arm": "the lower arm",
        "upper_arm": "the upper arm",
        "strut": "the strut",
        "axle": "the axle",
        "beam": "the beam",
        "link": "a lower link",
    },
    "spring_kind": {"coil": "a coil", "torsion_bar": "a torsion bar", "leaf": "a leaf spring", "air": "an air spring"},
    "load_joint": {"none": "none", "axle": "the axle's own", "link_outer": "the link's outer one"},
    "joint_is": {"load": "load joint", "follower": "follower"},
    "stands_under": {
        "stands_frame": "on stands under the frame",
        "stands_arm": "on stands under the arms",
        "stands_axle": "on stands under the axle",
    },
    "axle": {"front": "front axle", "rear": "rear axle", "both": "both axles"},
}
_YES_NO = {"yes": "yes", "no": "no"}

_OUTSIDE_A_JOB: Mapping[str, str] = {
    "layout_name": "this axle",
    "joint_stand_words": "where this layout's joints are felt",
    "work_stand_words": "as this layout is held for work",
    "arm_stand_words": "Where this layout's arm bears",
    "spring_release_words": "this layout's way of taking the spring's force off",
    "joint_is_words": "",
    "load_joint_word": "load",
    "follower_joint_word": "follower",
    "retorque_km": "the workshop's own number of",
    "axle": "this",
}


def text_words(text: str, procedure: Procedure | None) -> str:
    """A text of the files with its blanks in general words."""
    words = {**(neutral_words(procedure, {}) if procedure is not None else {}), **_OUTSIDE_A_JOB}
    words |= {"axle_word": "this", "side": "each side", "corner_word": "each side"}
    return " ".join(fill(text, words).split())


def condition_words(book: Book, procedure: Procedure | None, condition: Condition | None) -> str:
    """A condition as a clause: "the spring is a coil, and not: …". "" for none."""
    if condition is None:
        return ""
    if isinstance(condition, Is):
        return _is_words(book, procedure, condition)
    if isinstance(condition, Not):
        inner = condition_words(book, procedure, condition.part)
        return f"not: {inner}" if isinstance(condition.part, Is) else f"not ({inner})"
    joint = "; and " if isinstance(condition, All) else "; or "
    parts = [condition_words(book, procedure, part) for part in condition.parts]
    both = [
        f"({text})" if isinstance(part, All | AnyOf) else text
        for part, text in zip(condition.parts, parts, strict=True)
    ]
    return joint.join(both)


def _is_words(book: Book, procedure: Procedure | None, one: Is) -> str:
    option = procedure.options.get(one.key) if procedure is not None else None
    if option is not None:
        return f"chosen for “{_plain(option.ask)}”: {_either(one, option.choices)}"
    fact = book.facts.get(one.key)
    if fact is not None:
        return f"“{_plain(fact.ask)}” {_either(one, fact.choices)}"
    if one.key == "layout":
        names = {key: layout.name for key, layout in book.layouts.items()}
        return f"{_KEYS['layout']}: {_either(one, names)}"
    if one.key in ("high_voltage", "inspected", "late_work"):
        return f"{_KEYS[one.key]}: {_either(one, _YES_NO)}"
    return f"{_KEYS.get(one.key, one.key.replace('_', ' '))} {_either(one, _VALUES.get(one.key, {}))}"


def _either(one: Is, words: Mapping[str, str]) -> str:
    return " or ".join(words.get(value, value.replace("_", " ")) for value in one.values)


def _plain(text: str) -> str:
    return " ".join(text.split())
