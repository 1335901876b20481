"""What readiness says of days that are as usual, and of days that are not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from barwright.analysis.profiles.belief import Belief
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.points import LoadVelocityPoint
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.today import readiness_today
from bench.athletes import Athlete, Habits, athlete, curve
from bench.tables import Table

if TYPE_CHECKING:
    from bench.work import Bench

ATHLETES = 1000
HISTORY = Habits(days=(20, 120), noise=(0.02, 0.02))
U = 0.02
ROWS: tuple[tuple[str, str, Habits, tuple[float, ...]], ...] = (
    ("squat, 3 sets", "back_squat", HISTORY, (0.6, 0.7, 0.8)),
    ("squat, 3 sets, days differ by 2 %", "back_squat", replace(HISTORY, day_sd=(0.02, 0.02)), (0.6, 0.7, 0.8)),
    ("squat, 3 sets, days differ by 5 %", "back_squat", replace(HISTORY, day_sd=(0.05, 0.05)), (0.6, 0.7, 0.8)),
    ("squat, 3 light sets", "back_squat", HISTORY, (0.4, 0.5, 0.6)),
    ("squat, 1 set", "back_squat", HISTORY, (0.7,)),
    ("squat, 5 sets", "back_squat", HISTORY, (0.5, 0.6, 0.7, 0.75, 0.8)),
    ("squat, reps differ by 0.035 m/s", "back_squat", replace(HISTORY, noise=(0.035, 0.035)), (0.6, 0.7, 0.8)),
    ("squat, 5-10 days known", "back_squat", replace(HISTORY, days=(5, 10)), (0.6, 0.7, 0.8)),
    ("bench press, 3 sets", "bench_press", HISTORY, (0.6, 0.7, 0.8)),
    ("snatch, 3 sets", "snatch", HISTORY, (0.6, 0.7, 0.8)),
)
COLUMNS = ("no change: up", "down", "false", "-5 %: down", "-3 %: down", "-8 %: down", "+5 %: up", "any day: false")


@dataclass(frozen=True, slots=True)
class Known:
    """One athlete, and the belief from all days but the last."""

    one: Athlete
    belief: Belief


def known(prior: LiftPrior, habits: Habits, athletes: int) -> list[Known]:
    """Athletes with their beliefs."""
    drawn = [athlete(seed, prior, habits) for seed in range(athletes)]
    fits = fit_courses([one.columns() for one in drawn], [prior] * athletes)
    return [Known(one, fit.belief) for one, fit in zip(drawn, fits, strict=True)]


def verdicts(
    lift: str, people: list[Known], shares: tuple[float, ...], change: float | None, bad: float = 0.03, seed: int = 1
) -> list[tuple[float, str]]:
    """The true change and the verdict two days later, change: log departure, None: drawn from the athlete's days."""
    rng, out = np.random.default_rng(seed), []
    for who in people:
        one = who.one
        usual = float(one.usual_kg[-1]) * float(np.exp(np.sqrt(2 * one.drift) * rng.normal()))
        off = one.day_sd * rng.normal() if change is None else change
        loads = np.round(2 * np.array(shares) * usual) / 2
        true = curve(one.one_rep, one.slope, one.bend, loads / (usual * np.exp(off)))
        slow = (rng.random(len(loads)) < bad) * rng.uniform(0.1, 0.3, len(loads))
        seen = np.maximum(true - slow + one.noise * rng.normal(size=len(loads)), 0.03)
        day = int(one.day[-1]) + 2
        pairs = zip(loads.tolist(), seen.tolist(), strict=True)
        points = [LoadVelocityPoint(load, Estimate(v, U, "m/s"), day) for load, v in pairs]
        out.append((off, readiness_today(who.belief, day, points).verdict.value))
    return out


def share(found: list[tuple[float, str]], verdict: str) -> float:
    """Share of verdicts."""
    return sum(said == verdict for _, said in found) / len(found)


def readiness_verdicts(bench: Bench) -> list[Table]:
    """The table."""
    rows = tuple(_row(*row) for row in ROWS)
    notes = (
        "Aimed at: false verdicts on days without a change at most 5 %, days 5 % down called down in at least 80 %,",
        "with three warm-up sets of u 0.02 m/s (first row; days of these athletes differ by 2-5 %, reps by 0.02 m/s,",
        "3 % of reps are bad). `any day: false`: share of days drawn at random on which up or down was said although",
        "the day was less than 1 % that way, or the other way.",
    )
    return [Table("Readiness: what is said of which day, % of days", ("history and warm-ups", *COLUMNS), rows, notes)]


def _row(name: str, lift: str, habits: Habits, shares: tuple[float, ...]) -> tuple[str, ...]:
    people = known(prior_for(lift), habits, ATHLETES)

    def said(percent: float, verdict: str) -> float:
        return share(verdicts(lift, people, shares, float(np.log1p(percent / 100))), verdict)

    up, down = said(0, "up"), said(0, "down")
    drawn = verdicts(lift, people, shares, None)
    wrong = [(v == "up" and off < 0.01) or (v == "down" and off > -0.01) for off, v in drawn]
    cells = (up, down, up + down, said(-5, "down"), said(-3, "down"), said(-8, "down"), said(5, "up"), np.mean(wrong))
    return (name, *(f"{100 * cell:.1f}" for cell in cells))
