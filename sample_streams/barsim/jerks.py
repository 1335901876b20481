"""The jerk: a dip at the shoulders, the drive, received overhead, recovered.

Dip about 13 % of stature and rise in drive and split about 18 % (Grabe & Widule 1988, quoted second-hand); dip
0.25-0.50 s, drive 0.20-0.30 s, peak 1.3-1.9 m/s from memory.
"""

from __future__ import annotations

from barsim.bar import GRAVITY
from barsim.draft import Draft, RepMarks
from barsim.lifters import peak_velocity_of
from barsim.pulls import fall_and_stop

OVERHEAD = 1.27  # height of the bar over stature, jerk grip, standing


def jerk(draft: Draft, outcome: str) -> RepMarks:
    """One jerk from the bar at the shoulders to the standing finish (or to the moment before it is lost)."""
    faults, stature = draft.options.faults, draft.lifter.stature_m
    marks = RepMarks("drive", outcome, draft.t)
    e = marks.edges
    e["dip_start"] = start = draft.t
    depth = faults.dip_depth_m or draft.draw(0.10, 0.13) * stature
    top_speed = draft.options.peak_velocity if draft.options.peak_velocity and not draft.reps[:-1] else None
    top_speed = top_speed or peak_velocity_of("jerk", draft.share, draft.rng)
    top_speed -= faults.weak_drive
    drive_s = draft.draw(0.20, 0.26)
    push = 1.1 * top_speed / drive_s
    down, brake = draft.draw(0.26, 0.34), draft.draw(0.12, 0.17)
    speed = (depth - brake**2 * push / 10) / ((down + brake) / 2)
    draft.go(down, -speed)
    e["dip_bottom"] = draft.go(brake, 0.0, push)
    arms = draft.draw(0.50, 0.70) * GRAVITY
    ease = draft.draw(0.04, 0.06)
    e["peak_velocity"] = draft.go(drive_s, top_speed, 0.0, -1.2 * arms / ease)
    eased = top_speed - 0.58 * arms * ease
    draft.go(ease, eased, -arms)
    e["apex"] = draft.go(eased / arms, 0.0, -arms)
    fall_and_stop(draft, draft.draw(0.015, 0.06), arms, draft.draw(0.025, 0.04), draft.draw(0.05, 0.08), 0.0)
    e["catch"] = draft.t
    draft.jolts.extend([(e["dip_bottom"] - brake, 0.8), (e["dip_bottom"], 1.0), (e["catch"], 0.5)])
    draft.move(draft.draw(0.003, 0.01) + faults.press_out, 0.25 + 2.5 * faults.press_out)
    e["settled"] = draft.t
    _path(draft, marks, start)
    if outcome == "made":
        draft.hold(draft.draw(0.3, 0.8))
        e["recovery_start"] = draft.t
        first = draft.draw(0.4, 0.6)
        rise = OVERHEAD * stature - draft.height
        draft.move(first * rise, draft.draw(0.6, 0.8))
        draft.hold(draft.draw(0.05, 0.2))
        draft.move((1 - first) * rise, draft.draw(0.6, 0.8))
        e["recovery_end"] = draft.t
        draft.step("x", e["recovery_start"], draft.t - e["recovery_start"], draft.draw(-0.06, 0.02) + faults.jerk_drift)
        draft.hold(draft.options.hold_s or draft.draw(1.0, 2.0))
    marks.stop = draft.t
    return marks


def _path(draft: Draft, marks: RepMarks, start: float) -> None:
    f, e = draft.options.faults, marks.edges
    bottom, peak, catch = e["dip_bottom"], e["peak_velocity"], e["catch"]
    draft.step("x", start, bottom - start, draft.draw(-0.004, 0.008) + f.dip_forward)
    draft.step("x", bottom, peak - bottom, draft.draw(-0.008, 0.008) + f.drive_forward)
    lost = draft.draw(0.06, 0.10) if marks.outcome == "forward_miss" else 0.0
    back = draft.draw(-0.05, -0.01) - 0.5 * (f.dip_forward + f.drive_forward) + f.receive_forward + lost
    draft.step("x", peak, catch - peak, back)
    draft.step("spin", peak, catch - peak, draft.draw(-0.5, -0.1))
    draft.step("spin", start, bottom - start, draft.draw(-0.08, 0.08))
