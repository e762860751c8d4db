"""Bounce tests as a tablet's sensor would write them: a body pushed, let go, swinging on by its own equation."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy import integrate

RATE = 50


def released(
    zeta: float, hertz: float = 1.4, *, seconds: float = 8.0, noise: float = 2.0, seed: int = 1
) -> list[int | None]:
    """cm/s² of x″ + 2ζω·x′ + ω²·x = push, `RATE` a second, integrated by scipy; three pushes in the body's rhythm."""
    omega = 2 * math.pi * hertz
    over = 3 / hertz

    def push(t: float) -> float:
        return -0.05 * omega**2 * max(0.0, math.sin(omega * t)) if t < over else 0.0

    times = np.arange(0, seconds, 1 / RATE)
    run = integrate.solve_ivp(
        lambda t, x: [x[1], push(t) - 2 * zeta * omega * x[1] - omega**2 * x[0]],
        (0, seconds), [0.0, 0.0], t_eval=times, rtol=1e-8, atol=1e-10, max_step=0.01,
    )  # fmt: skip
    pull = [push(t) - 2 * zeta * omega * v - omega**2 * x for t, x, v in zip(times, *run.y, strict=True)]
    drawn = np.random.default_rng(seed)
    return [round(100 * one + float(drawn.normal(0, noise))) for one in pull]


def as_text(samples: Sequence[int | None], rate: int = RATE) -> str:
    return f"{rate};" + ",".join("" if one is None else str(one) for one in samples)
