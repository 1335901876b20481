"""What is expected of an athlete before the first rep: line and one-rep velocity of each lift, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.quantities.lifts import LIFTS

FIRST_SHARE, FIRST_SD = 0.78, 0.20  # the heaviest load of a usual day as a share of the maximum, and how wide (log):
# two days of three between 64 and 95 %; common practice, no source
LEAST_SLOPE = 0.2  # m/s; no lifter's line is flatter
BEND_SD = 0.03  # m/s; lines are as good as parabolas for some (Banyard et al. 2018), and group curves bend by as much

SQUAT = (
    "one-rep velocity 0.32 ± 0.03 m/s (Sánchez-Medina et al. 2017, 80 men), a little wider for lifters of other levels "
    "(0.23 ± 0.05, Helms et al. 2017); slope of its mean-velocity equation over 40-100 %"
)
BENCH = (
    "one-rep velocity 0.16 ± 0.04 m/s (González-Badillo and Sánchez-Medina 2010, 120 men); slope of its equation "
    "over 40-100 %"
)
DEADLIFT = "one-rep velocity about 0.14 ± 0.05 m/s (Helms et al. 2017); slope from memory, no table seen"
PRESS = "one-rep velocity about 0.19 ± 0.05 m/s (Balsalobre-Fernández et al. 2018); slope as in the bench press"
ROW = "one-rep velocity about 0.52 ± 0.04 m/s and slope of the bench pull (Sánchez-Medina et al. 2014)"
SNATCH = (
    "peak velocity near the maximum 1.6-1.9 m/s and 0.010-0.015 m/s less for each per cent: plausible ranges of "
    "published competition lifts, from memory"
)
CLEAN = "peak velocity near the maximum 1.2-1.6 m/s, slope as in the snatch: plausible ranges, from memory"
POWER_CLEAN = (
    "hang power clean, peak velocity 1.74 ± 0.30 m/s at the maximum (Suchomel et al. 2024); slope as in the clean"
)
JERK = "peak velocity of the drive 1.3-1.9 m/s: plausible range, from memory; slope wide"
PULL = "a pull may be heavier than the lift it trains: wide, no source"
OTHER = "no source: wide"


@dataclass(frozen=True, slots=True)
class LiftPrior:
    """Expected curve of one lift: one-rep velocity, slope and bend (`curve.py`), m/s, each with its sd.

    measure names the velocity meant (`mean_velocity` or `peak_velocity`); source says where the figures come from.
    """

    lift: str
    measure: str
    one_rep: float
    one_rep_sd: float
    slope: float
    slope_sd: float
    source: str
    bend: float = 0.0
    bend_sd: float = BEND_SD
    day_sd: float = (
        0.03  # sd of the days' maxima about the usual one, relative: CV 2-5 % (Grgic et al. 2020, from memory)
    )
    drift: float = 1.0e-5  # variance the logarithm of the usual maximum gains a day: 0.8 % a week; common practice
    spread: float = 0.03  # m/s, reps about the line beside their own u: SEM 0.03-0.04 (Banyard et al. 2018)


_FIGURES: dict[str, tuple[float, float, float, float, str]] = {
    "back_squat": (0.32, 0.035, 1.51, 0.20, SQUAT),
    "front_squat": (0.32, 0.06, 1.51, 0.25, SQUAT),
    "overhead_squat": (0.34, 0.08, 1.5, 0.3, SQUAT),
    "bench_press": (0.16, 0.04, 1.60, 0.20, BENCH),
    "press": (0.19, 0.05, 1.5, 0.25, PRESS),
    "deadlift": (0.15, 0.05, 1.15, 0.25, DEADLIFT),
    "bent_over_row": (0.52, 0.05, 1.44, 0.25, ROW),
    "snatch": (1.72, 0.12, 1.25, 0.25, SNATCH),
    "clean": (1.40, 0.12, 1.25, 0.25, CLEAN),
    "clean_and_jerk": (1.40, 0.12, 1.25, 0.25, CLEAN),
    "power_clean": (1.74, 0.20, 1.3, 0.3, POWER_CLEAN),
    "hang_power_clean": (1.74, 0.30, 1.3, 0.3, POWER_CLEAN),
    "jerk": (1.60, 0.15, 1.2, 0.3, JERK),
    "power_jerk": (1.60, 0.15, 1.2, 0.3, JERK),
    "push_press": (1.35, 0.20, 1.2, 0.3, OTHER),
    "snatch_pull": (1.50, 0.20, 1.25, 0.3, PULL),
    "clean_pull": (1.20, 0.20, 1.25, 0.3, PULL),
}
_SNATCH_LIKE = (1.75, 0.20, 1.25, 0.3, SNATCH + "; wider for this variant")
_CLEAN_LIKE = (1.45, 0.20, 1.25, 0.3, CLEAN + "; wider for this variant")
_ANY = {"peak_velocity": (1.5, 0.3, 1.25, 0.35, OTHER), "mean_velocity": (0.3, 0.1, 1.4, 0.35, OTHER)}


_SQUAT_BENDS = (
    "bend 0.032 ± 0.03 m/s at 70 %: 0.040 in its mean-velocity, 0.024 in its propulsive equation, but lines of single "
    "athletes are found as good as parabolas (Banyard et al. 2018)"
)
_BENDS: dict[str, tuple[float, float, str]] = {
    "back_squat": (0.032, BEND_SD, _SQUAT_BENDS),
    "front_squat": (0.032, BEND_SD, _SQUAT_BENDS),
    "overhead_squat": (0.032, BEND_SD, _SQUAT_BENDS),
    "bench_press": (
        -0.015, BEND_SD, "bend -0.015 ± 0.03 m/s: -0.031 in its propulsive equation, 0.016 more in mean velocity as in "
        "the squat",
    ),
    "bent_over_row": (
        -0.025, BEND_SD, "bend half of the -0.050 m/s of its equation: lines of free weights are straight "
        "(García-Ramos et al. 2019)"
    ),
    "deadlift": (0.0, 0.02, "straight (Benavides-Ubric et al. 2020), bend ± 0.02 m/s"),
}  # fmt: skip
_USUAL_BENDS = {
    "peak_velocity": (0.0, 0.02, "straight within ± 0.02 m/s at 70 % (snatch: Sandau and Granacher 2020)"),
    "mean_velocity": (0.0, BEND_SD, "straight within ± 0.03 m/s at 70 %: no source"),
}


def prior_for(lift: str) -> LiftPrior:
    """The prior of a lift of `LIFTS`; KeyError for another."""
    known = LIFTS[lift]
    figures = _FIGURES.get(lift)
    if figures is None and "snatch" in lift:
        figures = _SNATCH_LIKE
    elif figures is None and "clean" in lift:
        figures = _CLEAN_LIKE
    bend, bend_sd, why = _BENDS.get(lift) or _USUAL_BENDS[known.key_velocity]
    one_rep, one_rep_sd, slope, slope_sd, source = figures or _ANY[known.key_velocity]
    return LiftPrior(lift, known.key_velocity, one_rep, one_rep_sd, slope, slope_sd, f"{source}; {why}", bend, bend_sd)
