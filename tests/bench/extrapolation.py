"""How far a profile can be read beyond its heaviest load: one day, and many days, with loads up to 60, 80 and 90 %."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from barwright.analysis.profiles.columns import point_columns
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.fit import INTERVAL_SDS
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.profiles.published import EQUATIONS
from bench.athletes import START, Floats, bend_of, curve
from bench.tables import Table

if TYPE_CHECKING:
    from bench.work import Bench

ATHLETES = 1000
NOISE = 0.03  # m/s
DAY_SD = 0.03
TOPS = (0.6, 0.8, 0.9)
Shape = Callable[[Floats], Floats]


def _curve(lift: str, measure: str) -> Shape:
    one = EQUATIONS[lift, measure]
    return np.vectorize(one.velocity_at, otypes=[np.float64])


squat_curve = _curve("back_squat", "mean_velocity")
bench_curve = _curve("bench_press", "mean_propulsive_velocity")
GROUP, STRAIGHT = None, 0.0
ROWS: tuple[tuple[str, str, Shape | float | None, int, bool], ...] = (
    *(("squat, the group", "back_squat", GROUP, days, False) for days in (1, 10, 30, 150)),
    *(("squat, published curve", "back_squat", squat_curve, days, False) for days in (1, 10, 30, 150)),
    *(("squat, all straight", "back_squat", STRAIGHT, days, False) for days in (1, 10, 30, 150)),
    ("squat, published, maximum tested once", "back_squat", squat_curve, 30, True),
    *(("bench press, the group", "bench_press", GROUP, days, False) for days in (1, 30)),
    *(("bench press, published curve", "bench_press", bench_curve, days, False) for days in (1, 30)),
    *(("bench press, all straight", "bench_press", STRAIGHT, days, False) for days in (1, 30)),
    *(("snatch, the group", "snatch", GROUP, days, False) for days in (1, 30)),
    ("snatch, the group, maximum tested once", "snatch", GROUP, 30, True),
)


def errors(
    prior: LiftPrior, shape: Shape | float | None, days: int, top: float, athletes: int, tested: bool = False
) -> tuple[Floats, Floats, Floats]:
    """Of each athlete: log of estimated over true maximum of the last day, its sd, and the straight line's error.

    shape: a published curve, which everyone's is, shifted by the spread of one-rep velocities; a bend in m/s that all
    have (0: straight lines); None: bends drawn as the prior says the group's are.
    """
    rng, courses, truths, straight = np.random.default_rng(int(100 * top) + days), [], [], []
    shares = np.arange(0.4, top + 0.01, 0.1)
    for _ in range(athletes):
        off, slope = prior.one_rep_sd * rng.normal(), prior.slope + prior.slope_sd * rng.normal()
        maximum = rng.uniform(60, 200) * np.exp(DAY_SD * rng.normal(size=days))
        usual = np.median(maximum)
        load = np.round(2 * usual * shares) / 2
        share = load / maximum[:, None]
        if callable(shape):
            true = off + shape(100 * share)
        else:
            true = curve(prior.one_rep + off, slope, bend_of(prior, shape, slope, rng), share)
        seen = np.maximum(true + NOISE * rng.normal(size=share.shape), 0.03)
        day = np.repeat(START + 3 * np.arange(days), len(shares))
        course = point_columns(day, np.tile(load, days), seen.ravel(), np.full(day.size, 0.02))
        if tested:
            maximum_told = np.round(maximum[:1])
            course = replace(course, max_day=day[:1], max_kg=maximum_told, max_sd=np.full(1, 0.01))
        courses.append(course)
        truths.append(np.log(maximum[-1]))
        line = np.polyfit(load, seen[-1], 1)
        kg = (prior.one_rep - line[1]) / line[0] if line[0] < 0 else np.inf
        straight.append(np.log(np.clip(kg, load.max(), 2.0 * load.max())) - truths[-1])  # nobody would believe more
    fits = fit_courses(courses, [prior] * athletes)
    error = np.array([fit.log_max[-1] for fit in fits]) - np.array(truths)
    return error, np.array([fit.log_max_sd[-1] for fit in fits]), np.array(straight)


def extrapolation(bench: Bench) -> list[Table]:
    """The table."""
    rows = tuple(_row(*row, top) for row in ROWS for top in TOPS)
    notes = (
        "Aimed at: bias at most 1.5 % with loads up to 80 %. Loads from 40 % on in steps of 10 %, reps 0.03 m/s apart.",
        "The group: bends drawn as the prior has them, half-way between published group curves and straight lines of",
        "single athletes. A single day to 80 % cannot tell a bend of 0.04 m/s from none (4.6 % of the maximum): people",
        "who all bend as published, or not at all, are then read 1.4 % too high, or 2 % too low; from ten days on both",
        "are within the aim.",
    )
    columns = (
        "athletes' curves",
        "days",
        "heaviest",
        "bias %",
        "RMSE %",
        "95 %",
        "straight line's bias %",
        "and RMSE %",
    )
    return [Table("Maximum read beyond the heaviest load", columns, rows, notes)]


def _row(name: str, lift: str, shape: Shape | float | None, days: int, tested: bool, top: float) -> tuple[str, ...]:
    error, sd, straight = errors(prior_for(lift), shape, days, top, ATHLETES, tested)
    cover = np.mean(np.abs(error) <= INTERVAL_SDS[95] * sd)
    own, line = np.expm1(error), np.expm1(straight)
    figures = (100 * own.mean(), 100 * np.sqrt(np.mean(own**2)), 100 * cover)
    usual = (100 * line.mean(), 100 * np.sqrt(np.mean(line**2)))
    return (name, str(days), f"{100 * top:.0f} %", *(f"{x:.2f}" for x in (*figures, *usual)))
