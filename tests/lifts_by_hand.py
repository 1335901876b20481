"""Snatches written down by hand: figures and a plain path, for tests of what is made of them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Phase, Quality, Rep, RepPath, SetAnalysis
from barwright.analysis.technique.seen import SeenRep

DAY = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
USUAL = {
    "forward_off_floor": (0.001, "m"), "early_fall": (0.0, "m/s"), "x_at_knee": (-0.045, "m"),
    "velocity_at_knee": (1.15, "m/s"), "velocity_dip": (0.02, "m/s"), "forward_in_transition": (-0.002, "m"),
    "z_at_peak_velocity": (0.72, "m"), "swing_to_mid_turnover": (0.05, "m"), "peak_velocity": (1.85, "m/s"),
    "drop_to_catch": (0.14, "m"), "loop_to_catch": (-0.06, "m"), "catch_bounce": (0.002, "m"),
    "drift_in_recovery": (0.015, "m"), "peak_height": (1.05, "m"),
}  # fmt: skip
# a few millimetres and per cent either way, the same every time: no rep is like the last
WANDER = (0.0, 0.6, -0.8, 1.0, -0.4, 0.2, -1.0, 0.7, -0.1, 0.4)
SPREAD = {"m": 0.006, "m/s": 0.02}


def figures(number: int, **changes: float) -> dict[str, Estimate]:
    """Figures of the rep with this number; changes are added to the usual ones."""
    out = {}
    for k, (name, (value, unit)) in enumerate(USUAL.items()):
        wander = WANDER[(number + 3 * k) % len(WANDER)] * SPREAD[unit] * (name not in ("early_fall", "catch_bounce"))
        out[name] = Estimate(value + wander + changes.get(name, 0.0), 0.002 if unit == "m" else 0.01, unit)
    return out


def reps(days: int, each: int = 3, first: int = 0, load_kg: float = 80.0, **changes: float) -> list[SeenRep]:
    """Made reps, `each` a day, every third day from day `first` on; changes are added to every one."""
    return [
        SeenRep(f"set_{first + d}", k, DAY + timedelta(days=3 * (first + d)), load_kg, "made",
                figures(each * (first + d) + k, **changes))
        for d in range(days) for k in range(each)
    ]  # fmt: skip


def path(forward: float = 0.0) -> RepPath:
    """A flattened S of 1.2 s after 0.2 s of rest; forward is added bit by bit on the way up."""
    t = np.arange(0.0, 2.4, 0.01)
    s = np.clip((t - 0.2) / 1.2, 0.0, 1.0)
    z = 1.1 * s**3 * (10 - 15 * s + 6 * s**2)
    x = -0.05 * np.sin(np.pi * np.clip(s / 0.55, 0, 1)) + 0.03 * np.sin(np.pi * np.clip((s - 0.55) / 0.25, 0, 1))
    x = x - 0.04 * np.clip((s - 0.8) / 0.2, 0, 1) + forward * s
    vz, vx = np.gradient(z, t), np.gradient(x, t)
    u = np.full_like(t, 0.003)
    return RepPath(t, z, vz, np.gradient(vz, t), u, u, x, vx, u)


def analysis(
    number: int, outcome: str = "made", count: int = 3, forward_known: bool = True, **changes: float
) -> SetAnalysis:
    """A set of reps as the analysis would answer it."""
    found = []
    for k in range(count):
        told = figures(3 * number + k, **changes)
        phases = (
            Phase("first_pull", 0.2, 0.75, 0.9, 0.01, 0.01),
            Phase("transition", 0.75, 0.9, 0.9, 0.01, 0.01),
            Phase("second_pull", 0.9, 1.05, 0.95, 0.01, 0.005),
        )
        heights = {"peak_velocity", "drop_to_catch", "peak_height"}
        measures = {name: f for name, f in told.items() if name in heights}
        rest = {name: f for name, f in told.items() if name not in heights}
        found.append(Rep(k, outcome, 0.2, 2.3, measures, phases, rest, path(changes.get("x_at_knee", 0.0))))
    quality = Quality("good", ("All is well.",), 1000, 2.4, 416.0, 0.0, forward_known=forward_known, horizontal=True)
    return SetAnalysis("by-hand", "snatch", quality, tuple(found))


def days_of(sets: Sequence[SetAnalysis]) -> dict[str, SetAnalysis]:
    """Sets by the day they begin on, every third day."""
    return {(DAY + timedelta(days=3 * k)).date().isoformat(): one for k, one in enumerate(sets)}
