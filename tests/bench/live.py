"""Figures told while a set goes on against those of the whole set."""

from __future__ import annotations

import sys

import numpy as np

from barsim import Unmodelled, simulate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.live.run import overlap
from bench.tables import Table
from bench.work import Bench
from live.follow import follow


def live(bench: Bench) -> list[Table]:
    """Provisional against final."""
    return [_provisional(max(2, bench.lifts // 20))]


def _provisional(sets: int) -> Table:
    """First sightings against the analysis of the whole set."""
    rows = []
    lifts = (("snatch", 2), ("clean", 2), ("jerk", 2), ("back_squat", 4), ("bench_press", 4), ("deadlift", 3))
    every: list[float] = []
    for title, device, typical in (
        ("good", "good", False),
        ("hobby", "hobby", False),
        ("good, mismatch", "good", True),
    ):
        for lift, reps in lifts:
            print(f"live: provisional {title} {lift}", file=sys.stderr, flush=True)
            apart, lag, finals_seen, cpu_s, looks = [], [], 0, 0.0, 0
            for seed in range(sets):
                odd = Unmodelled.typical(np.random.default_rng(seed)) if typical else None
                recording = simulate(lift, seed=600 + seed, reps=reps, device=device, unmodelled=odd).recording
                told, finals = follow(recording, lift), analyse_set(recording, LIFTS[lift]).reps
                finals_seen, cpu_s, looks = finals_seen + len(finals), cpu_s + told.cpu_s, looks + told.looks
                for one in told.told:
                    rep = one.change.rep
                    final = [f for f in finals if overlap(f.start_s, f.stop_s, rep.start_s, rep.stop_s)]
                    if one.change.corrected or not final:
                        continue
                    now, then = rep.measures["peak_velocity"], final[0].measures["peak_velocity"]
                    if now.value is not None and then.value is not None and now.u:
                        apart.append(abs(now.value - then.value) / (2 * now.u))
                        lag.append(one.at_s - rep.stop_s)
            every += apart
            rows.append(
                (
                    title, lift, f"{len(apart)} of {finals_seen}", f"{100 * np.mean(np.array(apart) < 1):.0f}",
                    f"{np.median(lag):.1f}", f"{1000 * cpu_s / max(1, looks):.0f}",
                    f"{looks / max(1, finals_seen):.1f}",
                )
            )  # fmt: skip
    share = float(np.mean(np.array(every) < 1))
    columns = ("device", "lift", "told before closing", "% within 2u", "lag s", "ms a look", "looks a rep")
    note = f"All: {100 * share:.1f} % of provisional peak velocities within 2u of the final ones (>= 95 % is aimed at)."
    return Table(
        "Live: provisional against final", columns, tuple(rows), (note, "Lag: from the rep's end, in its time.")
    )
