"""Conditions have three answers: yes, no, and not known until somebody says."""

from __future__ import annotations

import pytest

from app.domain.conditions import Subject, Truth, judge, read_condition

KNOWN = Subject({"layout": ("strut",), "joints": (), "stabiliser": ("yes", "no")}, frozenset({"stabiliser"}))


@pytest.mark.parametrize(
    ("raw", "value", "missing"),
    [
        ({"layout": ["strut"]}, True, ()),
        ({"layout": "strut"}, True, ()),
        ({"layout": ["solid_leaf"]}, False, ()),
        ({"joints": ["upper"]}, False, ()),
        ({"joint_fixing": ["riveted"]}, None, ("joint_fixing",)),
        ({"not": {"joint_fixing": ["riveted"]}}, None, ("joint_fixing",)),
        ({"not": {"layout": ["strut"]}}, False, ()),
        ({"all": [{"layout": ["solid_leaf"]}, {"joint_fixing": ["riveted"]}]}, False, ()),
        ({"all": [{"layout": ["strut"]}, {"joint_fixing": ["riveted"]}]}, None, ("joint_fixing",)),
        ({"any": [{"layout": ["strut"]}, {"joint_fixing": ["riveted"]}]}, True, ()),
        ({"any": [{"layout": ["solid_leaf"]}, {"joint_fixing": ["riveted"]}]}, None, ("joint_fixing",)),
        ({"any": [{"a": ["x"]}, {"b": ["x"]}]}, None, ("a", "b")),
        ({"layout": ["strut"], "joint_fixing": ["riveted"]}, None, ("joint_fixing",)),
        ({"stabiliser": ["yes"]}, True, ()),
        ({"stabiliser": ["maybe"]}, None, ("stabiliser",)),
    ],
)
def test_a_fact_nobody_gave_is_unknown_unless_the_rest_settles_it(
    raw: object, value: bool | None, missing: tuple[str, ...]
) -> None:
    assert judge(read_condition(raw), KNOWN) == Truth(value, frozenset(missing))


def test_no_condition_always_holds() -> None:
    assert judge(None, KNOWN).value is True


@pytest.mark.parametrize(
    "raw", [{}, [], "strut", {"all": []}, {"any": {}}, {"layout": []}, {"layout": [1]}, {"not": []}]
)
def test_what_is_no_condition_is_refused_with_a_sentence(raw: object) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        read_condition(raw)
