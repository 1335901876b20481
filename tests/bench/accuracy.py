"""Accuracy on simulated lifts: under the assumed sensor model, and with what no model knows of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barsim import Options
from bench.cases import SINGLE_ERRORS, Case
from bench.scoring import Score
from bench.summary import (
    PATH_FIGURES,
    VELOCITIES,
    covered,
    figures,
    honesty,
    mean,
    p95,
    quantile,
    rmse,
    share,
    worst_seeds,
)
from bench.tables import Table, against, coverage
from bench.work import Bench

LIFTS = (
    ("snatch", 1), ("clean", 1), ("jerk", 1), ("clean_and_jerk", 1), ("back_squat", 5), ("bench_press", 5),
    ("deadlift", 3),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Target:
    """What a device class is asked for: m/s, m, share of recordings."""

    peak_rmse: float
    peak_p95: float
    mean_rmse: float
    x_median: float
    x_p95: float
    right: float = 1.0


TARGETS = {
    "good": Target(0.008, 0.015, 0.006, 0.008, 0.025),
    "fast": Target(0.008, 0.015, 0.006, 0.008, 0.025),
    "hobby": Target(0.020, 0.040, 0.015, 0.015, 0.040),
    "poor": Target(0.040, 0.080, 0.030, 0.025, 0.070, 0.99),
}
# a bar on the back that goes up and down by 3 mm about once a second, at 0.02 m/s, hides where a rep ends at 0.03
UNSTEADY = tuple(
    Case(lift, "good", 5, label=f"{lift} x5, 3 mm up and down", options=Options(sway_up=1.0))
    for lift in ("back_squat", "bench_press")
)
VELOCITY_COLUMNS = (
    "class", "lift", "sets", "reps right %", "peak v RMSE m/s", "peak v p95", "in 2u %", "RMSE/u", "mean v RMSE m/s",
    "in 2u %", "RMSE/u", "CPU ms",
)  # fmt: skip
PATH_COLUMNS = (
    "class", "lift", "path x median mm", "path x p95 mm", "x in 2u %", "path z median mm", "path z p95 mm", "z in 2u %",
    "other measures in 2u %", "fore-aft figures in 2u %", "lowest of one measure", "no figure",
)  # fmt: skip


def accuracy(bench: Bench) -> list[Table]:
    """Every class and lift with the sensor the analysis assumes."""
    return _tables(bench, "Accuracy, sensor as assumed", "off", UNSTEADY)


def mismatch(bench: Bench) -> list[Table]:
    """The same with bias walk, ramps, g-sensitivity, whip, tilt, off-centre mounting and delays all at once."""
    return _tables(bench, "Accuracy, typical unmodelled errors", "typical")


def single_errors(bench: Bench) -> list[Table]:
    """One unmodelled error at a time on a snatch: what each one costs."""
    names = ("off", *SINGLE_ERRORS, "typical")
    cases = [Case("snatch", device, 1, name, label=name) for device in ("good", "hobby") for name in names]
    scores = bench.scores("single errors", cases)
    return _two("Snatch, one unmodelled error at a time", cases, scores)


def _tables(bench: Bench, title: str, unmodelled: str, more: tuple[Case, ...] = ()) -> list[Table]:
    cases = [*(Case(lift, device, reps, unmodelled) for device in TARGETS for lift, reps in LIFTS), *more]
    return _two(title, cases, bench.scores(title, cases))


def _two(title: str, cases: Sequence[Case], scores: Sequence[Sequence[Score]]) -> list[Table]:
    rows = list(zip(cases, scores, strict=True))
    notes = [f"{c.device} {c.title}, seeds: {worst_seeds(s)}" for c, s in rows if _misses(c, s)]
    return [
        Table(f"{title}: velocity", VELOCITY_COLUMNS, tuple(velocity_row(c, s) for c, s in rows), tuple(notes)),
        Table(f"{title}: path", PATH_COLUMNS, tuple(path_row(c, s) for c, s in rows)),
    ]


def velocity_row(case: Case, scores: Sequence[Score]) -> tuple[str, ...]:
    """Reps and velocities of one row beside their targets."""
    target = TARGETS.get(case.device or "")
    peak, average = figures(scores, "peak_velocity"), figures(scores, "mean_velocity")
    right = share(scores, lambda one: one.right)
    met = "" if target is None else " met" if right >= target.right else " NOT met"
    limits = (target.peak_rmse, target.peak_p95, target.mean_rmse) if target else (None, None, None)
    return (
        case.device or "encoder", case.title, str(len(scores)), f"{100 * right:.1f}{met}",
        against(rmse(peak), limits[0]), against(p95(peak), limits[1]), coverage(covered(peak)), _ratio(honesty(peak)),
        against(rmse(average), limits[2]), coverage(covered(average)), _ratio(honesty(average)),
        f"{1000 * sum(one.cpu_s for one in scores) / len(scores):.0f}",
    )  # fmt: skip


def path_row(case: Case, scores: Sequence[Score]) -> tuple[str, ...]:
    """Path and everything else of one row beside its targets."""
    target = TARGETS.get(case.device or "")
    names = sorted({name for one in scores for name in one.figures} - VELOCITIES)
    others = [name for name in names if name not in PATH_FIGURES]
    by_name = {name: covered(figures(scores, name)) or 0.0 for name in names}
    lowest = min(by_name, key=lambda name: by_name[name], default=None)
    reps = max(1, sum(len(one.true) for one in scores))
    return (
        case.device or "encoder", case.title,
        against(quantile(scores, lambda s: s.x_error_m, 0.5), target.x_median if target else None, 1, 1000),
        against(quantile(scores, lambda s: s.x_error_m, 0.95), target.x_p95 if target else None, 1, 1000),
        coverage(mean(scores, lambda s: s.x_inside)),
        against(quantile(scores, lambda s: s.z_error_m, 0.5), None, 1, 1000),
        against(quantile(scores, lambda s: s.z_error_m, 0.95), None, 1, 1000),
        coverage(mean(scores, lambda s: s.z_inside)), coverage(covered(figures(scores, *others))),
        coverage(covered(figures(scores, *(PATH_FIGURES & set(names))))),
        f"{lowest} {100 * by_name[lowest]:.0f}" if lowest else "-",
        f"{sum(one.missing for one in scores) / reps:.2f} a rep",
    )  # fmt: skip


def _ratio(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _misses(case: Case, scores: Sequence[Score]) -> bool:
    cells = (*velocity_row(case, scores), *path_row(case, scores))
    return any("NOT met" in cell or cell.endswith(" low") for cell in cells)
