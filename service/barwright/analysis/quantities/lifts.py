"""The lifts by their trade names, and what each one's pattern of motion is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Pattern(StrEnum):
    """How the bar moves in one rep."""

    PULL_AND_CATCH = "pull_and_catch"  # from rest up to an apex, caught below it, stood up
    PULL = "pull"  # from rest up to an apex, then down again
    DRIVE = "drive"  # a short dip, driven up to an apex, received, held overhead
    PULL_AND_DRIVE = "pull_and_drive"  # clean, then jerk, one rep
    DOWN_UP = "down_up"  # lowered, then lifted to where it began
    UP_DOWN = "up_down"  # lifted, then lowered to where it began


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift. `start` is where the bar rests before a rep: floor, hang, blocks, rack or shoulders.

    `key_velocity` names the measure profiles are drawn with: peak for ballistic lifts, mean for the others.
    swing_m: mean and sd of the fore-aft way between top and bottom, m, of a lift whose bar path is known to slant.
    """

    code: str
    title: str
    pattern: Pattern
    start: str
    key_velocity: str = "peak_velocity"
    swing_m: tuple[float, float] | None = None


_MEAN = "mean_velocity"
# From over the shoulders to the lower chest: common practice, no source.
BENCH_SWING_M = (0.08, 0.02)
_P = Pattern

LIFTS: dict[str, Lift] = {
    lift.code: lift
    for lift in (
        Lift("snatch", "Snatch", _P.PULL_AND_CATCH, "floor"),
        Lift("power_snatch", "Power snatch", _P.PULL_AND_CATCH, "floor"),
        Lift("hang_snatch", "Hang snatch", _P.PULL_AND_CATCH, "hang"),
        Lift("hang_power_snatch", "Hang power snatch", _P.PULL_AND_CATCH, "hang"),
        Lift("block_snatch", "Block snatch", _P.PULL_AND_CATCH, "blocks"),
        Lift("muscle_snatch", "Muscle snatch", _P.PULL_AND_CATCH, "floor"),
        Lift("no_foot_snatch", "Snatch without foot movement", _P.PULL_AND_CATCH, "floor"),
        Lift("deficit_snatch", "Snatch from a deficit", _P.PULL_AND_CATCH, "floor"),
        Lift("tall_snatch", "Tall snatch", _P.PULL_AND_CATCH, "hang"),
        Lift("snatch_balance", "Snatch balance", _P.DRIVE, "shoulders"),
        Lift("clean", "Clean", _P.PULL_AND_CATCH, "floor"),
        Lift("power_clean", "Power clean", _P.PULL_AND_CATCH, "floor"),
        Lift("hang_clean", "Hang clean", _P.PULL_AND_CATCH, "hang"),
        Lift("hang_power_clean", "Hang power clean", _P.PULL_AND_CATCH, "hang"),
        Lift("block_clean", "Block clean", _P.PULL_AND_CATCH, "blocks"),
        Lift("muscle_clean", "Muscle clean", _P.PULL_AND_CATCH, "floor"),
        Lift("no_foot_clean", "Clean without foot movement", _P.PULL_AND_CATCH, "floor"),
        Lift("deficit_clean", "Clean from a deficit", _P.PULL_AND_CATCH, "floor"),
        Lift("tall_clean", "Tall clean", _P.PULL_AND_CATCH, "hang"),
        Lift("clean_and_jerk", "Clean and jerk", _P.PULL_AND_DRIVE, "floor"),
        Lift("jerk", "Jerk", _P.DRIVE, "shoulders"),
        Lift("power_jerk", "Power jerk", _P.DRIVE, "shoulders"),
        Lift("push_press", "Push press", _P.DRIVE, "shoulders"),
        Lift("snatch_pull", "Snatch pull", _P.PULL, "floor"),
        Lift("clean_pull", "Clean pull", _P.PULL, "floor"),
        Lift("back_squat", "Back squat", _P.DOWN_UP, "shoulders", _MEAN),
        Lift("front_squat", "Front squat", _P.DOWN_UP, "shoulders", _MEAN),
        Lift("overhead_squat", "Overhead squat", _P.DOWN_UP, "overhead", _MEAN),
        Lift("bench_press", "Bench press", _P.DOWN_UP, "arms", _MEAN, BENCH_SWING_M),
        Lift("press", "Press", _P.UP_DOWN, "shoulders", _MEAN),
        Lift("deadlift", "Deadlift", _P.UP_DOWN, "floor", _MEAN),
        Lift("bent_over_row", "Bent-over row", _P.UP_DOWN, "hang", _MEAN),
    )
}
