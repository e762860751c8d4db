"""Conditions and texts of procedures as a person reads them outside any job: every key in words, no brace left."""

from __future__ import annotations

from collections.abc import Mapping

from app.domain.conditions import All, AnyOf, Condition, Is, Not
from app.domain.grounds import fill
from app.domain.offering import neutral_words
from app.domain.procedure import Book
from app.domain.procedure_schema import Procedure
from app.language.procedures import said
from app.language.speech import N_, _

# What follows from an axle's layout, the line and the job. Facts and options have their words in the files.
_KEYS: Mapping[str, str] = {
    "kind": N_("the wheels are guided by"),
    "spring_on": N_("the spring bears on"),
    "spring_kind": N_("the spring is"),
    "load_joint": N_("the joint that carries the load is"),
    "joints": N_("the axle has a ball joint that is"),
    "stands_under": N_("it is held for work"),
    "axle": N_("it is on the"),
    "joint_is": N_("the joint is a"),
    "high_voltage": N_("the vehicle has high voltage"),
    "layout": N_("the axle is"),
    "inspected": N_("an inspection is on this job"),
    "late_work": N_("something is left to do with the weight on the wheels"),
}
_VALUES: Mapping[str, Mapping[str, str]] = {
    "kind": {
        "arms": N_("upper and lower arms"),
        "strut": N_("a strut"),
        "solid": N_("a solid axle"),
        "beam": N_("a twist beam"),
        "multilink": N_("several links"),
        "air": N_("an air spring"),
    },
    "spring_on": {
        "lower_arm": N_("the lower arm"),
        "upper_arm": N_("the upper arm"),
        "strut": N_("the strut"),
        "axle": N_("the axle"),
        "beam": N_("the beam"),
        "link": N_("a lower link"),
    },
    "spring_kind": {
        "coil": N_("a coil"),
        "torsion_bar": N_("a torsion bar"),
        "leaf": N_("a leaf spring"),
        "air": N_("an air spring"),
    },
    "load_joint": {"none": N_("none"), "axle": N_("the axle's own"), "link_outer": N_("the link's outer one")},
    "joint_is": {"load": N_("load joint"), "follower": N_("follower")},
    "stands_under": {
        "stands_frame": N_("on stands under the frame"),
        "stands_arm": N_("on stands under the arms"),
        "stands_axle": N_("on stands under the axle"),
    },
    "axle": {"front": N_("front axle"), "rear": N_("rear axle"), "both": N_("both axles")},
}
_YES_NO = {"yes": N_("yes"), "no": N_("no")}

_OUTSIDE_A_JOB: Mapping[str, str] = {
    "layout_name": N_("this axle"),
    "joint_stand_words": N_("where this layout's joints are felt"),
    "work_stand_words": N_("as this layout is held for work"),
    "arm_stand_words": N_("Where this layout's arm bears"),
    "spring_release_words": N_("this layout's way of taking the spring's force off"),
    "joint_is_words": "",
    "load_joint_word": N_("load"),
    "follower_joint_word": N_("follower"),
    "retorque_km": N_("the workshop's own number of"),
    "axle": N_("this"),
}


def text_words(text: str, procedure: Procedure | None) -> str:
    """A text of the files with its blanks in general words."""
    words = {key: said(one) for key, one in neutral_words(procedure, {}).items()} if procedure is not None else {}
    words |= {key: _(one) if one else "" for key, one in _OUTSIDE_A_JOB.items()}
    words |= {"axle_word": said("this"), "side": said("each side"), "corner_word": said("each side")}
    return " ".join(fill(text, words).split())


def condition_words(book: Book, procedure: Procedure | None, condition: Condition | None) -> str:
    """A condition as a clause: "the spring is a coil, and not: …". "" for none."""
    if condition is None:
        return ""
    if isinstance(condition, Is):
        return _is_words(book, procedure, condition)
    if isinstance(condition, Not):
        inner = condition_words(book, procedure, condition.part)
        return _("not: {inner}", inner=inner) if isinstance(condition.part, Is) else _("not ({inner})", inner=inner)
    joint = _("; and ") if isinstance(condition, All) else _("; or ")
    parts = [condition_words(book, procedure, part) for part in condition.parts]
    both = [
        f"({text})" if isinstance(part, All | AnyOf) else text
        for part, text in zip(condition.parts, parts, strict=True)
    ]
    return joint.join(both)


def _is_words(book: Book, procedure: Procedure | None, one: Is) -> str:
    option = procedure.options.get(one.key) if procedure is not None else None
    if option is not None:
        return _("chosen for “{ask}”: {choices}", ask=_plain(option.ask), choices=_either(one, option.choices))
    fact = book.facts.get(one.key)
    if fact is not None:
        return f"“{_plain(fact.ask)}” {_either(one, fact.choices)}"
    if one.key == "layout":
        names = {key: layout.name for key, layout in book.layouts.items()}
        return f"{_(_KEYS['layout'])}: {_either(one, names)}"
    if one.key in ("high_voltage", "inspected", "late_work"):
        return f"{_(_KEYS[one.key])}: {_either(one, _YES_NO)}"
    return f"{_(_KEYS.get(one.key, one.key.replace('_', ' ')))} {_either(one, _VALUES.get(one.key, {}))}"


def _either(one: Is, words: Mapping[str, str]) -> str:
    return _(" or ").join(said(_(words.get(value, value.replace("_", " ")))) for value in one.values)


def _plain(text: str) -> str:
    return " ".join(text.split())
