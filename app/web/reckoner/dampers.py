"""Sums about swinging: what a bounce test says of a damper, and how fast body and wheel swing."""

from __future__ import annotations

import math
import re

from app.language.speech import _
from app.trade import damping
from app.trade.problems import InputMissing, NotUnderstood
from app.trade.quantity import Dimension, Quantity
from app.web.reckoner.sums import Example, Given, Line, Result, Rows, Sign, Sum, Word, amount
from app.web.reckoner.wording import number, percent, worded

L, F, R, M, K, S, H = (
    Dimension.LENGTH,
    Dimension.FORCE,
    Dimension.RATIO,
    Dimension.MASS,
    Dimension.RATE,
    Dimension.SPEED,
    Dimension.FREQUENCY,
)
_BESIDE = {
    "below": "below the 0.2 to 0.4 usual for road cars",
    "within": "within the 0.2 to 0.4 usual for road cars",
    "above": "above the 0.2 to 0.4 usual for road cars",
}
_NO_VERDICT = "A comparison, not a verdict: compare both sides, look for leaks, and drive it."
_SOURCES = (
    "Logarithmic decrement: novasolver.jp, vibration damping; any text on vibration",
    "0.2 to 0.4 usual for road cars: novasolver.jp, which names no author; Gillespie, Milliken (from memory)",
)
_ALL_OF = ("ζ = δ / √(4π² + δ²)",)


def _beside(ratio: Quantity) -> str:
    return _BESIDE[damping.against_typical(ratio)]


def _peaks(given: Given) -> Result:
    peaks = [row.amount("peak") for row in given.rows("peaks")]
    decrement = damping.decrement_from_peaks(peaks)
    ratio = damping.ratio_from_decrement(decrement)
    lines = (
        Line(_("Damping ratio ζ"), number(ratio, 4), _beside(ratio)),
        Line(_("Logarithmic decrement δ"), number(decrement, 4)),
        Line(_("Each swing is the last one's"), number(damping.decay_of(ratio).peak_ratio, 3), _("times smaller")),
    )
    return Result(lines, (_NO_VERDICT,))


PEAKS = Sum(
    slug="damping-peaks",
    title="Damping from peaks",
    asks="How well does the damper damp, from heights read off a scale?",
    inputs=(
        Rows(
            name="peaks",
            label="Peaks on one side, from the resting height",
            row="Peak",
            at_most=6,
            at_least=2,
            columns=(amount("peak", "height", L, "mm", "40 mm"),),
        ),
    ),
    reckon=_peaks,
    formula=("δ = ln(x₁ / x₂), the best line through all peaks", *_ALL_OF),
    valid="Successive peaks on the same side, each a whole swing after the last, measured from where the body "
    "comes to rest.",
    sources=_SOURCES,
    picture="decay",
    example=Example(
        {"peaks-1-peak": "100 mm", "peaks-2-peak": "80 mm"}, "0.0355", "ln(1/0.8) by hand; a textbook's example"
    ),
)


def _swings(given: Given) -> Result:
    found = damping.ratio_from_swings(given.amount("swings"), given.maybe("still_at"))
    lines = (
        Line(_("Damping ratio ζ"), number(found.damping_ratio, 3), _beside(found.damping_ratio)),
        Line(_("It may lie from"), number(found.low, 3)),
        Line("to", number(found.high, 3), _("counting is good to half a swing")),
    )
    return Result(lines, (_NO_VERDICT,))


SWINGS = Sum(
    slug="damping-swings",
    title="Damping from counted swings",
    asks="How well does the damper damp, from swings counted by eye?",
    inputs=(
        amount("swings", "Whole swings until it is still", R, "1", "2", "n", hint="Halves allowed: 1.5."),
        amount("still_at", "Still, as a part of the first swing", R, "%", "5 %", assumed="a twentieth, house rule"),
    ),
    reckon=_swings,
    formula=("δ = ln(1 / still) / n", *_ALL_OF),
    valid="Coarse by nature: one swing or two is most of the difference between a sound damper and a tired one.",
    sources=(*_SOURCES, "Still at a twentieth: house rule, no source"),
    picture="decay",
    example=Example({"swings": "2", "still_at": "5 %"}, "0.2319", "ln(20)/2 by hand"),
)

_MOST_SAMPLES = 6_000


def _trace(given: Given) -> Result:
    samples = _samples(given.text("samples"))
    found = damping.ratio_from_trace(samples, given.amount("sample_rate"))
    lines = (
        Line(
            _("Damping ratio ζ"),
            number(found.damping_ratio, 3),
            _("within ±{number}: {confidence}", number=number(found.within, 3), confidence=found.confidence),
        ),
        Line(_("Beside road cars"), _beside(found.damping_ratio)),
        Line(_("The body swings at"), worded(found.frequency, places=2)),
        Line(_("Swings that stand out"), number(found.swings, 1)),
        Line(_("Samples that took no part"), percent(found.lost, 0)),
    )
    return Result(lines, (_NO_VERDICT,), drawing={"points": _points(samples)})


def _samples(text: str) -> list[float | None]:
    """One sample on each line, or parted by commas, semicolons, tabs or spaces; the last figure of a line counts."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) == 1:
        return [_sample(one, place) for place, one in enumerate(re.split(r"[;,\s]+", lines[0].strip(" ,;")), start=1)]
    if lines and not re.search(r"[0-9]", lines[0]):
        lines = lines[1:]  # the names of the columns
    if len(lines) > _MOST_SAMPLES:
        raise NotUnderstood("samples", "has too many lines", reason="trace_long", most=str(_MOST_SAMPLES))
    return [_sample(re.split(r"[;\t ]+|,(?=\S)", line)[-1], place) for place, line in enumerate(lines, start=1)]


def _sample(text: str, place: int) -> float | None:
    typed = text.strip().strip('"').replace("−", "-")
    if typed.lower() in ("", "nan", "na", "-", "null", "none"):
        return None
    try:
        value = float(typed.replace(",", "."))
    except ValueError:
        value = math.inf
    if not math.isfinite(value) or abs(value) > 1e9:
        raise NotUnderstood(
            "samples", "has a line that is no number", reason="trace_line", line=str(place), what=typed[:20]
        )
    return value


def _points(samples: list[float | None]) -> str:
    """The trace as the points of a line in the picture."""
    there = [(place, value) for place, value in enumerate(samples) if value is not None]
    low, high = min(value for _, value in there), max(value for _, value in there)
    step = max(1, len(there) // 400)
    span, last = (high - low) or 1.0, max(1, len(samples) - 1)
    return " ".join(
        f"{30 + round(420 * place / last)},{200 - round(160 * (value - low) / span)}" for place, value in there[::step]
    )


def _written_out(ratio: float, hertz: float, seconds: int) -> str:
    """The samples of a free swing by the textbook's formula, fifty a second, after a tenth of a second held down."""
    omega = 2 * math.pi * hertz
    damped = omega * math.sqrt(1 - ratio * ratio)
    swing = [
        -60
        * math.exp(-ratio * omega * t / 50)
        * (math.cos(damped * t / 50) + ratio * omega / damped * math.sin(damped * t / 50))
        for t in range(seconds * 50)
    ]
    return "\n".join(f"{height:.2f}" for height in swing)


_SWING = _written_out(0.228, 1.16, 5)
TRACE = Sum(
    slug="damping-trace",
    title="Damping from a trace",
    asks="How well does the damper damp, from a recorded bounce?",
    inputs=(
        Word(
            name="samples",
            label="Samples",
            example="one figure on each line",
            lines=True,
            longest=19_000,
            hint="One on each line, evenly spaced in time, any one unit: height, travel or acceleration. Leave "
            "a missing one "
            "as a line with nan. Of several figures on a line the last counts.",
        ),
        amount("sample_rate", "Samples a second", H, "Hz", "50 Hz"),
    ),
    reckon=_trace,
    formula=("x(t) = e^(−ζωt) · (a cos ωₔt + b sin ωₔt) + c + d·t, fitted to all samples",),
    valid="25 to 200 samples a second, up to a minute; bodies that swing at 0.5 to 4 Hz, damping ratios 0.01 to "
    "about 0.6. A "
    "trace that does not settle the question is refused with the reason.",
    sources=(
        "Least squares by variable projection (Golub and Pereyra 1973; from memory)",
        "Checked against traces that scipy integrates from the equations of motion",
    ),
    picture="trace",
    drawing={"points": ""},
    is_posted=True,
    example=Example(
        {"samples": _SWING, "sample_rate": "50 Hz"},
        "0.228",
        "the free swing of ζ = 0.228 at 1.16 Hz, written out by the formula",
    ),
)


def _ride(given: Given) -> Result:
    lines: list[Line] = []
    if (sag := given.maybe("sag")) is not None:
        lines.append(Line(_("By the sag alone"), worded(damping.frequency_from_sag(sag), places=2)))
    rates = given.maybe("wheel_rate"), given.maybe("tyre_rate")
    masses = given.maybe("sprung"), given.maybe("unsprung")
    if rates[0] is not None and rates[1] is not None and masses[0] is not None and masses[1] is not None:
        force, speed = given.maybe("force"), given.maybe("speed")
        damper = (force, speed) if force is not None and speed is not None else None
        found = damping.ride(masses[0], masses[1], rates[0], rates[1], damper=damper)
        lines += [
            Line(_("The body swings at"), worded(found.body, places=3)),
            Line(_("The wheel hops at"), worded(found.wheel, places=2)),
            Line(
                _("The wheel follows the body by"),
                number(found.wheel_per_body, 3),
                _("wheel movement over body movement"),
            ),
            Line(
                _("Ride rate"),
                worded(damping.rate_in_series(rates[0], rates[1])),
                _("suspension and tyre one upon the other"),
            ),
        ]
        if found.damping_ratio is not None:
            lines.append(
                Line(_("Damping ratio of the body"), number(found.damping_ratio, 3), _beside(found.damping_ratio))
            )
    elif rates[0] is not None and masses[0] is not None:
        hertz = damping.natural_frequency(masses[0], rates[0])
        lines.append(
            Line(_("The body swings at"), worded(hertz, places=3), _("on the wheel rate alone: no tyre was given"))
        )
    if not lines:
        raise InputMissing("sag", "needs the sag, or mass and rate", reason="ride")
    return Result(tuple(lines))


RIDE = Sum(
    slug="ride-frequencies",
    title="Ride frequencies",
    asks="How fast do body and wheel swing?",
    inputs=(
        amount("sprung", "Sprung mass of the corner", M, "kg", "320 kg", "mₛ", optional=True),
        amount("unsprung", "Unsprung mass of the corner", M, "kg", "45 kg", "mᵤ", optional=True),
        amount("wheel_rate", "Rate at the wheel", K, "N/mm", "22 N/mm", "kₛ", optional=True),
        amount("tyre_rate", "Rate of the tyre", K, "N/mm", "190 N/mm", "kₜ", optional=True),
        amount("force", "Damper force at the wheel", F, "N", "1000 N", optional=True, sign=Sign.NOT_NEGATIVE),
        amount("speed", "at a speed of", S, "m/s", "1 m/s", optional=True),
        amount("sag", "Sag under its own weight", L, "mm", "172 mm", "x", optional=True, hint="By itself enough."),
    ),
    reckon=_ride,
    formula=(
        "ω⁴ mₛ mᵤ − ω² (mₛ (kₛ + kₜ) + mᵤ kₛ) + kₛ kₜ = 0",
        "by the sag: f = √(g / x) / 2π",
    ),
    valid="Linear springs, no damping in the frequencies. Rates at the wheel, not at the spring.",
    sources=(
        "Barton and Fieldhouse, Automotive Chassis Engineering, sect. 3.13 p. 209",
        "Gillespie ch. 5 (from memory)",
    ),
    picture="quarter",
    arguments={"mass": "sprung", "rate": "wheel_rate", "damper": "force"},
    example=Example(
        {"sprung": "317.5 kg", "unsprung": "45.4 kg", "wheel_rate": "22 N/mm", "tyre_rate": "192 N/mm"},
        "1.2525 Hz and 10.934 Hz",
        "Barton and Fieldhouse, sect. 3.13 p. 209",
    ),
)

SUMS = (PEAKS, SWINGS, TRACE, RIDE)
