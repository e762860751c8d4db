"""Sums about bolts, torque wrenches and nuts. None of them proposes a torque."""

from __future__ import annotations

from app.language.speech import _
from app.trade import fastener, torque_tool
from app.trade.problems import InputMissing
from app.trade.quantity import Dimension, Quantity, from_si
from app.trade.units import show
from app.web.reckoner.sums import Day, Example, Given, Line, Pick, Result, Rows, Sign, Sum, Whole, Word, amount
from app.web.reckoner.wording import degrees, mdeg, number, percent, signed, worded

T, L, A, F, R, P = (
    Dimension.TORQUE,
    Dimension.LENGTH,
    Dimension.ANGLE,
    Dimension.FORCE,
    Dimension.RATIO,
    Dimension.PRESSURE,
)

NEVER_A_TORQUE = (
    "No sum gives the torque of a joint. Only the vehicle maker's figure counts; this is for doubting a figure "
    "that looks "
    "wrong."
)
_CONDITIONS = (
    ("dry", "dry, as delivered"),
    ("zinc", "zinc plated, dry"),
    ("lubricated", "oiled"),
    ("cadmium", "cadmium plated"),
    ("anti_seize", "with anti-seize"),
    ("black_dry", "black, dry"),
)
_THREAD = Word(name="thread", label="Thread", example="M12x1.25", hint="M12, M12x1.25, 1/2-20, 1/2 UNF")
_CLASS = Word(
    name="strength_class", label="Strength class or grade", example="10.9", hint="8.8, 10.9, 12.9; grade 5, 8"
)


def _area(thread: fastener.Thread) -> str:
    mm2 = fastener.stress_area(thread).mm2
    return (
        _("{mm2} mm² ({what} in²)", mm2=f"{mm2:.3g}", what=f"{mm2 / 645.16:.4f}")
        if mm2 < 100
        else _("{mm2} mm² ({what} in²)", mm2=f"{mm2:.0f}", what=f"{mm2 / 645.16:.3f}")
    )


def _bolt(given: Given) -> Result:
    thread = fastener.Thread.parse(given.text("thread"))
    lines = [
        Line(
            _("Stress area"),
            _area(thread),
            _("{name}, pitch {show}", name=thread.name, show=show(thread.pitch, "mm", 3)),
        )
    ]
    if not given.has("strength_class"):
        return Result(tuple(lines), (_("Fill in the strength class from the bolt's head for the loads."),))
    grade = given.text("strength_class")
    loads = (
        (_("Proof load"), fastener.proof_load(thread, grade), _("bears it without lasting stretch")),
        (_("Yields at"), fastener.yield_load(thread, grade), _("0.2 % lasting stretch")),
        (_("May break at"), fastener.ultimate_load(thread, grade), _("the least it has to bear")),
    )
    lines += [Line(label, worded(load), note) for label, load, note in loads]
    return Result(tuple(lines))


BOLT = Sum(
    slug="bolt",
    title="Bolt: area and loads",
    asks="What does this bolt bear?",
    inputs=(
        _THREAD,
        Word(
            name="strength_class",
            label="Strength class or grade",
            example="10.9",
            optional=True,
            hint="8.8, 10.9, 12.9 metric; 5, 8 inch",
        ),
    ),
    reckon=_bolt,
    formula=(
        "As = π/4 · ((d₂ + d₃)/2)²   with d₂ = d − 0.6495 P, d₃ = d − 1.2269 P",
        "proof load = proof stress of the class · As",
    ),
    valid="Steel bolts at room temperature: metric M3 to M39 by ISO 898-1, inch 1/4 to 1 1/2 by SAE J429. Studs "
    "of aluminium "
    "or into aluminium bear less.",
    sources=("ISO 898-1 (areas, proof loads) as printed by bolt makers", "SAE J429 as printed by bolt makers"),
    picture="bolt",
    example=Example(
        {"thread": "M12", "strength_class": "10.9"},
        "70000 N proof load",
        "EN ISO 898-1 proof loads as printed by a bolt maker",
    ),
)


def _factor(given: Given) -> tuple[Quantity, str]:
    if (typed := given.maybe("factor")) is not None:
        return typed, _("as typed")
    if given.has("condition"):
        return fastener.nut_factor(given.text("condition")), _("usual for that condition, ±30 % in practice")
    raise InputMissing("condition", "needs the condition of the thread or a nut factor", reason="condition_or_factor")


def _preload(given: Given) -> Result:
    thread = fastener.Thread.parse(given.text("thread"))
    factor, whence = _factor(given)
    torque, preload = given.maybe("torque"), given.maybe("preload")
    if torque is None and preload is None:
        raise InputMissing("torque", "needs a torque or a preload", reason="torque_or_preload")
    lines = []
    if torque is not None:
        pull = fastener.preload_from_torque(torque, thread, factor)
        lines.append(Line(_("Preload"), worded(pull, preload), _("from {show}", show=show(torque))))
        lines += _share_of_proof(pull, thread, given)
    if preload is not None:
        made = fastener.torque_from_preload(preload, thread, factor)
        lines.append(Line(_("Torque for that preload"), worded(made, torque), _("from {show}", show=show(preload))))
    lines.append(Line(_("Nut factor K"), number(factor, 2), whence))
    return Result(tuple(lines), (_("Two honest tables differ by a sixth for the same bolt: take it as a guide."),))


def _share_of_proof(pull: Quantity, thread: fastener.Thread, given: Given) -> list[Line]:
    if not given.has("strength_class"):
        return []
    proof = fastener.proof_load(thread, given.text("strength_class"))
    share = from_si(R, pull.si / proof.si)
    beyond = _("beyond it: the bolt would stretch for good") if share.value > 1_000_000 else ""
    return [Line(_("Part of the proof load"), percent(share, 0), beyond)]


PRELOAD = Sum(
    slug="preload",
    title="Torque and preload",
    asks="How hard does this torque pull the bolt, or what torque goes with a pull?",
    inputs=(
        _THREAD,
        Pick(name="condition", label="Thread is", optional=True, options=_CONDITIONS),
        amount(
            "factor", "Nut factor", R, "1", "0.2", "K", optional=True, hint="In place of the condition, if you know it."
        ),
        amount("torque", "Torque", T, "N·m", "110 N·m", "T", optional=True),
        amount("preload", "Preload", F, "N", "40 kN", "F", optional=True),
        Word(
            name="strength_class",
            label="Strength class or grade",
            example="10.9",
            optional=True,
            hint="To see the part of the proof load.",
        ),
    ),
    reckon=_preload,
    formula=("T = K · F · d",),
    valid="A guide, ±30 % in practice. Not for nuts with a self-locking ring, for joints with rubber in them, "
    "or for bolts "
    "that are turned by an angle.",
    sources=(
        "Wentzell, Machine Design, example 6.1 p. 120 (formula)",
        "Nut factors: Shigley, Mechanical Engineering Design, table 8-15 (from memory); 0.15 and 0.20 read at "
        "mechanical-design-handbook.blogspot.com",
    ),
    picture="bolt",
    cautions=(NEVER_A_TORQUE,),
    example=Example(
        {"thread": "M12", "factor": "0.20", "preload": "34.23 kN"},
        "82.1 N·m",
        "the formula by hand, at 70 % of 580 MPa on 84.3 mm²",
    ),
)


def _question(given: Given) -> Result:
    thread = fastener.Thread.parse(given.text("thread")) if given.has("thread") else None
    spec = fastener.Spec(
        given.amount("torque"),
        thread,
        given.text("strength_class"),
        given.text("condition"),
        given.text("yield") == "yes",
    )
    asked = fastener.question(spec)
    if not asked:
        said = _("Nothing speaks against it. That does not make it right: compare it with its source.")
        return Result((Line(_("Questions"), "none", _("beside what such a bolt usually gets and bears")),), (said,))
    count = (
        f"{len(asked)}" if any(one.kind is fastener.QuestionKind.DOUBT for one in asked) else _("could not be compared")
    )
    return Result((Line(_("Questions"), count),), tuple(one.sentence for one in asked))


QUESTION = Sum(
    slug="torque-question",
    title="A torque that looks wrong",
    asks="Does this torque fit its bolt, or was it mistyped?",
    inputs=(
        amount("torque", "Torque as printed or typed", T, "N·m", "110 N·m", "T"),
        Word(name="thread", label="Thread", example="M12x1.25", optional=True),
        Word(name="strength_class", label="Strength class or grade", example="10.9", optional=True),
        Pick(name="condition", label="Thread is", optional=True, options=_CONDITIONS),
        Pick(
            name="yield",
            label="Tightened into yield (torque, then an angle)?",
            optional=True,
            options=(("no", "no"), ("yes", "yes")),
        ),
    ),
    reckon=_question,
    formula=(
        "T at proof load = K · proof stress · As · d",
        "asked if T is above it, far below the usual, or far off but usual in another unit",
    ),
    valid="Finds slips of the pen and of the unit. An answer without a question is no proof that the figure is right.",
    sources=(
        "ISO 898-1 and SAE J429 (proof loads)",
        "T = K·F·d: Wentzell, Machine Design, p. 120",
        "75 % of the proof load as usual, 35 % as little: house rule; Shigley eq. 8-31 (from memory)",
    ),
    picture="bolt",
    cautions=(NEVER_A_TORQUE,),
    example=Example(
        {"torque": "44 lbf·ft", "thread": "3/8-16", "strength_class": "8", "condition": "dry"},
        "44 lbf·ft for this bolt, dry: nothing to ask",
        "engineersedge.com/hardware/torque_vs_tension_bolts_13355.htm",
    ),
)


def _turn(given: Given) -> Result:
    thread = fastener.Thread.parse(given.text("thread"))
    facts = given.amount("preload"), thread, given.amount("length"), given.amount("modulus")
    return Result(
        (
            Line(_("Turn from snug"), show(fastener.turn_angle(*facts), "°", 1), _("the bolt's stretch alone")),
            Line(_("The bolt stretches by"), worded(fastener.stretch(*facts), given.amount("length"))),
        )
    )


TURN = Sum(
    slug="turn-angle",
    title="Turn and stretch",
    asks="How far does a bolt turn to stretch to a preload?",
    inputs=(
        _THREAD,
        amount("preload", "Preload", F, "N", "40 kN", "F", sign=Sign.NOT_NEGATIVE),
        amount("length", "Length under load", L, "mm", "60 mm", "L"),
        amount(
            "modulus", "Modulus of the bolt", P, "GPa", "206 GPa", "E", hint="About 206 GPa (30 000 ksi) for steel."
        ),
    ),
    reckon=_turn,
    formula=("stretch = F · L / (As · E)", "turn = 360° · stretch / P"),
    valid="The bolt alone. The parts it clamps give too, so the real turn is larger; the maker's angle always wins.",
    sources=("Wentzell, Machine Design, examples 6.2 and 6.3, p. 121",),
    picture="bolt",
    cautions=(NEVER_A_TORQUE,),
    example=Example(
        {"thread": "3/4-10", "preload": "24131.5 lbf", "length": "5 in", "modulus": "30000 ksi"},
        "0.01204 in of stretch",
        "Wentzell, Machine Design, example 6.2 p. 121",
    ),
)


# -----------------------------------------------------------------------------------------------------------
# The wrench


def _setting(given: Given) -> Result:
    target, arm = given.amount("target"), given.amount("wrench_length")
    extension, angle = given.amount("extension"), given.maybe("angle") or Quantity(A, 0, "°")
    setting = torque_tool.setting_with_extension(target, arm, extension, angle)
    lines = [
        Line(
            _("Set the wrench to"), worded(setting, target, 1), _("so that the fastener gets {show}", show=show(target))
        )
    ]
    if (reading := given.maybe("setting")) is not None:
        there = torque_tool.torque_at_fastener(reading, arm, extension, angle)
        lines.append(
            Line(
                _("The fastener gets"), worded(there, reading, 1), _("when the wrench shows {show}", show=show(reading))
            )
        )
    said = (_("Hold the wrench in the middle of the grip: the sum takes its length to there."),)
    return Result(tuple(lines), said, drawing=_wrench_drawing(arm, extension, angle))


def _wrench_drawing(arm: Quantity, extension: Quantity, angle: Quantity) -> dict[str, str | int]:
    """Lengths to one scale, so that the longer of both fits the picture."""
    whole = max(arm.value + extension.value, 1)
    return {
        "arm": max(60, round(300 * arm.value / whole)),
        "extension": max(24, round(300 * extension.value / whole)),
        "angle": mdeg(angle),
    }


SETTING = Sum(
    slug="wrench-setting",
    title="Wrench with an extension",
    asks="What do I set the wrench to with an extension on it?",
    inputs=(
        amount("target", "Torque the fastener has to get", T, "N·m", "80 N·m", "T", sign=Sign.POSITIVE),
        amount("wrench_length", "Wrench, square drive to middle of grip", L, "mm", "400 mm", "L"),
        amount("extension", "Extension, square drive to fastener", L, "mm", "50 mm", "E", sign=Sign.NOT_NEGATIVE),
        amount(
            "angle",
            "Angle of the extension to the wrench",
            A,
            "°",
            "45°",
            "α",
            sign=Sign.ANY,
            assumed="0°, in line with the wrench",
        ),
        amount(
            "setting",
            "Reading of the wrench",
            T,
            "N·m",
            "70 N·m",
            optional=True,
            hint="The other way round: what a reading gives at the fastener.",
        ),
    ),
    reckon=_setting,
    formula=("setting = T · L / (L + E · cos α)",),
    valid="α from −180° to 180°: 0° in line and forward, 90° square to the wrench (nothing changes), 180° "
    "turned back. A "
    "straight bar on the axis of the drive is no extension in this sense.",
    sources=(
        "Statics; a torque multiplier's manual M199 p. 7 and engineersedge.com/manufacturing_spec/torque_wrench_2.htm",
        "Some pages state the angle the wrong way round",
    ),
    picture="wrench",
    drawing={"arm": 240, "extension": 60, "angle": 45},
    example=Example(
        {"target": "80 N·m", "wrench_length": "400 mm", "extension": "50 mm", "angle": "45°"},
        "73.50 N·m",
        "the formula of a torque wrench manual, worked by hand",
    ),
)


def _window(given: Given) -> Result:
    window = torque_tool.window_of(
        given.maybe("target"),
        low=given.maybe("low"),
        high=given.maybe("high"),
        tolerance=given.maybe("tolerance"),
        tolerance_below=given.maybe("tolerance_below"),
    )
    like = given.maybe("target") or given.maybe("low")
    lines = [
        Line(_("From"), worded(window.low, like, 1)),
        Line(_("To"), worded(window.high, like, 1)),
        Line(
            _("Aim for"), worded(window.aim, like, 1), "" if window.target else _("the middle of a range printed alone")
        ),
    ]
    drawing: dict[str, str | int] = {
        "tick": 0,
        "reading": "",
        "low": show(window.low, _unit(like), 1),
        "high": show(window.high, _unit(like), 1),
    }
    if (reading := given.maybe("reading")) is not None:
        words = {"below": _("below the window"), "within": _("within the window"), "above": _("above the window")}
        lines.insert(0, Line(_("The reading is"), words[window.place(reading)], show(reading)))
        drawing |= {"tick": _tick(window, reading), "reading": show(reading)}
    return Result(tuple(lines), drawing=drawing)


def _unit(like: Quantity | None) -> str:
    return like.unit if like is not None and like.unit else "N·m"


def _tick(window: torque_tool.Window, reading: Quantity) -> int:
    """Where the reading's tick stands: the band is drawn from 130 to 350."""
    width = max(1, window.high.value - window.low.value)
    return min(430, max(50, 130 + round(220 * (reading.value - window.low.value) / width)))


_TORQUE_OR_ANGLE = (A,)
WINDOW = Sum(
    slug="torque-window",
    title="Window of a torque",
    asks="From where to where does a reading count?",
    inputs=(
        amount("target", "Target", T, "N·m", "110 N·m", optional=True, also=_TORQUE_OR_ANGLE),
        amount(
            "tolerance",
            "Tolerance",
            R,
            "%",
            "4 %",
            optional=True,
            also=(T, A),
            sign=Sign.NOT_NEGATIVE,
            hint="A part (4 %) or an amount (5 N·m), as the source or the shop sets it.",
        ),
        amount(
            "tolerance_below",
            "Tolerance below, where it differs",
            R,
            "%",
            "2 %",
            optional=True,
            also=(T, A),
            sign=Sign.NOT_NEGATIVE,
        ),
        amount("low", "Low end of a printed range", T, "N·m", "100 N·m", optional=True, also=_TORQUE_OR_ANGLE),
        amount("high", "High end of a printed range", T, "N·m", "120 N·m", optional=True, also=_TORQUE_OR_ANGLE),
        amount("reading", "Reading", T, "N·m", "108 N·m", optional=True, also=_TORQUE_OR_ANGLE),
    ),
    reckon=_window,
    formula=("from target · (1 − tolerance) to target · (1 + tolerance)", "a printed range stands as it is printed"),
    valid="Both ends count as within. Nothing is taken for a tolerance that nobody gave: the source prints it "
    "or the shop "
    "sets it.",
    sources=("House rule; a printed range is its own window",),
    picture="window",
    drawing={"tick": 0, "reading": "", "low": "low", "high": "high"},
    example=Example(
        {"low": "50 lbf·in", "high": "70 lbf·in", "reading": "100 lbf·in"},
        "above",
        "an aircraft table of nut torques: range 50 to 70, most allowed 100 lbf·in",
    ),
)

_TYPES = tuple((kind.value, f"type {kind.value}") for kind in torque_tool.ToolType)


def _deviation(given: Given) -> Result:
    pairs = [(row.amount("setting"), row.amount("measured")) for row in given.rows("readings")]
    largest = given.amount("largest")
    kind = torque_tool.ToolType(given.text("tool_type")) if given.has("tool_type") else torque_tool.ToolType.TYPE_II_A
    verdict = torque_tool.judge_calibration(pairs, largest, kind)
    allowed = percent(verdict.allowed, 0)
    lines = [
        Line(
            _("Reading {number_of}", number_of=number_of),
            signed(found, percent(found, 2)),
            _promise(found, verdict.allowed),
        )
        for number_of, found in enumerate(verdict.deviations, start=1)
    ]
    lines.append(Line(_("Allowed either way"), f"±{allowed}"))
    points = torque_tool.calibration_points(largest)
    lines.append(
        Line(_("Check it at"), ", ".join(show(point, largest.unit, 0) for point in points), "20, 60 and 100 %")
    )
    said = (
        _("All readings lie within what the standard allows.")
        if verdict.passes
        else _(
            "At least one reading lies outside. The wrench is not to be used until it is set right and checked again."
        )
    )
    return Result(tuple(lines), (said,))


def _promise(found: Quantity, allowed: Quantity) -> str:
    inside = "within" if abs(found.value) <= allowed.value else "outside"
    if found.value > 0:
        return _("{inside}; it promises more than it gives, the joint gets too little", inside=inside)
    return (
        _("{inside}; it gives more than it promises", inside=inside)
        if found.value < 0
        else _("{inside}; exact", inside=inside)
    )


DEVIATION = Sum(
    slug="wrench-deviation",
    title="Deviation of a wrench",
    asks="Is this wrench true?",
    inputs=(
        amount("largest", "Largest torque of the wrench", T, "N·m", "200 N·m"),
        Pick(
            name="tool_type",
            label="Type by ISO 6789",
            optional=True,
            options=_TYPES,
            assumed="type II A: adjustable with a scale, lets go at the torque",
        ),
        Rows(
            name="readings",
            label="Readings on the tester",
            row="Reading",
            at_most=6,
            at_least=1,
            columns=(
                amount("setting", "set", T, "N·m", "100 N·m"),
                amount("measured", "measured", T, "N·m", "97 N·m"),
            ),
        ),
    ),
    reckon=_deviation,
    formula=("deviation = (set − measured) / measured",),
    valid="Hand torque tools. Plus: the wrench promises more than it gives. 4 % above 10 N·m for the usual "
    "types, 6 % up to "
    "10 N·m and for some types.",
    sources=(
        "ISO 6789:2003, clause 6.5; ISO 6789-1:2017, clauses 5.1.5 and 7 (sign from memory)",
        "A tool maker's manual (limits, check points)",
    ),
    picture="window",
    drawing={"tick": 0, "reading": "", "low": "−4 %", "high": "+4 %"},
    example=Example(
        {"largest": "200 N·m", "readings-1-setting": "100 N·m", "readings-1-measured": "97 N·m"},
        "+3.09 %",
        "ISO 6789 by hand: (100 − 97)/97",
    ),
)


def _range(given: Given) -> Result:
    usable = torque_tool.usable_range(given.amount("largest"), given.maybe("lowest_mark"))
    like = given.amount("largest")
    lines = [
        Line(_("Use it from"), worded(usable.low, like, 1)),
        Line("to", worded(usable.high, like, 1)),
    ]
    if (wanted := given.maybe("wanted")) is not None:
        words = {"below": _("below its range"), "within": _("within its range"), "above": _("above its range")}
        lines.insert(0, Line(_("That torque is"), words[usable.place(wanted)], show(wanted)))
    return Result(tuple(lines))


RANGE = Sum(
    slug="wrench-range",
    title="Range of a wrench",
    asks="Does this wrench reach that torque?",
    inputs=(
        amount("largest", "Largest torque of the wrench", T, "N·m", "200 N·m"),
        amount(
            "lowest_mark",
            "Lowest mark on its scale",
            T,
            "N·m",
            "40 N·m",
            assumed="20 % of the largest, the lowest check point of the 2003 edition",
        ),
        amount("wanted", "Torque wanted", T, "N·m", "35 N·m", optional=True),
    ),
    reckon=_range,
    formula=("from the lowest mark to the largest torque",),
    valid="Hand torque tools by ISO 6789.",
    sources=("ISO 6789-1:2017, 5.1.3, as a torque tool maker tells it",),
    picture="window",
    drawing={"tick": 0, "reading": "", "low": "lowest mark", "high": "largest"},
    example=Example({"largest": "100 N·m"}, "20 N·m", "ISO 6789:2003, lowest check point"),
)

_DUE_WORDS = {
    "never_checked": "it has never been checked",
    "date": "the time is up",
    "cycles": "the count is up",
    "overload": "it was loaded more than a quarter beyond its largest torque",
    "drop": "it was dropped",
    "repair": "it was repaired",
}


def _due(given: Given) -> Result:
    today = given.day("today")
    if today is None:
        raise InputMissing("today", "needs today's date")
    since = torque_tool.SinceCalibration(
        cycles=given.whole("cycles") if given.has("cycles") else None,
        heaviest=given.maybe("heaviest"),
        was_dropped=given.text("dropped") == "yes",
        was_repaired=given.text("repaired") == "yes",
    )
    house = torque_tool.Interval()
    interval = torque_tool.Interval(
        given.whole("months") if given.has("months") else house.months,
        given.whole("interval_cycles") if given.has("interval_cycles") else house.cycles,
    )
    found = torque_tool.due(given.day("last_good"), today, given.amount("largest"), since, interval)
    lines = [Line(_("Calibration is"), _("due now") if found.is_due else _("not due"))]
    if found.due_on is not None:
        lines.append(Line(_("Due by date on"), found.due_on.isoformat()))
    return Result(tuple(lines), tuple(_("Due because {what}.", what=_DUE_WORDS[reason]) for reason in found.reasons))


DUE = Sum(
    slug="calibration-due",
    title="Calibration due",
    asks="When does this wrench have to be checked again?",
    inputs=(
        Day(
            name="last_good", label="Last found true on", optional=True, hint="Leave it empty if it never was checked."
        ),
        Day(name="today", label="Today", is_today=True),
        amount("largest", "Largest torque of the wrench", T, "N·m", "200 N·m"),
        Whole(name="cycles", label="Times used since", example="1200", optional=True, hint="If anybody counts them."),
        amount("heaviest", "Heaviest load since", T, "N·m", "180 N·m", optional=True, sign=Sign.NOT_NEGATIVE),
        Pick(name="dropped", label="Was it dropped?", optional=True, options=(("no", "no"), ("yes", "yes"))),
        Pick(name="repaired", label="Was it repaired?", optional=True, options=(("no", "no"), ("yes", "yes"))),
        Whole(name="months", label="The shop's interval, months", example="12", optional=True, assumed="12 months"),
        Whole(
            name="interval_cycles",
            label="The shop's interval, times used",
            example="5000",
            optional=True,
            assumed="5000 times",
        ),
    ),
    reckon=_due,
    formula=("due at the first of: last + interval, count reached, overload above 125 %, drop, repair",),
    valid="The shop's own procedure for its tools comes first where it has one.",
    sources=(
        "ISO 6789: 12 months or 5000 cycles (a torque tool maker's notes)",
        "Overload of more than 25 %: a calibration laboratory's notes",
    ),
    picture="window",
    drawing={"tick": 0, "reading": "", "low": "last found true", "high": "due"},
    arguments={"interval": "months"},
    example=Example(
        {"last_good": "2026-01-15", "today": "2027-01-15", "largest": "100 N·m", "cycles": "0"},
        "due now",
        "ISO 6789: 12 months",
    ),
)


def _castle(given: Given) -> Result:
    slots = given.whole("slots") if given.has("slots") else 6
    found = torque_tool.castle_nut(
        given.amount("hole_ahead"), slots=slots, torque=given.maybe("torque"), highest=given.maybe("highest")
    )
    words = {
        torque_tool.CastleAction.PIN: (_("Slot and hole meet"), _("fit a new cotter pin")),
        torque_tool.CastleAction.TURN_ON: (_("Turn the nut on by"), _("to the next slot; never back")),
        torque_tool.CastleAction.CHANGE_PART: (_("Do not turn on"), _("change washer or nut; never back it off")),
    }
    label, note = words[found.action]
    lines = (
        Line(label, degrees(found.further), note),
        Line(_("The most that can ever be needed"), show(found.at_most, "°", 1)),
    )
    drawing = {"slots": slots, "hole": mdeg(given.amount("hole_ahead")), "step": round(360 / slots)}
    return Result(lines, drawing=drawing)


CASTLE = Sum(
    slug="castle-nut",
    title="Castellated nut",
    asks="How far do I turn the nut on for the cotter pin?",
    inputs=(
        amount(
            "hole_ahead",
            "The hole lies ahead of a slot by",
            A,
            "°",
            "15°",
            sign=Sign.ANY,
            hint="In the tightening direction; negative if the slot has passed it.",
        ),
        Whole(name="slots", label="Slots of the nut", example="6", optional=True, assumed="6 slots"),
        amount("torque", "Torque it has now", T, "N·m", "65 N·m", optional=True, sign=Sign.NOT_NEGATIVE),
        amount("highest", "Highest torque the source allows", T, "N·m", "65 N·m", optional=True),
    ),
    reckon=_castle,
    formula=("spacing of the slots = 360° / slots", "turn on = the hole's lead over the last slot behind it"),
    valid="Evenly spaced slots, 4 to 12 of them, one hole through. At the highest torque nothing is left for "
    "turning on.",
    sources=(
        "TM 10-3930-660-24-2, WP 0251 (turned on until they meet)",
        "FAA AC 43.13-1B, 7-40 f (start at the lowest, never pass the highest)",
        "That a nut is never slackened for the pin: common practice, no source",
    ),
    picture="castle",
    drawing={"slots": 6, "hole": 15, "step": 60},
    example=Example({"hole_ahead": "-10°", "slots": "6"}, "50°", "geometry: 60° between slots, 10° passed"),
)

SUMS = (BOLT, PRELOAD, QUESTION, TURN)
WRENCH_SUMS = (SETTING, WINDOW, DEVIATION, RANGE, DUE, CASTLE)
