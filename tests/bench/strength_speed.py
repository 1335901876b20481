"""Time for profiles: a whole club's refit, one athlete's, and one readiness answer with five years behind it."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.fit import fit_profile, learn
from barwright.analysis.profiles.points import LoadVelocityPoint
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.loads import PlannedSet, suggest_loads
from barwright.analysis.readiness.today import readiness_today
from bench.athletes import Habits, athlete
from bench.tables import Table, against

if TYPE_CHECKING:
    from bench.work import Bench

COURSES, SESSIONS = 1000, 200
FIVE_YEARS = 5 * 150  # days of training with one lift


def cpu_s(work: Callable[[], object], runs: int) -> float:
    """Median CPU seconds of a run."""
    taken = []
    for _ in range(runs):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return float(np.median(taken))


def strength_speed(bench: Bench) -> list[Table]:
    """The table."""
    prior = prior_for("back_squat")
    habits = Habits(days=(SESSIONS, SESSIONS))
    club = [athlete(seed, prior, habits).columns() for seed in range(COURSES)]
    whole = cpu_s(lambda: fit_courses(club, [prior] * COURSES), 3)
    long = athlete(1, prior, Habits(days=(FIVE_YEARS, FIVE_YEARS)))
    points = long.points()
    one = cpu_s(lambda: learn(prior, points), 7)
    belief, profile = learn(prior, points), fit_profile("back_squat", points)
    day, usual = int(long.day[-1]) + 2, float(long.usual_kg[-1])
    warm_ups = [
        LoadVelocityPoint(round(share * usual), Estimate(0.32 + 1.5 * (1 - share), 0.02, "m/s"), day)
        for share in (0.6, 0.7, 0.8)
    ]
    plan = [PlannedSet(percent=percent) for percent in (70.0, 75.0, 80.0, 85.0)]

    def answer() -> object:
        ready = readiness_today(belief, day, warm_ups)
        return suggest_loads(plan, profile, ready)

    answer()
    rows = (
        (f"{COURSES} athletes x {SESSIONS} sessions refitted, CPU, median of 3", f"{against(whole, 2.0, 2)} s"),
        (f"one athlete, {FIVE_YEARS} sessions ({len(points)} points), CPU", f"{1000 * one:.1f} ms"),
        ("readiness and four loads from what is kept of that history, CPU", f"{1000 * cpu_s(answer, 51):.2f} ms"),
    )
    return [Table("Speed: profiles and readiness, one core", ("figure", "value"), rows)]
