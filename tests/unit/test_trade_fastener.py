"""Fasteners: what a bolt bears, what torque means, and the questions a mistyped figure raises."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.trade import fastener
from app.trade.fastener import METRIC_CLASSES, QuestionKind, Spec, Thread, question
from app.trade.problems import InputMissing, NotUnderstood, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import Dimension, Quantity
from app.trade.units import parse_quantity, quantity_of

THREADS = st.sampled_from(["M6", "M8", "M10", "M12x1.25", "M14x1.5", "M16", "M20", "3/8-16", "1/2-20", "3/4-10"]).map(
    Thread.parse
)
FACTORS = st.integers(100_000, 300_000).map(lambda ppm: Quantity(Dimension.RATIO, ppm))
FORCES = st.integers(1_000_000, 300_000_000).map(lambda mn: Quantity(Dimension.FORCE, mn))
MU = Quantity(Dimension.RATIO, 120_000)


def _torque(text: str) -> Quantity:
    return parse_quantity(text, Dimension.TORQUE)


def _asked(text: str, thread: str = "M10", strength: str = "8.8", **more: object) -> list[str]:
    spec = Spec(_torque(text), Thread.parse(thread) if thread else None, strength, **more)  # type: ignore[arg-type]
    return [each.code for each in question(spec)]


@pytest.mark.parametrize(
    ("text", "name", "diameter_mm", "pitch_mm"),
    [
        ("M12", "M12", Fraction(12), Fraction("1.75")),
        ("m 12 × 1,25", "M12x1.25", Fraction(12), Fraction("1.25")),
        ("M12x1.75", "M12", Fraction(12), Fraction("1.75")),
        ("M10-1.25", "M10x1.25", Fraction(10), Fraction("1.25")),
        ("1/2-13", "1/2-13", Fraction("12.7"), Fraction(254, 130)),
        ("1/2 unf", "1/2-20", Fraction("12.7"), Fraction(254, 200)),
        ('1/2"-20 UNF', "1/2-20", Fraction("12.7"), Fraction(254, 200)),
        ("½-13", "1/2-13", Fraction("12.7"), Fraction(254, 130)),
        ("1 1/8-12", "1 1/8-12", Fraction("28.575"), Fraction(254, 120)),
        ("1-8", "1-8", Fraction("25.4"), Fraction(254, 80)),
    ],
)
def test_threads_are_read_as_people_write_them(text: str, name: str, diameter_mm: Fraction, pitch_mm: Fraction) -> None:
    thread = Thread.parse(text)

    assert (thread.name, thread.diameter_mm, thread.pitch_mm) == (name, diameter_mm, pitch_mm)
    assert thread.diameter == Quantity(Dimension.LENGTH, round(diameter_mm * 1000))
    assert thread.pitch == Quantity(Dimension.LENGTH, round(pitch_mm * 1000))


@pytest.mark.parametrize(
    ("text", "problem", "reason"),
    [
        ("", InputMissing, None),
        ("wheel nut", NotUnderstood, "thread"),
        ("M11", NotUnderstood, "pitch"),
        ("3/8", NotUnderstood, "pitch"),
        ("1/0-20", NotUnderstood, "fraction"),
        ("M" + "1" * 40, NotUnderstood, "thread"),
        ("M12x5", OutOfRange, None),
        ("M90x4", OutOfRange, None),
        ("M12x0", OutOfRange, None),
        ("1/8-40", OutOfRange, None),
    ],
)
def test_what_is_no_thread_is_refused(text: str, problem: type[TradeProblem], reason: str | None) -> None:
    with pytest.raises(problem) as caught:
        Thread.parse(text)

    assert caught.value.argument == "thread"
    assert caught.value.details.get("reason") == reason


def test_class_8_8_changes_its_proof_stress_above_16_mm() -> None:
    assert fastener.strength_of(Thread.parse("M16"), "8.8").proof_mpa == 580
    assert fastener.strength_of(Thread.parse("M18"), "class 8.8").proof_mpa == 600


@pytest.mark.parametrize(
    ("thread", "strength", "problem"),
    [
        ("M10", "", InputMissing),
        ("M10", "5", NotUnderstood),
        ("1/2-13", "8.8", NotUnderstood),
        ("M10", "14.9", NotUnderstood),
        ("M20", "9.8", OutOfRange),
        ("M42x3", "8.8", OutOfRange),
    ],
)
def test_a_class_that_is_not_made_in_this_thread_is_refused(
    thread: str, strength: str, problem: type[TradeProblem]
) -> None:
    with pytest.raises(problem) as caught:
        fastener.proof_load(Thread.parse(thread), strength)

    assert caught.value.argument == "strength_class"


def test_other_dimensions_are_refused_by_name() -> None:
    thread, length = Thread.parse("M10"), quantity_of(10, Dimension.LENGTH, "mm")
    factor, force = fastener.nut_factor("dry"), quantity_of(30, Dimension.FORCE, "kN")
    modulus = quantity_of(206_000, Dimension.PRESSURE, "MPa")
    for argument, call in (
        ("preload", lambda: fastener.torque_from_preload(length, thread, factor)),
        ("factor", lambda: fastener.torque_from_preload(force, thread, length)),
        ("torque", lambda: fastener.preload_from_torque(force, thread, factor)),
        ("thread_friction", lambda: fastener.torque_by_vdi(force, thread, length, MU, length)),
        ("bearing_friction", lambda: fastener.torque_long_form(force, thread, MU, length, length)),
        ("bearing_diameter", lambda: fastener.torque_long_form(force, thread, MU, MU, MU)),
        ("length", lambda: fastener.turn_angle(force, thread, force, modulus)),
        ("modulus", lambda: fastener.stretch(force, thread, length, length)),
        ("load", lambda: fastener.stress_in_bolt(length, thread)),
        ("bolt_rate", lambda: fastener.joint_share(length, length)),
        ("utilisation", lambda: fastener.assembly_preload(thread, "8.8", MU, length)),
        ("torque", lambda: question(Spec(length, thread, "8.8"))),
    ):
        with pytest.raises(WrongDimension) as caught:
            call()
        assert caught.value.argument == argument


def test_impossible_amounts_are_refused() -> None:
    thread, force = Thread.parse("M10"), quantity_of(30, Dimension.FORCE, "kN")
    for call in (
        lambda: fastener.torque_from_preload(quantity_of(-1, Dimension.FORCE, "kN"), thread, MU),
        lambda: fastener.torque_from_preload(force, thread, Quantity(Dimension.RATIO, 0)),
        lambda: fastener.torque_from_preload(force, thread, Quantity(Dimension.RATIO, 900_000)),
        lambda: fastener.torque_by_vdi(force, thread, Quantity(Dimension.RATIO, 1), MU, thread.diameter),
        lambda: fastener.torque_by_vdi(force, thread, MU, MU, Quantity(Dimension.LENGTH, 0)),
        lambda: fastener.assembly_preload(thread, "8.8", MU, Quantity(Dimension.RATIO, 1_100_000)),
        lambda: question(Spec(Quantity(Dimension.TORQUE, 0), thread, "8.8")),
    ):
        with pytest.raises(OutOfRange):
            call()
    with pytest.raises(NotUnderstood):
        fastener.nut_factor("buttered")
    with pytest.raises(InputMissing):
        fastener.nut_factor(" ")


def test_a_usual_torque_raises_no_question() -> None:
    for text in ("49 Nm", "36 lb-ft", "5 kgf-m"):
        assert _asked(text) == []
    assert _asked("110 Nm", "M12x1.25", "10.9") == []
    assert _asked("75 ft-lb", "1/2-13", "5") == []


def test_a_number_that_fits_in_another_unit_is_asked_about() -> None:
    spec = Spec(_torque("81 Nm"), Thread.parse("M12x1.25"), "10.9")

    (asked,) = question(spec)

    assert (asked.code, asked.kind) == ("perhaps_other_unit", QuestionKind.DOUBT)
    assert (asked.details["typed"], asked.details["perhaps"]) == ("81 N·m", "lbf·ft")
    assert asked.sentence.endswith("Which unit does the source print?")
    assert "perhaps_other_unit" in _asked("49 lb-ft")
    assert "perhaps_other_unit" in _asked("5 Nm")
    assert "perhaps_other_unit" in _asked("450 Nm", "M10", "8.8")


def test_a_torque_beyond_what_the_bolt_bears_is_asked_about() -> None:
    spec = Spec(_torque("81 lb-ft"), Thread.parse("M10"), "8.8")

    (asked,) = question(spec)

    assert asked.code == "beyond_proof"
    assert asked.details["is_assumed"] == "yes"
    assert "dry thread (assumed: nobody said)" in asked.sentence
    assert _asked("81 lb-ft", condition="lubricated") == ["beyond_proof"]


def test_a_condition_that_was_said_is_not_called_assumed() -> None:
    (asked,) = question(Spec(_torque("81 lb-ft"), Thread.parse("M10"), "8.8", condition="anti_seize"))

    assert asked.details["is_assumed"] == "no"
    assert "assumed" not in asked.sentence


def test_a_torque_to_yield_bolt_may_go_beyond_proof() -> None:
    assert _asked("75 Nm", is_yield_tightened=False) == ["beyond_proof"]
    assert _asked("75 Nm", is_yield_tightened=True) == []


def test_a_torque_far_below_is_asked_about_with_the_honest_reason_it_may_be_right() -> None:
    (asked,) = question(Spec(_torque("8 Nm"), Thread.parse("M10"), "8.8"))

    assert asked.code == "far_below"
    assert "rubber" in asked.sentence


def test_what_could_not_be_compared_is_said() -> None:
    assert _asked("49 Nm", thread="") == ["thread_unknown"]
    assert _asked("49 Nm", strength="") == ["strength_unknown"]
    assert question(Spec(_torque("49 Nm")))[0].kind is QuestionKind.GAP


def test_without_a_class_the_strongest_bolt_is_the_measure() -> None:
    """A 2000 N·m ball joint: no bolt of that thread bears it, whatever its class."""
    assert _asked("2000 Nm", "M14x1.5", "") == ["beyond_any_bolt"]


def test_no_question_ever_proposes_a_torque() -> None:
    """A proposed figure is a guessed one. The only torque named besides the typed one is where the bolt gives way."""
    for text in ("49 Nm", "49 lb-ft", "8 Nm", "5 Nm", "2000 Nm"):
        for asked in question(Spec(_torque(text), Thread.parse("M10"), "8.8")):
            named = asked.sentence.count("N·m") + asked.sentence.count("lbf·ft")
            assert named <= 2
            assert "usual" not in asked.details


@given(FORCES, THREADS, FACTORS)
def test_torque_and_preload_undo_each_other(force: Quantity, thread: Thread, factor: Quantity) -> None:
    """To the small unit of the torque between them: half a mN·m over K·d."""
    back = fastener.preload_from_torque(fastener.torque_from_preload(force, thread, factor), thread, factor)
    step = 0.5 / (factor.si * float(thread.diameter_mm) / 1000)

    assert abs(back.value - force.value) <= step + 1


@given(FORCES, FORCES, THREADS, FACTORS)
def test_more_preload_needs_more_torque_and_turn(
    one: Quantity, other: Quantity, thread: Thread, factor: Quantity
) -> None:
    low, high = sorted((one, other), key=lambda force: force.value)
    length, modulus = quantity_of(50, Dimension.LENGTH, "mm"), quantity_of(206_000, Dimension.PRESSURE, "MPa")
    bearing = thread.diameter

    for sum_of in (
        lambda force: fastener.torque_from_preload(force, thread, factor),
        lambda force: fastener.torque_long_form(force, thread, MU, MU, bearing),
        lambda force: fastener.torque_by_vdi(force, thread, MU, MU, bearing),
        lambda force: fastener.turn_angle(force, thread, length, modulus),
        lambda force: fastener.stress_in_bolt(force, thread),
    ):
        assert sum_of(low).value <= sum_of(high).value


@given(THREADS, st.integers(50_000, 300_000), st.integers(50_000, 300_000))
def test_more_friction_needs_more_torque_and_leaves_less_preload(thread: Thread, one: int, other: int) -> None:
    assume(one != other)
    slippery, rough = (Quantity(Dimension.RATIO, ppm) for ppm in sorted((one, other)))
    force, strength = quantity_of(20, Dimension.FORCE, "kN"), "5" if thread.is_inch else "8.8"
    nine_tenths = Quantity(Dimension.RATIO, 900_000)

    less = fastener.torque_by_vdi(force, thread, slippery, slippery, thread.diameter)
    more = fastener.torque_by_vdi(force, thread, rough, rough, thread.diameter)

    assert less.value <= more.value
    assert (
        fastener.assembly_preload(thread, strength, slippery, nine_tenths).value
        >= fastener.assembly_preload(thread, strength, rough, nine_tenths).value
    )


@given(st.sampled_from(["M6", "M8", "M10", "M12", "M16"]).map(Thread.parse), st.sampled_from(METRIC_CLASSES))
def test_proof_yield_and_ultimate_load_rise_in_that_order(thread: Thread, strength: str) -> None:
    proof = fastener.proof_load(thread, strength).value

    assert proof < fastener.yield_load(thread, strength).value < fastener.ultimate_load(thread, strength).value


@given(THREADS, st.integers(1, 5_000_000))
def test_any_torque_is_questioned_without_failing(thread: Thread, value: int) -> None:
    spec = Spec(Quantity(Dimension.TORQUE, value), thread, "8" if thread.is_inch else "10.9")

    for asked in question(spec):
        assert asked.sentence.endswith((".", "?"))
        assert asked.kind is QuestionKind.DOUBT


@given(st.text(max_size=40))
def test_any_text_gives_a_thread_or_a_typed_problem(text: str) -> None:
    try:
        thread = Thread.parse(text)
    except TradeProblem:
        return
    assert thread.pitch_mm > 0


@pytest.mark.parametrize(("is_kept", "asks"), [(True, True), (False, False), (None, False)])
def test_a_bolt_turned_on_after_its_torque_and_fitted_again_is_asked_about(is_kept: bool | None, asks: bool) -> None:
    """Common practice, no source: torque-to-yield parts are new every time. Where nobody said, nothing is asked."""
    assert ("turned_and_kept" in _asked("50 N·m", "", is_yield_tightened=True, is_kept=is_kept)) is asks
    assert "turned_and_kept" not in _asked("50 N·m", "", is_kept=is_kept)
