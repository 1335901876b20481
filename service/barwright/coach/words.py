"""The words the pages have for what the service knows by code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.quantities.lifts import LIFTS

PHASES = {
    "first_pull": "First pull",
    "transition": "Transition",
    "second_pull": "Second pull",
    "first_pull_and_transition": "First pull and transition",
    "first_pull_and_transition_and_second_pull": "Whole pull",
    "turnover": "Turnover",
    "catch": "Catch",
    "recovery": "Recovery",
    "jerk_recovery": "Recovery of the jerk",
    "dip": "Dip",
    "drive": "Drive",
    "rise_to_apex": "Rise to the top",
    "receive": "Receive",
    "lowering": "Lowering",
    "lifting": "Lifting",
}
MEASURES = {
    "peak_velocity": "Peak velocity",
    "mean_velocity": "Mean velocity",
    "mean_propulsive_velocity": "Mean propulsive velocity",
    "range_of_motion": "Range of motion",
    "peak_height": "Height of the top",
    "drop_to_catch": "Drop into the catch",
    "time_to_peak": "Time to peak",
    "concentric_time": "Time of the rise",
    "duration": "Whole rep",
    "most_rearward": "Furthest toward the lifter",
    "most_forward": "Furthest away",
    "start_to_end": "Start to end",
    "rearward_in_pull": "Toward the lifter in the pull",
    "forward_swing": "Swing away from there",
    "x_at_peak_velocity": "Place at peak velocity",
    "x_at_apex": "Place at the top",
    "loop_to_catch": "Loop back to the catch",
    "x_at_catch": "Place at the catch",
    "x_at_knee": "Place at the knee",
    "forward_off_floor": "Away from the lifter off the floor",
    "forward_in_transition": "Away from the lifter in the transition",
    "push_direction": "Direction of the push",
    "velocity_at_knee": "Velocity at the knee",
    "velocity_dip": "Dip of velocity",
    "transition_time": "Time of the transition",
    "z_at_peak_velocity": "Height at peak velocity",
    "swing_to_mid_turnover": "Swing away by mid turnover",
    "rearward_velocity": "Fastest toward the lifter, peak to catch",
    "drift_in_recovery": "Drift fore and aft in the recovery",
    "early_fall": "Loss of velocity off the floor",
    "fall_velocity": "Fastest fall into the catch",
    "catch_bounce": "Bounce in the catch",
    "recovery_velocity": "Mean velocity of standing up",
    "x_in_fall": "Place after 40 cm of fall",
    "x_velocity_in_fall": "Velocity away from the lifter after 40 cm of fall",
    "held_before_fall": "Held up before it fell",
    "dip_depth": "Depth of the dip",
    "dip_forward": "Away from the lifter in the dip",
    "drive_forward": "Away from the lifter in the drive",
    "x_at_receive": "Place at the receive",
    "press_out": "Pressed out after the receive",
}
OUTCOMES = {"made": "Made", "failed": "Failed", "partial": "Partial"}


@dataclass(frozen=True, slots=True)
class Tag:
    """A word with its sign and its look; the sign and the word tell, the colour only helps. look: a class of CSS."""

    sign: str
    words: str
    look: str


_OUTCOME_TAGS = {
    "made": Tag("✓", "Made", "is-good"),
    "failed": Tag("✕", "Failed", "is-bad"),
    "partial": Tag("◐", "Partial", "is-watch"),
}
_VERDICT_TAGS = {
    "good": Tag("✓", "Good recording", "is-good"),
    "usable": Tag("●", "Usable recording", "is-plain"),
    "poor": Tag("!", "Poor recording", "is-watch"),
    "unusable": Tag("✕", "Unusable recording", "is-bad"),
}
_STATE_TAGS = {
    "open": Tag("…", "Being lifted", "is-plain"),
    "analysing": Tag("…", "Being analysed", "is-plain"),
    "failed": Tag("✕", "Not analysed", "is-bad"),
}


def lift_title(code: str) -> str:
    """The lift as people say it."""
    return LIFTS[code].title if code in LIFTS else spaced(code)


def phase_title(code: str) -> str:
    """The phase as people say it."""
    plain = code.removeprefix("jerk_")
    return PHASES.get(code) or PHASES.get(plain) or spaced(plain)


def phase_titles(codes: Sequence[str]) -> list[str]:
    """All phases of one rep; what comes twice, once of the clean and once of the jerk, is told apart."""
    titles = [phase_title(code) for code in codes]
    return [f"{one} of the jerk" if one in titles[:n] else one for n, one in enumerate(titles)]


def measure_title(code: str) -> str:
    """The measure as people say it."""
    if code.startswith("jerk_"):
        return f"Jerk: {measure_title(code.removeprefix('jerk_')).lower()}"
    return MEASURES.get(code) or spaced(code)


def spaced(code: str) -> str:
    """A code without a title of its own, readable all the same."""
    return code.replace("_", " ").capitalize()


def outcome_tag(outcome: str) -> Tag:
    """Made, failed or partial."""
    return _OUTCOME_TAGS.get(outcome) or Tag("?", spaced(outcome), "is-plain")


def verdict_tag(verdict: str) -> Tag:
    """How good a recording was."""
    return _VERDICT_TAGS.get(verdict) or Tag("?", spaced(verdict), "is-plain")


def state_tag(state: str) -> Tag | None:
    """Where a set is that has no results yet; None when it has."""
    return _STATE_TAGS.get(state)
