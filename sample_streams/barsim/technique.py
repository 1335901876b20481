"""Lifters with a way of their own, and faults put into their lifts by name and size.

The sizes are in multiples of the deviation a coach would call a fault (common practice, no source), kept here apart
from the limits of any analysis: `DEVIATION`. A symptom's true size is read from the motion itself: `true_symptoms`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from barsim.bar import BarCurves
from barsim.options import Faults, PullStyle
from barsim.pulls import STYLES
from barsim.truth import RepTruth

Floats = NDArray[np.float64]

DEVIATION: dict[str, float] = {
    "S1": 0.015, "S2": 0.08, "S3": 0.030, "S4": 0.14, "S5": 0.035, "S6": 0.15, "S7": 0.020, "S8": 0.070, "S9": 0.035,
    "S10": 0.12, "S11": 0.060, "S12": 0.035, "S13": 0.045, "S14": 0.020, "S15": 0.040,
    "C1": 0.015, "C2": 0.030, "C3": 0.15, "C4": 0.070, "C5": 0.035, "C6": 0.060, "C7": 0.035, "C8": 0.16,
    "J1": 0.018, "J2": 0.050, "J3": 0.050, "J4": 0.022, "J5": 0.12, "J6": 0.040, "J7": 0.025, "J8": 0.050,
}  # fmt: skip
_MADE_OF: dict[str, Callable[[float], Faults]] = {
    "S1": lambda d: Faults(forward_off_floor=(d + 0.006) / 0.83),
    "S2": lambda d: Faults(jerked_start=d),
    "S3": lambda d: Faults(too_far_rear=-d / 0.95),
    "S4": lambda d: Faults(weak_first_pull=d),
    "S5": lambda d: Faults(too_far_rear=d / 0.95),
    "S6": lambda d: Faults(velocity_dip=d),
    "S7": lambda d: Faults(forward_in_transition=(d + 0.002) / 0.9),
    "S8": lambda d: Faults(early_finish=d / 0.125),
    "S9": lambda d: Faults(forward_jump=d),
    "S10": lambda d: Faults(weak_second_pull=d),
    "S11": lambda d: Faults(slow_under=d),
    "S12": lambda d: Faults(forward_in_turnover=d),
    "S13": lambda d: Faults(far_rear_catch=d),
    "S14": lambda d: Faults(bounce=d),
    "S15": lambda d: Faults(drift=d),
    "C8": lambda d: Faults(slow_recovery=min(d / 0.62, 0.8)),
    "J1": lambda d: Faults(dip_forward=d),
    "J2": lambda d: Faults(dip_depth_m=0.19 + d),
    "J3": lambda d: Faults(dip_depth_m=max(0.19 - d, 0.045)),
    "J4": lambda d: Faults(drive_forward=d),
    "J5": lambda d: Faults(weak_drive=d),
    "J6": lambda d: Faults(receive_forward=d),
    "J7": lambda d: Faults(press_out=d),
    "J8": lambda d: Faults(jerk_drift=d + 0.02),
}
_LIKE = {"C1": "S1", "C2": "S3", "C3": "S6", "C4": "S8", "C5": "S9", "C6": "S11", "C7": "S12"}


def faulty(sizes: Mapping[str, float]) -> Faults:
    """The faults with these codes, each by its multiple of DEVIATION, all in one lift."""
    out = Faults()
    for code, multiple in sizes.items():
        one = _MADE_OF[_LIKE.get(code, code)](DEVIATION[code] * multiple)
        changed = {f.name: getattr(one, f.name) for f in fields(Faults) if getattr(one, f.name) != f.default}
        for name, value in changed.items():
            have = getattr(out, name)
            changed[name] = value if have is None else have + value
        out = replace(out, **changed)
    return out


def own_style(lift: str, rng: np.random.Generator) -> PullStyle:
    """One lifter's own way: a middle within the trade's range of each quantity, and a rep-to-rep spread about it.

    The bar's path wanders by 1-2 cm either way from rep to rep, heights and times by a few per cent (from memory).
    """
    trade = STYLES[lift]

    def narrow(span: tuple[float, float], half: float) -> tuple[float, float]:
        middle = float(rng.uniform(*span))
        return (middle - half, middle + half)

    return replace(
        trade,
        knee_velocity=narrow(trade.knee_velocity, 0.02),
        second_pull_s=narrow(trade.second_pull_s, 0.01),
        arm_pull=narrow((0.84, 0.95), 0.02),
        drop=narrow((0.10, 0.18), 0.02),
        rear=narrow((0.03, 0.07), float(rng.uniform(0.010, 0.020))),
        swing=narrow((0.03, 0.07), float(rng.uniform(0.010, 0.020))),
        loop=narrow((0.04, 0.08), float(rng.uniform(0.010, 0.020))),
        knee_spread=narrow((0.97, 1.03), 0.03),
    )


def true_symptoms(bar: BarCurves, rep: RepTruth) -> dict[str, float]:
    """The true size of each symptom of a pull, SI units, by plain reading of the exact motion on a 1 ms grid.

    Names as in the published path measures; x from lift-off. Needs the rep's times on the motion's own clock.
    """
    e = rep.edges
    t = np.arange(e["lift_off"], e["settled"], 0.001)
    z, v, _ = bar.z.evaluate(t)
    x, vx, _ = bar.x.evaluate(t)
    x, rise = x - x[0], z - z[0]
    knee, hip, peak, apex, catch = (
        int(np.searchsorted(t, e[name]))
        for name in ("first_pull_end", "transition_end", "peak_velocity", "apex", "catch")
    )
    low = rise[: peak + 1] <= 0.15
    early = v[: peak + 1][low]
    rear = int(np.argmin(x[: peak + 1]))
    swing = rear + int(np.argmax(x[rear : apex + 1]))
    return {
        "forward_off_floor": float(x[: peak + 1][low].max()),
        "early_fall": float((np.maximum.accumulate(early) - early).max()),
        "x_at_knee": float(x[knee]),
        "velocity_at_knee": float(v[knee]),
        "velocity_dip": float(v[knee] - v[knee : hip + 1].min()),
        "forward_in_transition": float(x[hip] - x[knee]),
        "z_at_peak_velocity": float(rise[peak]),
        "forward_swing": float(x[swing] - x[rear]),
        "peak_velocity": float(v[peak]),
        "drop_to_catch": float(z[apex] - z[catch]),
        "loop_to_catch": float(x[catch] - x[swing]),
        "rearward_velocity": float(vx[peak : catch + 1].min()),
    }
