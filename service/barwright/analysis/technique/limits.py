"""How far a phase may stray before it is called a fault, each limit with its source.

Two limits: against the athlete's own good lifts, and a wide one for athletes of whom too little is known or whose own
lifts all stray. The wide ones are customary starting values of coaches, no source, inside plausibility ranges quoted
from memory; build and style move good paths by centimetres, so the own lifts come first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from barwright.analysis.quantities.lifts import Lift, Pattern

CUSTOM = "common practice of coaches, no source"
MEMORY = "common practice, inside ranges quoted from memory (Garhammer 1985, 1993; Gourgoulis et al. 2000; Akkus 2012)"
SANDAU = "common practice; that the first pull carries most of the loss with load: Sandau & Granacher 2020, Sports 8:59"
NAGAO = (
    "common practice; that rearward motion from turnover to catch parts makes from forward misses: Nagao et al. 2020, "
    "Sports Biomechanics, doi 10.1080/14763141.2020.1787498"
)
GRABE = "dip about 13 % of stature: Grabe & Widule 1988, quoted second-hand; the limits around it common practice"
PHASES = (
    "lift_off", "first_pull", "transition", "second_pull", "turnover", "catch", "recovery",
    "dip", "drive", "receive", "jerk_recovery",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PathLimit:
    """One symptom. code: of the rule. phase: one of PHASES, their order is that of the lift.

    A rep strays when `measure` is beyond a limit in direction `way` (+1 greater, -1 less). own: by how much it may
    differ from the athlete's own good lifts; wide: for anyone; both in `unit`. spread: usual sd from rep to rep, the
    belief before the athlete's own lifts are counted. per_load: change of the measure for a load twice as great.
    of_stature: the wide limit is a share of stature. fore_aft: needs to know which way is forward.
    """

    code: str
    phase: str
    measure: str
    title: str
    says: str
    way: int
    unit: str
    spread: float
    own: float | None
    wide: float | None
    source: str
    fore_aft: bool = True
    per_load: float = 0.0
    of_stature: bool = False


def _x(code: str, phase: str, measure: str, title: str, says: str, way: int, spread: float, own: float | None,
       wide: float | None, source: str = CUSTOM) -> PathLimit:  # fmt: skip
    return PathLimit(code, phase, measure, title, says, way, "m", spread, own, wide, source)


def _z(code: str, phase: str, measure: str, title: str, says: str, way: int, unit: str, spread: float,
       own: float | None, wide: float | None, source: str = CUSTOM, per_load: float = 0.0,
       of_stature: bool = False) -> PathLimit:  # fmt: skip
    return PathLimit(
        code, phase, measure, title, says, way, unit, spread, own, wide, source, False, per_load, of_stature
    )


SNATCH: tuple[PathLimit, ...] = (
    _x("S1", "lift_off", "forward_off_floor", "Forward off the floor",
       "the bar goes forward in the first 15 cm of its rise", 1, 0.004, 0.015, 0.020),
    _z("S2", "lift_off", "early_fall", "Yanked off the floor",
       "the bar is torn off the floor and slows again before the knee", 1, "m/s", 0.02, 0.08, 0.12),
    _x("S3", "first_pull", "x_at_knee", "Not drawn in by the knee",
       "the bar has not come back toward the lifter by the knee", 1, 0.012, 0.030, 0.010),
    _z("S4", "first_pull", "velocity_at_knee", "Slow first pull",
       "the bar is slow at the end of the first pull", -1, "m/s", 0.05, 0.14, None, SANDAU, per_load=-1.0),
    _x("S5", "first_pull", "x_at_knee", "Too far back in the first pull",
       "the bar is drawn too far back toward the heels in the first pull", -1, 0.012, 0.035, -0.100, MEMORY),
    _z("S6", "transition", "velocity_dip", "Slows at the knee",
       "the bar slows down between the first and the second pull", 1, "m/s", 0.04, 0.12, 0.150, MEMORY),
    _x("S7", "transition", "forward_in_transition", "Drifts forward to the hip",
       "the bar drifts forward between knee and hip", 1, 0.006, 0.020, 0.030),
    _z("S8", "second_pull", "z_at_peak_velocity", "Second pull cut short",
       "the bar is fastest while it is still low", -1, "m", 0.025, 0.070, None),
    _x("S9", "second_pull", "swing_to_mid_turnover", "Bar hit away",
       "the bar is knocked forward at the hip", 1, 0.012, 0.035, 0.120, MEMORY),
    _z("S10", "second_pull", "peak_velocity", "Weak finish",
       "the bar does not reach its usual velocity at this load", -1, "m/s", 0.04, 0.12, None, per_load=-1.2),
    _z("S11", "turnover", "drop_to_catch", "Late under the bar",
       "the bar falls far from its highest point before it is caught", 1, "m", 0.02, 0.060, 0.250, MEMORY),
    _x("S12", "turnover", "loop_to_catch", "Left out in front",
       "the bar does not come back over the lifter in the turnover", 1, 0.012, 0.035, 0.000, NAGAO),
    _x("S13", "turnover", "loop_to_catch", "Looped far back",
       "the bar is thrown far back in the turnover", -1, 0.012, 0.045, -0.160, MEMORY),
    _z("S14", "catch", "catch_bounce", "Crashes into the catch",
       "the bar crashes into the catch and bounces", 1, "m", 0.005, 0.020, 0.035),
    _x("S15", "recovery", "drift_in_recovery", "Wanders while standing up",
       "the bar wanders while the lifter stands up", 1, 0.012, 0.040, 0.080),
)  # fmt: skip


def _as(code: str, of: str, **changes: object) -> PathLimit:
    (found,) = (limit for limit in SNATCH if limit.code == of)
    return replace(found, code=code, **changes)  # type: ignore[arg-type]


CLEAN: tuple[PathLimit, ...] = (
    _as("C1", "S1"),
    _as("C2", "S3"),
    _as("C3", "S6"),
    _as("C4", "S8"),
    _as("C5", "S9"),
    _as("C6", "S11", wide=0.280, title="Bar crashes on the shoulders",
        says="the bar falls far from its highest point and is not met"),
    _as("C7", "S12"),
    _z("C8", "recovery", "recovery_velocity", "Slow to stand up",
       "standing up is much slower than usual at this load", -1, "m/s", 0.06, 0.16, None,
       "common practice, no source; strength, not a fault of the path", per_load=-0.6),
)  # fmt: skip
JERK: tuple[PathLimit, ...] = (
    _x("J1", "dip", "dip_forward", "Dips forward", "the bar goes forward in the dip", 1, 0.006, 0.018, 0.025),
    _z("J2", "dip", "dip_depth", "Dips too deep", "the dip is much deeper than usual", 1, "m", 0.012, 0.050, 0.170,
       GRABE, of_stature=True),
    _z("J3", "dip", "dip_depth", "Dips too shallow", "the dip is shallow", -1, "m", 0.012, 0.050, 0.070, GRABE,
       of_stature=True),
    _x("J4", "drive", "drive_forward", "Drives forward", "the bar is driven forward", 1, 0.008, 0.022, 0.030),
    _z("J5", "drive", "peak_velocity", "Weak drive", "the drive does not reach its usual velocity at this load", -1,
       "m/s", 0.04, 0.12, None, per_load=-0.9),
    _x("J6", "receive", "x_at_receive", "Received in front", "the bar is in front of where it started at lock-out", 1,
       0.015, 0.040, 0.050),
    _z("J7", "receive", "press_out", "Pressed out", "the bar is pressed out after it was received", 1, "m", 0.006,
       0.025, 0.040, "common practice; a press-out is no lift by the rules of the sport"),
    _x("J8", "jerk_recovery", "drift_in_recovery", "Wanders while the feet return",
       "the bar wanders while the feet come back", 1, 0.018, 0.050, 0.090),
)  # fmt: skip


def limits_for(lift: Lift) -> tuple[PathLimit, ...]:
    """The symptoms that are looked for in a lift, in the order of its phases; none for slow lifts."""
    if lift.pattern is Pattern.PULL_AND_DRIVE:
        return CLEAN + tuple(replace(limit, measure=f"jerk_{limit.measure}") for limit in JERK)
    if lift.pattern is Pattern.DRIVE:
        return JERK if lift.code != "snatch_balance" else ()
    if lift.pattern in (Pattern.PULL_AND_CATCH, Pattern.PULL):
        return SNATCH if "snatch" in lift.code else CLEAN
    return ()
