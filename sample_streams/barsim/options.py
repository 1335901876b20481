"""What can be asked of a simulated set besides the lift itself."""

from __future__ import annotations

from dataclasses import dataclass, field

PULL_OUTCOMES = ("made", "forward_miss", "behind_miss", "no_height", "aborted_knee", "aborted_floor")
OUTCOMES_OF = {
    "snatch": PULL_OUTCOMES,
    "clean": PULL_OUTCOMES,
    "clean_and_jerk": (*PULL_OUTCOMES, "jerk_miss"),
    "jerk": ("made", "forward_miss"),
    "snatch_pull": ("made", "aborted_knee", "aborted_floor"),
}
SLOW_OUTCOMES = ("made", "stalled")
OUTCOMES = (*PULL_OUTCOMES, "jerk_miss", "stalled")


@dataclass(frozen=True, slots=True)
class PullStyle:
    """What sets one pull apart from another; ranges are (low, high)."""

    knee_rise: float  # rise at the end of the first pull over stature
    knee_velocity: tuple[float, float]  # over peak velocity
    second_pull_s: tuple[float, float]
    arm_pull: tuple[float, float]  # deceleration after the peak over gravity
    drop: tuple[float, float]  # apex to catch, m
    top: float  # height of the standing finish over stature
    turn: tuple[float, float]  # spin in the turnover, rad
    rear: tuple[float, float] = (0.03, 0.07)  # toward the lifter up to the hip, m
    swing: tuple[float, float] = (0.03, 0.07)  # away again, m
    loop: tuple[float, float] = (0.04, 0.08)  # back in the turnover, m
    knee_spread: tuple[float, float] = (0.93, 1.07)  # of knee_rise


@dataclass(frozen=True, slots=True)
class Faults:
    """Technique faults by size (m, m/s or s); zero or None means a sound lift. Forward is +x, away from the lifter.

    The letters are the symptom each one produces: S for the snatch (the clean alike), J for the jerk.
    """

    forward_off_floor: float = 0.0  # S1: forward drift over the first 10-15 cm of rise, m
    not_rearward: float = 0.0  # S3: share 0-1 of the rearward sweep that is missing by knee height
    too_far_rear: float = 0.0  # S5: extra rearward travel in the first pull, m
    velocity_dip: float | None = None  # S6: fall of velocity in the transition, m/s
    transition_s: float | None = None  # S6: length of the transition, s
    forward_in_transition: float = 0.0  # S7: forward drift between knee and hip, m
    early_finish: float = 0.0  # S8: share 0-1 by which the second pull is cut short
    forward_jump: float = 0.0  # S9: extra forward swing after contact, m
    slow_under: float = 0.0  # S11: extra drop from apex to catch, m (the apex is higher by half of it)
    forward_catch: float = 0.0  # S12: missing rearward travel in the turnover, m
    far_rear_catch: float = 0.0  # S13: extra rearward travel in the turnover, m
    dip_forward: float = 0.0  # J1: forward drift in the dip, m
    dip_depth_m: float | None = None  # J2, J3: depth of the dip, m
    drive_forward: float = 0.0  # J4: forward drift in the drive, m
    receive_forward: float = 0.0  # J6: bar forward of the start at lock-out, m
    jerked_start: float = 0.0  # S2: fall of velocity below the knee after a yank, m/s
    weak_first_pull: float = 0.0  # S4: velocity missing at the end of the first pull, m/s
    weak_second_pull: float = 0.0  # S10: velocity missing at the peak, m/s
    forward_in_turnover: float = 0.0  # S12: forward travel in the turnover on top, m
    bounce: float = 0.0  # S14: rise and fall of the bar thrown up by a crash, m
    drift: float = 0.0  # S15: forward drift while standing up, m
    slow_recovery: float = 0.0  # C8: share by which standing up is slower
    weak_drive: float = 0.0  # J5: velocity missing at the peak, m/s
    press_out: float = 0.0  # J7: second press after the receive, m
    jerk_drift: float = 0.0  # J8: forward drift while the feet return, m


@dataclass(frozen=True, slots=True)
class Options:
    """How a set is done. None leaves the choice to the generator.

    finish: `dropped` or `lowered` (pulls and jerks). outcomes: one per rep, from OUTCOMES_OF the lift
    (SLOW_OUTCOMES for the others). fidget: the bar is turned and tugged in gripping it, then lies still again.
    sway_m: amplitude of the unsteadiness of held weight at about 1 Hz, each axis. sway_deg: the same in attitude.
    sway_up: share of it upward where the body carries the bar for the whole set (squat, bench, press, row): on both
    feet or a bench 3 mm up and down would take 1.2 % of the weight, and a force plate shows some 0.3 % (from memory).
    """

    finish: str | None = None
    outcomes: tuple[str, ...] = ()
    faults: Faults = field(default_factory=Faults)
    peak_velocity: float | None = None
    sway_m: float = 0.003
    sway_up: float = 0.33
    sway_deg: float = 0.5
    tilt_deg: float = 0.4  # sd of the bar's slow tilting in a rep
    first_rest_s: float | None = None
    last_rest_s: float | None = None
    hold_s: float | None = None
    rest_between_s: tuple[float, float] | None = None
    walk_out: bool = False
    fidget: bool = False
    touch_and_go: bool = False
    style: PullStyle | None = None  # one lifter's own way of pulling, instead of the trade's whole range
    pause_s: float | None = None  # at the bottom of a squat or press
    tempo_down_s: float | None = None
