"""What readiness says of days that are as usual, and of days that are not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from barwright.analysis.profiles.belief import Belief
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.points import LoadVelocityPoint
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.today import VerdictParams, readiness_today
from bench.athletes import Athlete, Floats, Habits, athlete, curve
from bench.other_athletes import OtherAthlete, other_athlete, velocity
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
OTHERS: tuple[tuple[str, tuple[float, float]], ...] = (
    ("other people, 3 sets", (0.02, 0.05)),
    ("other people, days differ by 2 %", (0.02, 0.02)),
    ("other people, days differ by 5 %", (0.05, 0.05)),
)
FIRST_SEED = 700_000  # none of these athletes was ever looked at while limits or priors were chosen
COLUMNS = (
    "no change: up", "down", "false", "-5 %: down", "by the rule", "u %", "-3 %: down", "-8 %: down", "+5 %: up",
    "any day: false",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Known:
    """One athlete, and the belief from all days but the last."""

    one: Athlete
    belief: Belief


def known(prior: LiftPrior, habits: Habits, athletes: int) -> list[Known]:
    """Athletes with their beliefs."""
    drawn = [athlete(FIRST_SEED + seed, prior, habits) for seed in range(athletes)]
    fits = fit_courses([one.columns() for one in drawn], [prior] * athletes)
    return [Known(one, fit.belief) for one, fit in zip(drawn, fits, strict=True)]


@dataclass(frozen=True, slots=True)
class Told:
    """One day: its true change (log), what was said of it, and u of the change, %."""

    off: float
    verdict: str
    u: float


def verdicts(
    people: list[Known], shares: tuple[float, ...], change: float | None, bad: float = 0.03, seed: int = 1
) -> list[Told]:
    """What is said of a day two days later; change: log departure, None: drawn from the athlete's days."""
    rng, out = np.random.default_rng(seed), []
    for who in people:
        one = who.one
        usual = float(one.usual_kg[-1]) * float(np.exp(np.sqrt(2 * one.drift) * rng.normal()))
        off = one.day_sd * rng.normal() if change is None else change
        loads = np.round(2 * np.array(shares) * usual) / 2
        true = curve(one.one_rep, one.slope, one.bend, loads / (usual * np.exp(off)))
        slow = (rng.random(len(loads)) < bad) * rng.uniform(0.1, 0.3, len(loads))
        seen = np.maximum(true - slow + one.noise * rng.normal(size=len(loads)), 0.03)
        out.append(_said(who.belief, int(one.day[-1]) + 2, loads, seen, off))
    return out


def other_verdicts(people: list[tuple[OtherAthlete, Belief]], change: float | None, seed: int = 1) -> list[Told]:
    """The same of other people: three sets of a plan rounded to 2.5 kg."""
    rng, out = np.random.default_rng(seed), []
    for one, belief in people:
        off = one.day_sd * rng.normal() if change is None else change
        loads = np.round(np.array([0.6, 0.7, 0.8]) * one.usual_kg / 2.5) * 2.5
        seen = velocity(one.off, loads / (one.usual_kg * np.exp(off)), rng, 0.02)
        out.append(_said(belief, one.last + 2, loads, seen, off))
    return out


def _said(belief: Belief, day: int, loads: Floats, seen: Floats, off: float) -> Told:
    pairs = zip(loads.tolist(), seen.tolist(), strict=True)
    points = [LoadVelocityPoint(load, Estimate(v, U, "m/s"), day) for load, v in pairs]
    found = readiness_today(belief, day, points)
    return Told(off, found.verdict.value, found.change.u or 0.0)


def by_the_rule(u_percent: float, fall_percent: float, rule: VerdictParams | None = None) -> float:
    """The chance that a fall is called down when u is normal and honest: what the rule itself promises."""
    asked, normal = rule or VerdictParams(), NormalDist()
    u, fall = u_percent / 100, -np.log1p(-fall_percent / 100)
    worth = -np.log1p(-asked.smallest_percent / 100) + normal.inv_cdf(asked.odds) * u
    return normal.cdf((fall - max(asked.least_sds(up=False) * u, worth)) / u)


def share(found: list[Told], verdict: str) -> float:
    """Share of verdicts."""
    return sum(one.verdict == verdict for one in found) / len(found)


def readiness_verdicts(bench: Bench) -> list[Table]:
    """The table."""
    rows = [_row(*row) for row in ROWS]
    prior = prior_for("back_squat")
    for name, day_sd in OTHERS:
        drawn = [other_athlete(FIRST_SEED + seed, prior, (20, 120), day_sd) for seed in range(ATHLETES)]
        fits = fit_courses([one.seen for one in drawn], [prior] * ATHLETES)
        people = [(one, fit.belief) for one, fit in zip(drawn, fits, strict=True)]
        rows.append(_cells(name, partial(other_verdicts, people)))
    notes = (
        "Aimed at: false verdicts on days without a change at most 5 %, days 5 % down called down in at least 80 %,",
        "with three warm-up sets of u 0.02 m/s (first row; days of these athletes differ by 2-5 %, reps by 0.02 m/s,",
        "3 % of reps are bad). `by the rule`: how many days 5 % down the rule finds when u (next column, median) is",
        "honest; 80 % is found as long as u is at most 1.96 %. `any day: false`: share of days drawn at random on",
        "which up or down was said although the day was less than 1 % that way, or the other way. Other people: days",
        "that hang together, Student-t errors, strength in waves, a written plan in 2.5 kg steps, the published curve.",
    )
    head = ("history and warm-ups", *COLUMNS)
    return [Table("Readiness: what is said of which day, % of days", head, tuple(rows), notes)]


def _row(name: str, lift: str, habits: Habits, shares: tuple[float, ...]) -> tuple[str, ...]:
    people = known(prior_for(lift), habits, ATHLETES)
    return _cells(name, lambda change: verdicts(people, shares, change))


def _cells(name: str, day: Callable[[float | None], list[Told]]) -> tuple[str, ...]:
    def said(percent: float, verdict: str) -> float:
        return share(day(float(np.log1p(percent / 100))), verdict)

    none, fall, drawn = day(0.0), day(float(np.log(0.95))), day(None)
    up, down = share(none, "up"), share(none, "down")
    wrong = [(one.verdict == "up" and one.off < 0.01) or (one.verdict == "down" and one.off > -0.01) for one in drawn]
    promised = np.mean([by_the_rule(one.u, 5.0) if one.verdict != "not_enough_data" else 0.0 for one in fall])
    u = float(np.median([one.u for one in fall])) / 100
    cells = (
        up, down, up + down, share(fall, "down"), promised, u, said(-3, "down"), said(-8, "down"), said(5, "up"),
        np.mean(wrong),
    )  # fmt: skip
    return (name, *(f"{100 * cell:.1f}" for cell in cells))
