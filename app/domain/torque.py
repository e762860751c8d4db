"""The whole-number sums of a torque sign-off, the same at both ends. The general sums are in `trade.torque_tool`."""

from __future__ import annotations

from app.domain.canonical import LARGEST_WHOLE
from app.domain.packet import Stage


def at_fastener(reading_mnm: int, wrench_um: int, extension_um: int, cosine_ppm: int) -> int:
    """Torque at the fastener when the wrench reads this much with an extension on it.

    Units:  mN·m; lengths in µm (grip to drive, drive to fastener); cosine of the extension's angle in millionths.
    Rounds half up to a whole mN·m.
    Source: T = setting·(L + E·cos θ)/L, statics; printed for θ = 0 and 90° in a torque wrench maker's manual
            (reference check K-21).
    """
    numerator = reading_mnm * (wrench_um * 1_000_000 + extension_um * cosine_ppm)
    denominator = wrench_um * 1_000_000
    return (2 * numerator + denominator) // (2 * denominator)


def setting_for(torque_mnm: int, wrench_um: int, extension_um: int, cosine_ppm: int) -> int | None:
    """What to set on the wrench so that the fastener gets this torque; `None` when the extension undoes the wrench.

    Units and source as `at_fastener`. Rounds half up to a whole mN·m. So near to undoing it that no whole number of an
    entry holds the setting is undone too.
    """
    arm = wrench_um * 1_000_000 + extension_um * cosine_ppm
    if arm <= 0:
        return None
    setting = (2 * torque_mnm * wrench_um * 1_000_000 + arm) // (2 * arm)
    return setting if abs(setting) <= LARGEST_WHOLE else None


def stage_value_fits(stage: Stage, value: int) -> bool:
    """Whether a value lies in the stage's window (mdeg for a turn, else mN·m). One without ends fits nothing.

    Nothing, or less than nothing, never fits: no joint is tight at zero, whatever window a figure claims.
    """
    low, high = (stage.low_mdeg, stage.high_mdeg) if stage.target_mdeg is not None else (stage.low_mnm, stage.high_mnm)
    return low is not None and high is not None and value > 0 and low <= value <= high
