"""From what is ticked on the intake form to an open job."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain.packet import Axle
from app.domain.problems import NotFound, Refused
from app.use_cases.take_in import BOTH_SIDES, IntakeTyped, Row, all_rows, rows_for, take_in
from tests.builders import DEE
from tests.offices import FRONT, VEHICLE, Workshop, an_office, the_book

JOINT = "front.ball_joint.lower"
FORM_ID = "01980000-0000-7000-8000-00000000000f"


def an_intake(sides: dict[str, tuple[str, ...]] | None = None, **fields: str) -> IntakeTyped:
    typed = {"complaint": "Clunks over bumps", "form_id": FORM_ID} | fields
    ticked = {f"{key}.sides": values for key, values in (sides or {JOINT: ("left",)}).items()}
    return IntakeTyped(VEHICLE.id, None, typed, ticked)


def refused(here: Workshop, typed: IntakeTyped) -> dict[str, str]:
    with pytest.raises(Refused) as caught:
        take_in(here.office, DEE.id, typed)
    assert not here.all("jobs")
    return {one.field: one.code for one in caught.value.problems}


def outcome(here: Workshop, typed: IntakeTyped) -> set[str]:
    """ "opened", or the codes of what is in the way."""
    try:
        take_in(here.office, DEE.id, typed)
    except Refused as refusal:
        return {problem.code for problem in refusal.problems}
    return {"opened"}


def row(key: str, rows: tuple[Row, ...]) -> Row:
    return next(one for one in rows if one.key == key)


def test_a_pair_becomes_one_line_for_each_side() -> None:
    here = an_office()

    job = take_in(here.office, DEE.id, an_intake({JOINT: (BOTH_SIDES,)}))

    assert [(one.procedure, one.axle, one.corner, one.options) for one in job.lines] == [
        ("ball_joint", Axle.FRONT, side, (("joint_position", "lower"),)) for side in ("left", "right")
    ]
    assert here.sheet(job).packet is not None


def test_a_form_sent_twice_opens_one_job() -> None:
    here = an_office()

    first = take_in(here.office, DEE.id, an_intake())
    second = take_in(here.office, DEE.id, an_intake())

    assert first == second
    assert len(here.all("jobs")) == 1


def test_the_same_form_with_other_words_is_not_mistaken_for_the_first() -> None:
    here = an_office()
    take_in(here.office, DEE.id, an_intake())

    with pytest.raises(Refused) as caught:
        take_in(here.office, DEE.id, an_intake(complaint="Pulls to the left"))

    assert [one.code for one in caught.value.problems] == ["id_taken"]
    assert len(here.all("jobs")) == 1


def test_missing_facts_are_asked_for_by_name_and_kept_once_the_job_is_open() -> None:
    here = an_office()
    unknown = tuple(pair for pair in FRONT.facts if pair[0] != "joint_fixing")
    here.save("vehicles", replace(VEHICLE, front=replace(FRONT, facts=unknown)))

    assert refused(here, an_intake()) == {"front.joint_fixing": "fact_missing"}
    assert refused(here, an_intake(complaint="", **{"front.joint_fixing": "riveted"})) == {
        "complaint": "complaint_missing"
    }
    assert dict(here.get("vehicles", VEHICLE.id).front.facts).get("joint_fixing") is None

    take_in(here.office, DEE.id, an_intake(**{"front.joint_fixing": "riveted"}))
    assert dict(here.get("vehicles", VEHICLE.id).front.facts)["joint_fixing"] == "riveted"


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"complaint": "  "}, {"complaint": "complaint_missing"}),
        ({"complaint": "x" * 1_001}, {"complaint": "too_long"}),
        ({"odometer_km": "-5"}, {"odometer_km": "odometer_odd"}),
        ({"odometer_km": "many"}, {"odometer_km": "odometer_odd"}),
        ({"odometer_km": "9999999"}, {"odometer_km": "odometer_odd"}),
        ({"odometer_km": "80 kg"}, {"odometer_km": "odometer_odd"}),
        ({"front.joint_stud": "glued"}, {"front.joint_stud": "fact_unknown"}),
    ],
)
def test_slips_on_the_form_are_told_and_nothing_is_opened(fields: dict[str, str], expected: dict[str, str]) -> None:
    assert refused(an_office(), an_intake(**fields)) == expected


def test_nothing_ticked_is_told() -> None:
    here = an_office()

    with pytest.raises(Refused) as caught:
        take_in(here.office, DEE.id, IntakeTyped(VEHICLE.id, None, {"complaint": "Clunks"}))

    assert [(one.field, one.code) for one in caught.value.problems] == [("lines", "lines_missing")]


def test_an_option_left_open_is_asked_for_at_its_own_field() -> None:
    found = refused(an_office(), an_intake({"front.shock_absorber": (BOTH_SIDES,)}))

    assert found["front.shock_absorber.unit"] == "option_missing"


@pytest.mark.parametrize(("typed", "km"), [("84 210", 84_210), ("84,210", 84_210), ("10 mi", 16), ("0", 0)])
def test_an_odometer_is_read_in_km_or_miles(typed: str, km: int) -> None:
    """One mile is 1609.344 m by definition (NIST SP 811, 2008, appendix B)."""
    assert take_in(an_office().office, DEE.id, an_intake(odometer_km=typed)).odometer_km == km


def test_an_option_that_is_not_asked_after_the_others_is_left_out() -> None:
    here = an_office()
    arm = {"work": "arm", "method": "lowering", "damper_on_arm": "no", "heat": "yes"}
    fields = {f"front.control_arm.lower.{name}": value for name, value in arm.items()}

    job = take_in(here.office, DEE.id, an_intake({"front.control_arm.lower": ("right",)}, **fields))

    assert "heat" not in dict(job.lines[0].options)
    assert dict(job.lines[0].options)["arm"] == "lower"


def test_what_does_not_apply_is_named_with_its_reason() -> None:
    rows = rows_for(the_book(), Axle.REAR, VEHICLE.rear)

    spring = row("rear.coil_spring", rows)

    assert spring.refusal is not None
    assert "leaf" in str(spring.refusal.details["says"])
    assert row("rear.inspection", rows).refusal is None


def test_every_row_offered_can_be_opened_or_asks_for_something_by_name() -> None:
    """What is offered and what can be compiled go by the same rules."""
    for one in all_rows(the_book(), VEHICLE):
        if one.refusal is not None:
            continue
        here = an_office()
        answers = {f"{one.key}.{name}": next(iter(option.choices)) for name, option in one.asked.items()}
        sides = {one.key: (one.sides[0] or "yes",)}
        assert outcome(here, an_intake(sides, **answers)) in ({"opened"}, {"fact_missing"}), one.key


def test_an_unknown_vehicle_is_not_found() -> None:
    with pytest.raises(NotFound):
        take_in(an_office().office, DEE.id, IntakeTyped("nobody", None, {}))
