"""Damping and ride: what a bounce test says about a damper, and how fast body and wheel would swing.

Damping ratios come out three ways, from the weakest evidence to the best: swings counted by eye, peaks read off a
scale, a trace sampled by a phone or tablet. Each says how far it may be off; a trace that cannot settle the question
is refused with the reason, never rounded into an answer. numpy and scipy are imported only where a trace is fitted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from app.trade.gravity import GRAVITY
from app.trade.problems import CannotTell, OutOfRange
from app.trade.quantity import Dimension, Quantity, from_si, need

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.floating[Any]]
    Flags = npt.NDArray[np.bool_]

# By eye a body is still when it moves less than a twentieth of the first swing. House rule (no source).
STILL_AT = Quantity(Dimension.RATIO, 50_000)


@dataclass(frozen=True, slots=True)
class Decay:
    """How free swings die away at one damping ratio. All are ratios; `overshoot` is the first, after a step."""

    damping_ratio: Quantity
    decrement: Quantity
    peak_ratio: Quantity
    overshoot: Quantity


@dataclass(frozen=True, slots=True)
class Counted:
    """A damping ratio from swings counted by eye, half a swing either way, and what was assumed."""

    damping_ratio: Quantity
    low: Quantity
    high: Quantity
    assumed: tuple[str, ...]


class Confidence(StrEnum):
    """GOOD: within a tenth (or 0.02). FAIR: within a third (or 0.06). A wider trace is refused. House rule."""

    GOOD = "good"
    FAIR = "fair"


@dataclass(frozen=True, slots=True)
class TraceReading:
    """A damping ratio from a trace.

    `within` is how far off it may be (two and a half standard errors and more), `frequency` how fast the body swings,
    `swings` how many whole swings stand out of the noise, `lost` which part of the samples took no part.
    """

    damping_ratio: Quantity
    within: Quantity
    frequency: Quantity
    swings: Quantity
    lost: Quantity
    confidence: Confidence


class Typical(StrEnum):
    """A damping ratio beside those usual for road cars."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Ride:
    """The two ways a quarter of a car swings. `wheel_per_body` is how far the wheel moves per body movement in the
    slow way; `damping_ratio` is the body's, where a damper was given."""

    body: Quantity
    wheel: Quantity
    wheel_per_body: Quantity
    damping_ratio: Quantity | None


# Decrement and ratio ---------------------------------------------------------------------------------------------


def decay_of(damping_ratio: Quantity) -> Decay:
    """Give decrement, ratio of successive peaks and first overshoot: δ = 2πζ/√(1 − ζ²).

    Range:  above 0 and below 1 (from 1 on nothing swings).
    Raises: OutOfRange outside that range.
    Source: novasolver.jp, vibration damping (formula, read 25 Nov 2026); any text on vibration.
    """
    zeta = _zeta(damping_ratio, "damping_ratio")
    delta = 2 * math.pi * zeta / math.sqrt(1 - zeta * zeta)
    return Decay(
        damping_ratio,
        from_si(Dimension.RATIO, delta),
        from_si(Dimension.RATIO, _exp(delta)),
        from_si(Dimension.RATIO, math.exp(-delta / 2)),
    )


def ratio_from_decrement(decrement: Quantity) -> Quantity:
    """Give the damping ratio from the logarithmic decrement: ζ = δ/√(4π² + δ²)."""
    delta = need(decrement, Dimension.RATIO, "decrement", at_least_zero=True)
    return from_si(Dimension.RATIO, _ratio(delta))


def ratio_from_overshoot(overshoot: Quantity) -> Quantity:
    """Give the damping ratio from the first overshoot as a part of the step (0.2 for 20 %).

    Raises: OutOfRange unless above 0 and below 1.
    """
    part = need(overshoot, Dimension.RATIO, "overshoot", positive=True)
    if part >= 1:
        raise OutOfRange("overshoot", "must be less than the step itself; give it as a part, 0.2 for 20 %")
    return from_si(Dimension.RATIO, _ratio(-2 * math.log(part)))


def decrement_from_peaks(peaks: Sequence[Quantity]) -> Quantity:
    """Give the logarithmic decrement from successive peaks on one side, measured from where the body comes to rest.

    The best line through the logarithms of all peaks; of two peaks simply ln(x₁/x₂).

    Shapes: at least two peaks, in order, each one whole swing after the last.
    Units:  lengths (or any one kind of quantity); only their ratios count.
    Raises: CannotTell with fewer than two, or if they do not die away; OutOfRange for a peak of zero or below.
    """
    if len(peaks) < 2:
        raise CannotTell("peaks", "needs at least two successive peaks on one side", reason="too_few")
    dimension = peaks[0].dimension if peaks[0] is not None else Dimension.LENGTH
    logs = [math.log(need(peak, dimension, f"peaks[{i}]", positive=True)) for i, peak in enumerate(peaks)]
    middle, mean = (len(logs) - 1) / 2, sum(logs) / len(logs)
    slope = sum((i - middle) * (y - mean) for i, y in enumerate(logs)) / sum(
        (i - middle) ** 2 for i in range(len(logs))
    )
    if slope >= 0:
        raise CannotTell("peaks", "do not die away; give them in order, from the resting height", reason="not_decaying")
    return from_si(Dimension.RATIO, -slope)


def ratio_from_peaks(peaks: Sequence[Quantity]) -> Quantity:
    """Give the damping ratio from successive peaks; see `decrement_from_peaks` for shapes and errors."""
    return ratio_from_decrement(decrement_from_peaks(peaks))


def ratio_from_swings(swings: Quantity, still_at: Quantity | None = None) -> Counted:
    """Give the damping ratio from whole swings counted until the body is still: δ = ln(1/still)/n.

    Counting is good to half a swing, so the answer is a range. It is coarse by nature: one swing or two is most of the
    difference between a sound damper and a tired one.

    Units:  swings as a plain number, halves allowed; `still_at` is the part of the first swing below which the body is
            called still, assumed (and named) when not given.
    Raises: OutOfRange for no swing at all (the damper may be good, or stuck: that is another test), or a part that is
            not between 0 and 1.
    Source: logarithmic decrement; the threshold is a house rule (no source).
    """
    n = need(swings, Dimension.RATIO, "swings")
    if n <= 0:
        raise OutOfRange("swings", "needs at least half a swing; none at all tells nothing of how much it damps")
    assumed = () if still_at is not None else ("still_at",)
    part = need(still_at or STILL_AT, Dimension.RATIO, "still_at", positive=True)
    if part >= 1:
        raise OutOfRange("still_at", "must be below 1: a part of the first swing")
    all_of_it = -math.log(part)
    high = 1.0 if n <= 0.5 else _ratio(all_of_it / (n - 0.5))
    return Counted(
        from_si(Dimension.RATIO, _ratio(all_of_it / n)),
        from_si(Dimension.RATIO, _ratio(all_of_it / (n + 0.5))),
        from_si(Dimension.RATIO, high),
        assumed,
    )


def ratio_from_damper(mass: Quantity, rate: Quantity, force: Quantity, speed: Quantity) -> Quantity:
    """Give the damping ratio of a mass on a spring with a damper that gives this force at this speed: c/(2·√(k·m)).

    Source: c꜀ = 2·√(k·m); example at sarthaks.com/492092 (read 25 Nov 2026).
    """
    c = need(force, Dimension.FORCE, "force", at_least_zero=True) / need(speed, Dimension.SPEED, "speed", positive=True)
    return from_si(Dimension.RATIO, c / _critical(mass, rate))


def damper_force(mass: Quantity, rate: Quantity, damping_ratio: Quantity, speed: Quantity) -> Quantity:
    """Give the force a damper must give at a speed for a damping ratio: ζ·2·√(k·m)·v. With a ratio of 1: critical."""
    zeta = need(damping_ratio, Dimension.RATIO, "damping_ratio", at_least_zero=True)
    return from_si(Dimension.FORCE, zeta * _critical(mass, rate) * need(speed, Dimension.SPEED, "speed", positive=True))


def against_typical(damping_ratio: Quantity) -> Typical:
    """Say where a ratio lies beside the 0.2 to 0.4 usual for road cars. A comparison, not a verdict on the damper.

    Source: range on novasolver.jp (read 25 Nov 2026), which gives no author; Gillespie and Milliken (from memory).
    """
    need(damping_ratio, Dimension.RATIO, "damping_ratio", at_least_zero=True)
    if damping_ratio.value < 200_000:
        return Typical.BELOW
    return Typical.WITHIN if damping_ratio.value <= 400_000 else Typical.ABOVE


# Ride frequencies ------------------------------------------------------------------------------------------------


def frequency_from_sag(sag: Quantity) -> Quantity:
    """Give the frequency of a mass on a linear spring from how far its weight presses it: (1/2π)·√(g/x).

    Source: Gillespie ch. 5 (from memory).
    """
    x = need(sag, Dimension.LENGTH, "sag", positive=True)
    return from_si(Dimension.FREQUENCY, math.sqrt(GRAVITY / x) / (2 * math.pi))


def natural_frequency(mass: Quantity, rate: Quantity) -> Quantity:
    """Give the undamped frequency of one mass on one spring: (1/2π)·√(k/m)."""
    m = need(mass, Dimension.MASS, "mass", positive=True)
    k = need(rate, Dimension.RATE, "rate", positive=True)
    return from_si(Dimension.FREQUENCY, math.sqrt(k / m) / (2 * math.pi))


def rate_in_series(wheel_rate: Quantity, tyre_rate: Quantity) -> Quantity:
    """Give the rate of suspension and tyre one upon the other: ks·kt/(ks + kt), the ride rate."""
    ks = need(wheel_rate, Dimension.RATE, "wheel_rate", positive=True)
    kt = need(tyre_rate, Dimension.RATE, "tyre_rate", positive=True)
    return from_si(Dimension.RATE, ks * kt / (ks + kt))


def ride(
    sprung: Quantity,
    unsprung: Quantity,
    wheel_rate: Quantity,
    tyre_rate: Quantity,
    *,
    damper: tuple[Quantity, Quantity] | None = None,
) -> Ride:
    """Give how a quarter of a car swings: body and wheel frequencies, both springs acting on both masses.

    Units:  masses of one corner, rates *at the wheel* (see `loads.wheel_rate`). `damper` is a force at a speed, both at
            the wheel; the damping ratio given back is that of the body's slow swing, to first order in the damping.
    Range:  linear, undamped frequencies; the first-order damping ratio is within 2 % up to about 0.4.
    Raises: OutOfRange for masses or rates that are not positive.
    Source: Barton and Fieldhouse, Automotive Chassis Engineering, sect. 3.13 p. 209.
    """
    ms = need(sprung, Dimension.MASS, "sprung", positive=True)
    mu = need(unsprung, Dimension.MASS, "unsprung", positive=True)
    ks = need(wheel_rate, Dimension.RATE, "wheel_rate", positive=True)
    kt = need(tyre_rate, Dimension.RATE, "tyre_rate", positive=True)
    # ω⁴·ms·mu − ω²·(ms·(ks + kt) + mu·ks) + ks·kt = 0. The small root as product over the large one: no cancellation.
    b = ms * (ks + kt) + mu * ks
    fast = (b + math.sqrt(b * b - 4 * ms * mu * ks * kt)) / (2 * ms * mu)
    slow = ks * kt / (ms * mu * fast)
    shape = (ks - ms * slow) / ks
    zeta = None
    if damper is not None:
        force, speed = damper
        c = need(force, Dimension.FORCE, "damper", at_least_zero=True) / need(
            speed, Dimension.SPEED, "damper", positive=True
        )
        # What the damper takes per swing, over what the swing holds: c·(1 − shape)² against the mode's mass.
        zeta = from_si(Dimension.RATIO, c * (1 - shape) ** 2 / (2 * math.sqrt(slow) * (ms + mu * shape * shape)))
    return Ride(
        from_si(Dimension.FREQUENCY, math.sqrt(slow) / (2 * math.pi)),
        from_si(Dimension.FREQUENCY, math.sqrt(fast) / (2 * math.pi)),
        from_si(Dimension.RATIO, shape),
        zeta,
    )


# A sampled trace -------------------------------------------------------------------------------------------------

_SLOWEST_HZ, _FASTEST_HZ = 0.5, 4.0
_LEAST_SECONDS = 1.5
_MOST_LOST = 0.35
_LONGEST_SECONDS = 60.0


def ratio_from_trace(samples: Sequence[float | None], sample_rate: Quantity) -> TraceReading:
    """Give the damping ratio from a sampled bounce test: the body pushed, let go, and recorded until it is still.

    The free decay after the last push is found, and a decaying swing on a sloping rest line is fitted to the samples
    themselves. Samples that are missing or clipped take no part: a gap costs certainty, it does not bend the answer.

    Shapes: evenly sampled, `None` (or not-a-number) where a sample is missing; height, travel or acceleration alike.
    Units:  samples in any one unit, at 25 to 200 samples a second.
    Range:  bodies that swing at 0.5 to 4 Hz, with damping ratios from 0.01 to about 0.6.
    Raises: OutOfRange for a sample rate outside that range or more than a minute of samples;
            CannotTell, naming `samples` with a `reason` of too_short, too_many_lost, nothing_moves, clipped,
            not_decaying, no_swing, too_noisy or not_one_swing.
    Source: least squares by variable projection (Golub and Pereyra 1973, from memory). Checked against traces that
            scipy integrates from the equations of motion, in `tests/reference_checks`.
    """
    import numpy as np

    hz = need(sample_rate, Dimension.FREQUENCY, "sample_rate", positive=True)
    if not 25 <= hz <= 200:
        raise OutOfRange("sample_rate", "must be from 25 to 200 samples a second")
    y = np.array([math.nan if sample is None else float(sample) for sample in samples], dtype=float)
    if len(y) > _LONGEST_SECONDS * hz:
        raise OutOfRange("samples", "must be no more than a minute; cut the trace to the bounce")
    if len(y) < _LEAST_SECONDS * hz:
        raise CannotTell("samples", f"needs at least {_LEAST_SECONDS} s after the push", reason="too_short")
    missing = ~np.isfinite(y)
    if missing.mean() > _MOST_LOST:
        raise CannotTell("samples", "has too many gaps; record again", reason="too_many_lost")
    clipped = _clipped(y)
    if clipped.mean() > _MOST_LOST:
        raise CannotTell("samples", "is clipped for too long; use a wider range", reason="clipped")
    usable = ~(missing | clipped)
    start = _release(y, usable, hz)
    return _read_from(y, usable, start, hz)


@dataclass(frozen=True, slots=True)
class _Fit:
    zeta: float
    frequency: float
    error: float
    amplitude: float
    noise: float
    explained: float
    seconds: float
    left_in_trace: float


def _read_from(y: Floats, usable: Flags, start: int, hz: float) -> TraceReading:
    """Fit from the release, then again from a little later: a swing that is no clean decay disagrees with itself."""
    first = _fit(y, usable, start, hz)
    _refuse(first)
    later = _fit(y, usable, start + max(1, round(hz / first.frequency / 6)), hz)
    apart = abs(later.zeta - first.zeta)
    # The later fit has less to go on: only what its own error does not explain speaks against the first.
    within = math.hypot(2.5 * first.error, max(0.0, apart - 2 * later.error)) + 0.002
    if within > max(0.06, first.zeta / 3):
        raise CannotTell("samples", "is too noisy to tell; record again, phone held fast", reason="too_noisy")
    decay = first.zeta * 2 * math.pi * first.frequency / math.sqrt(1 - first.zeta**2)
    seen = min(first.seconds, math.log(max(first.amplitude / first.noise, 1.0)) / decay)
    window = usable[start : start + max(1, round(first.seconds * hz))]
    return TraceReading(
        from_si(Dimension.RATIO, first.zeta),
        from_si(Dimension.RATIO, within),
        from_si(Dimension.FREQUENCY, first.frequency),
        from_si(Dimension.RATIO, seen * first.frequency),
        from_si(Dimension.RATIO, 1 - float(window.mean())),
        Confidence.GOOD if within <= max(0.02, first.zeta / 10) else Confidence.FAIR,
    )


def _refuse(fit: _Fit) -> None:
    if fit.amplitude < 4 * fit.noise:
        raise CannotTell("samples", "shows no movement that stands out; push harder", reason="nothing_moves")
    if fit.explained < 0.7:
        raise CannotTell(
            "samples", "is not one free swing dying away; push, let go, stand clear", reason="not_one_swing"
        )
    if fit.zeta < 0.01:
        raise CannotTell("samples", "does not die away; let go and record until it is still", reason="not_decaying")
    if fit.zeta > 0.65:
        raise CannotTell("samples", "does not swing past its rest; nothing to measure a decay by", reason="no_swing")
    if fit.left_in_trace * fit.frequency / math.sqrt(1 - fit.zeta**2) < 1.9:
        # A wandering rest line can look like a swing and a half; it seldom looks like two.
        raise CannotTell("samples", "ends too soon after the last push; record until it is still", reason="too_short")


def _clipped(y: Floats) -> Flags:
    """Mark runs of three and more equal samples at the very top or bottom: a sensor at its stop.

    A coarse sensor has such runs at an honest peak too. Leaving them out costs little there.
    """
    import numpy as np

    marked = np.zeros(len(y), dtype=bool)
    top, bottom = np.nanmax(y), np.nanmin(y)
    if top == bottom:
        return marked
    for extreme in (top, bottom):
        at = np.concatenate(([False], y == extreme, [False])).astype(int)
        starts, ends = np.flatnonzero(np.diff(at) == 1), np.flatnonzero(np.diff(at) == -1)
        for begin, end in zip(starts, ends, strict=True):
            if end - begin >= 3:
                marked[begin:end] = True
    return marked


def _release(y: Floats, usable: Flags, hz: float) -> int:
    """Find where the free decay starts: at the last great extreme, after which the body is left alone."""
    import numpy as np
    from scipy import signal

    where = np.arange(len(y))
    filled = np.interp(where, where[usable], y[usable])
    # Clipped peaks are extremes all the same, and must be seen as such here.
    filled = np.where(np.isfinite(y), y, filled)
    if np.ptp(filled) == 0:
        raise CannotTell("samples", "shows no movement at all", reason="nothing_moves")
    bands = signal.butter(2, (0.4, min(5.0, 0.4 * hz)), "bandpass", fs=hz, output="sos")
    smooth = np.abs(signal.sosfiltfilt(bands, filled, padlen=min(len(filled) - 1, round(2 * hz))))
    great = 0.7 * smooth.max()
    peaks, _ = signal.find_peaks(smooth, height=great)
    start = int(peaks[-1]) if len(peaks) else int(smooth.argmax())
    if (len(y) - start) < hz:
        raise CannotTell("samples", "ends too soon after the last push", reason="too_short")
    return start


def _fit(y: Floats, usable: Flags, start: int, hz: float) -> _Fit:
    """Fit A·exp(−ζωt)·cos(ω√(1−ζ²)·t + φ) + rest + slope·t, in two rounds: to find it, then over its own length."""
    import numpy as np

    take = usable.copy()
    take[:start] = False
    t = (np.flatnonzero(take) - start) / hz
    values = y[take]
    if len(values) < max(12, 0.6 * hz):
        raise CannotTell("samples", "has too little left after the last push", reason="too_short")
    limit = min(10.0, float(t[-1]))
    rough = _search(t[t <= limit], values[t <= limit])
    # The rest line needs some of the still part; noise alone, seconds of it, only dilutes the fit.
    decay = rough[0] * 2 * math.pi * rough[1]
    limit = min(limit, max(2.5 / rough[1], 5.0 / decay))
    inside = t <= limit
    return _refine(t[inside], values[inside], rough, limit, float(t[-1]))


def _basis(t: Floats, zeta: float, f: float) -> Floats:
    import numpy as np

    omega = 2 * math.pi * f
    envelope = np.exp(-zeta * omega * t)
    swing = omega * math.sqrt(1 - zeta * zeta) * t
    return np.column_stack((envelope * np.cos(swing), envelope * np.sin(swing), np.ones_like(t), t - t.mean()))


def _left_over(t: Floats, values: Floats, zeta: float, f: float) -> tuple[Floats, Floats]:
    import numpy as np

    basis = _basis(t, zeta, f)
    weights: Floats = np.linalg.lstsq(basis, values, rcond=None)[0]
    return values - basis @ weights, weights


def _search(t: Floats, values: Floats) -> tuple[float, float]:
    import numpy as np

    # Thinned for the coarse search only: 4 Hz needs no more than some 25 samples a second.
    step = max(1, round((len(t) - 1) / max(float(t[-1]), 0.1) / 25))
    tt, vv = t[::step], values[::step]
    best, found = math.inf, (0.2, 1.3)
    for f in np.geomspace(_SLOWEST_HZ, _FASTEST_HZ, 28):
        for zeta in (0.01, 0.03, 0.06, 0.1, 0.15, 0.22, 0.3, 0.4, 0.55):
            residual, _ = _left_over(tt, vv, zeta, float(f))
            size = float(residual @ residual)
            if size < best:
                best, found = size, (zeta, float(f))
    return found


def _refine(t: Floats, values: Floats, rough: tuple[float, float], limit: float, last: float) -> _Fit:
    import numpy as np
    from scipy import optimize

    def residual(x: Any) -> Floats:
        return _left_over(t, values, float(x[0]), float(x[1]))[0]

    found = optimize.least_squares(
        residual, rough, bounds=([0.0005, 0.8 * _SLOWEST_HZ], [0.9, 1.2 * _FASTEST_HZ]), x_scale=(0.1, 1.0)
    )
    zeta, f = float(found.x[0]), float(found.x[1])
    left, weights = _left_over(t, values, zeta, f)
    freedom = max(1, len(t) - 6)
    noise = math.sqrt(float(left @ left) / freedom)
    level = np.column_stack((np.ones_like(t), t - t.mean()))
    plain = values - level @ np.linalg.lstsq(level, values, rcond=None)[0]
    explained = 1 - float(left @ left) / max(float(plain @ plain), 1e-300)
    covariance = np.linalg.pinv(found.jac.T @ found.jac)
    error = noise * math.sqrt(max(float(covariance[0, 0]), 0.0)) * math.sqrt(_likeness(left))
    return _Fit(
        zeta,
        f * math.sqrt(1 - zeta * zeta),
        error,
        float(np.hypot(weights[0], weights[1])),
        max(noise, 1e-12 * float(np.ptp(values)), 1e-300),
        explained,
        limit,
        last,
    )


def _likeness(left: Floats) -> float:
    """How many samples of what is left over count as one: neighbours alike mean a model that misses something."""
    whole = float(left @ left)
    if whole <= 0 or len(left) < 4:
        return 1.0
    total = 1.0
    for lag in range(1, min(len(left) // 4, 200)):
        alike = float(left[:-lag] @ left[lag:]) / whole
        if alike < 0.05:
            break
        total += 2 * alike
    return total


# Inside ----------------------------------------------------------------------------------------------------------


def _ratio(delta: float) -> float:
    return delta / math.sqrt(4 * math.pi**2 + delta * delta)


def _zeta(damping_ratio: Quantity, argument: str) -> float:
    zeta = need(damping_ratio, Dimension.RATIO, argument, positive=True)
    if zeta >= 1:
        raise OutOfRange(argument, "must be below 1: from 1 on nothing swings")
    return zeta


def _exp(delta: float) -> float:
    # ζ of 0.999999 would overflow nothing but says nothing either; the ratio is capped where a float still holds it.
    return math.exp(min(delta, 600.0))


def _critical(mass: Quantity, rate: Quantity) -> float:
    m = need(mass, Dimension.MASS, "mass", positive=True)
    k = need(rate, Dimension.RATE, "rate", positive=True)
    return 2 * math.sqrt(k * m)
