"""Squats, presses, deadlift and row: slow lifts between two heights."""

from __future__ import annotations

import math
from dataclasses import dataclass

from barsim.draft import Draft, RepMarks
from barsim.lifters import mean_velocity_of
from barsim.platform import to_floor


@dataclass(frozen=True, slots=True)
class SlowStyle:
    """Heights over stature; seconds of lowering; rest between reps, s; x travel over the lift, m."""

    start: float
    travel: float
    lowering_s: tuple[float, float]
    rest_s: tuple[float, float]
    sideways: tuple[float, float]
    lowered_first: bool


STYLES = {
    "back_squat": SlowStyle(0.80, 0.38, (1.1, 1.8), (0.8, 3.0), (0.01, 0.05), True),
    "front_squat": SlowStyle(0.81, 0.38, (1.1, 1.8), (0.8, 3.0), (0.01, 0.04), True),
    "bench_press": SlowStyle(0.55, 0.21, (1.0, 1.8), (0.8, 2.5), (0.05, 0.11), True),
    "deadlift": SlowStyle(0.0, 0.30, (0.9, 1.5), (1.0, 3.0), (-0.04, -0.01), False),
    "press": SlowStyle(0.82, 0.42, (0.9, 1.4), (0.8, 2.0), (-0.08, -0.02), False),
    "bent_over_row": SlowStyle(0.32, 0.22, (0.7, 1.1), (0.6, 1.5), (-0.12, -0.05), False),
}


def _speed(draft: Draft, lift: str, rise: float) -> float:
    """Mean velocity of one rep, kept low enough at light loads that the end is not braked much harder than gravity."""
    return min(mean_velocity_of(lift, draft.share, draft.rng), math.sqrt(1.9 * rise))


def _braking_s(length: float, depth: float, push: float) -> float:
    """Seconds the turn at the bottom takes: short enough that braking hard there needs no swing upward first."""
    return min(0.55 * length, math.sqrt(2.5 * depth / push)) if push > 0 else 0.55 * length


def lowered_rep(draft: Draft, lift: str, outcome: str) -> RepMarks:
    """Down and up again (squat, bench press)."""
    style, stature, options = STYLES[lift], draft.lifter.stature_m, draft.options
    marks = RepMarks("lift_after_lowering", outcome, draft.t)
    draft.reps.append(marks)
    e = marks.edges
    depth = style.travel * stature * draft.draw(0.96, 1.04)
    v = _speed(draft, lift, depth)
    length = options.tempo_down_s or draft.draw(*style.lowering_s)
    pause = options.pause_s or 0.0
    push = 0.0 if pause else min(2.5 * v / (0.22 * depth / v), 6.0)
    e["lowering_start"] = draft.t
    second = _braking_s(length, depth, push)
    first = length - second
    draft.go(first, -(depth - second**2 * push / 10) / (length / 2))
    e["lowering_end"] = draft.go(second, 0.0, push)
    if pause:
        draft.hold(pause)
    e["lifting_start"] = draft.t
    rise = depth if outcome == "made" else depth * draft.draw(0.25, 0.5)
    e.update(draft.stand_up(rise, v * (1.0 if outcome == "made" else 0.6), push))
    e["lifting_end"] = marks.stop = draft.t
    out = draft.draw(*style.sideways)
    draft.step("x", e["lowering_start"], length, out)
    draft.step("x", e["lifting_start"], draft.t - e["lifting_start"], -out + draft.draw(-0.005, 0.005))
    roll = draft.draw(-0.25, 0.25)
    draft.step("spin", e["lowering_start"], length, roll)
    draft.step("spin", e["lifting_start"], draft.t - e["lifting_start"], -roll + draft.draw(-0.05, 0.05))
    draft.tilting(e["lowering_start"], length, draft.t - 0.6)
    if outcome == "stalled":
        draft.hold(draft.draw(0.1, 0.4))
        draft.move(-rise - 0.02, draft.draw(0.5, 0.8), 0.7)
        marks.stop = draft.t
    return marks


def lifted_rep(draft: Draft, lift: str, outcome: str, last: bool) -> RepMarks:
    """Up and down again (deadlift, press, row); a deadlift goes back to the platform."""
    style, stature, options = STYLES[lift], draft.lifter.stature_m, draft.options
    marks = RepMarks("lift_first", outcome, draft.t)
    draft.reps.append(marks)
    e = marks.edges
    from_floor = lift == "deadlift"
    rise = style.travel * stature * draft.draw(0.96, 1.04)
    v = _speed(draft, lift, rise)
    if outcome == "stalled":
        rise, v = rise * draft.draw(0.3, 0.6), 0.6 * v
    e["lifting_start"] = draft.t
    e.update(draft.stand_up(rise, v, draft.bar.z.line.rows[-1][3]))
    e["lifting_end"] = draft.t
    if lift == "bent_over_row":
        draft.hold(draft.draw(0.05, 0.2))
    else:
        draft.hold(options.hold_s or draft.draw(0.4, 1.0))
    e["lowering_start"] = down = draft.t
    length = options.tempo_down_s or draft.draw(*style.lowering_s)
    touch = options.touch_and_go and not last
    if touch:
        push = 4.0
        first = length - _braking_s(length, rise, push)
        draft.go(first, -(rise - (length - first) ** 2 * push / 10) / (length / 2))
        draft.go(length - first, 0.0, push)
    elif from_floor:
        to_floor(draft, length)
    else:
        draft.move(-rise, length)
    e["lowering_end"] = marks.stop = draft.t
    out = draft.draw(*style.sideways)
    draft.step("x", e["lifting_start"], e["lifting_end"] - e["lifting_start"], out)
    draft.step("x", down, draft.t - down - 0.02, -out + draft.draw(-0.01, 0.01))
    roll = draft.draw(-0.15, 0.15)
    draft.step("spin", e["lifting_start"], e["lifting_end"] - e["lifting_start"], roll)
    draft.step("spin", down, draft.t - down - 0.02, -roll)
    draft.tilting(e["lifting_start"], 0.8, draft.t - 0.55)
    return marks


def walk(draft: Draft, out: bool) -> None:
    """Out of the rack and one or two steps back (out), or back to the rack and down into the hooks."""
    lift_off = 0.05
    if out:
        draft.move(lift_off, draft.draw(0.5, 0.8))
        draft.hold(draft.draw(0.3, 0.6))
    steps = int(draft.rng.integers(1, 3))
    reach = draft.draw(0.5, 1.0) / steps if out else -draft.bar.x.end_value() / steps
    for _ in range(steps):
        length, bob = draft.draw(0.45, 0.65), draft.draw(0.008, 0.02)
        draft.step("x", draft.t, 1.1 * length, -reach if out else reach)
        draft.step("y", draft.t, length, draft.draw(-0.015, 0.015))
        draft.move(-bob, 0.5 * length)
        draft.move(bob, 0.5 * length)
        draft.hold(draft.draw(0.1, 0.3))
    if not out:
        draft.hold(draft.draw(0.3, 0.6))
        draft.move(-lift_off, draft.draw(0.5, 0.8))
