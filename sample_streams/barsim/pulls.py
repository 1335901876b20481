"""Snatch, clean and pulls: from the floor to the apex, caught or not, and back to the floor.

Velocities, times and the bar's path lie inside wide ranges the trade's literature reports, quoted from memory:
first pull 0.40-0.65 s to 0.9-1.4 m/s, transition 0.08-0.20 s, second pull 0.10-0.22 s, drop to catch 0.08-0.25 m,
rearward 2-10 cm, forward swing 2-12 cm, loop back 3-12 cm.
"""

from __future__ import annotations

import math

from barsim.bar import GRAVITY
from barsim.curves import quintic_rise
from barsim.draft import Draft, RepMarks
from barsim.lifters import peak_velocity_of
from barsim.options import PullStyle
from barsim.platform import fall_to_platform, lowering_time, to_floor

STYLES = {
    "snatch": PullStyle(0.185, (0.58, 0.66), (0.17, 0.22), (0.80, 0.97), (0.09, 0.18), 1.22, (1.6, 3.1)),
    "clean": PullStyle(0.165, (0.64, 0.72), (0.15, 0.21), (0.82, 0.98), (0.11, 0.22), 0.82, (1.6, 2.6)),
    "snatch_pull": PullStyle(0.185, (0.58, 0.66), (0.17, 0.22), (0.95, 1.05), (0.0, 0.0), 0.0, (0.05, 0.2)),
}


def pull(draft: Draft, lift: str, outcome: str) -> RepMarks:
    """One rep from the floor up to the catch (or the miss). Leaves the bar where the outcome leaves it."""
    style, start = draft.options.style or STYLES[lift], draft.t
    marks = RepMarks("plain_pull" if lift == "snatch_pull" else "pull", outcome, start)
    marks.edges["lift_off"] = start
    draft.reps.append(marks)
    if outcome.startswith("aborted"):
        _aborted(draft, marks)
        return marks
    _up_to_apex(draft, lift, style, marks)
    _pull_path(draft, style, marks)
    if lift == "snatch_pull":
        _lower_pull(draft, marks)
    elif outcome == "no_height":
        let_go(draft, marks, forward=draft.draw(0.05, 0.35), soon=True)
    elif outcome in ("forward_miss", "behind_miss"):
        _catch(draft, style, marks)
        speed = draft.draw(0.5, 0.9) if outcome == "forward_miss" else -draft.draw(0.5, 0.8)
        let_go(draft, marks, forward=speed, soon=False)
    else:
        _catch(draft, style, marks)
        _recover(draft, style, marks)
    return marks


def _up_to_apex(draft: Draft, lift: str, style: PullStyle, marks: RepMarks) -> None:
    faults, stature, edges = draft.options.faults, draft.lifter.stature_m, marks.edges
    top_speed = draft.options.peak_velocity or peak_velocity_of(lift, draft.share, draft.rng)
    if marks.outcome == "no_height":
        top_speed *= draft.draw(0.80, 0.90)
    top_speed *= 1 - 0.06 * faults.early_finish
    knee_speed = top_speed * draft.draw(*style.knee_velocity) - faults.weak_first_pull
    top_speed -= faults.weak_second_pull
    rise = style.knee_rise * stature * draft.draw(*style.knee_spread)
    dip = faults.velocity_dip
    if dip is None:
        dip = draft.draw(0.02, 0.10) if draft.rng.random() < 0.4 else 0.0
    between = faults.transition_s or draft.draw(0.10, 0.17)
    second = draft.draw(*style.second_pull_s) * (1 - 0.4 * faults.early_finish)
    marks.dip_in_transition = dip > 0
    slope = 0.0 if dip else draft.draw(0.4, 1.2)
    first = 2 * rise / knee_speed
    if faults.jerked_start:
        first -= _yank(draft, faults.jerked_start, rise, knee_speed)
    sharp = 6.0 * dip / between**2
    if dip > 0.1:
        sharp = min(sharp, 15.0 * knee_speed / first**2)  # a sharper turn would have to begin below the floor
    edges["first_pull_end"] = draft.go(first, knee_speed, slope, -sharp)
    second_start = knee_speed - dip if dip else knee_speed + slope * between
    edges["transition_end"] = draft.go(between, second_start, 0.6 * slope, sharp)
    brake = style.arm_pull[0] if marks.outcome == "no_height" else draft.draw(*style.arm_pull)
    brake = max(brake * GRAVITY - 8.0 * faults.slow_under, 4.0)
    ease = draft.draw(0.05, 0.08)
    edges["peak_velocity"] = draft.go(second, top_speed, 0.0, -1.2 * brake / ease)
    eased = top_speed - 0.58 * brake * ease
    draft.go(ease, eased, -brake)
    edges["apex"] = draft.go(eased / brake, 0.0, -brake)
    draft.jolts.append((edges["transition_end"], 0.5))
    draft.jolts.append((edges["peak_velocity"], 0.5))


def _yank(draft: Draft, fall: float, rise: float, knee_speed: float) -> float:
    """A bar torn off the floor that slows before the knee; answers how much less time the rest of the pull takes."""
    fast, low = 0.45 + 0.5 * fall, draft.height
    draft.go(0.16, fast, 0.0, -6 * fall / 0.12**2)
    draft.go(0.12, fast - fall, 0.0, 6 * fall / 0.12**2)
    rest = 2 * (rise - (draft.height - low)) / (knee_speed + fast - fall)
    return 2 * rise / knee_speed - rest


def _pull_path(draft: Draft, style: PullStyle, marks: RepMarks) -> None:
    """The flattened S: toward the lifter up to the hip, a little away, and back in the turnover."""
    f, e = draft.options.faults, marks.edges
    start, knee, hip, peak, apex = (
        e[k] for k in ("lift_off", "first_pull_end", "transition_end", "peak_velocity", "apex")
    )
    clean_or_snatch = marks.kind == "pull"
    rear = draft.draw(*style.rear) * (1 - f.not_rearward) + f.too_far_rear
    swing = draft.draw(*style.swing) + f.forward_jump
    loop = max(draft.draw(*style.loop) + f.far_rear_catch - f.forward_catch, 0.0) + 0.6 * f.forward_jump
    loop -= f.forward_in_turnover
    if marks.outcome == "forward_miss":
        swing, loop = swing + draft.draw(0.02, 0.05), 0.3 * loop
    if marks.outcome == "behind_miss":
        loop += draft.draw(0.05, 0.10)
    draft.step("x", start, 0.75 * (knee - start), f.forward_off_floor)
    late = 0.3 * (knee - start) if f.forward_off_floor else 0.0
    draft.step("x", start + late, hip - start - late, -rear - f.forward_off_floor)
    draft.step("x", knee, hip - knee + 0.05, f.forward_in_transition)
    draft.step("x", hip, peak - hip + 0.5 * (apex - peak), swing)
    turn = draft.draw(*style.turn)
    draft.step("spin", start + 0.05, hip - start, draft.draw(-0.12, 0.12))
    if clean_or_snatch and marks.outcome != "no_height":
        draft.step("x", peak + 0.03, apex - peak + 0.12, -loop)
        length = draft.draw(0.30, 0.42)
        draft.step("spin", apex - 0.55 * length, length, -turn)
    else:
        draft.step("x", peak + 0.03, apex - peak, -0.5 * swing)
        draft.step("spin", peak, apex - peak, -0.15 * turn)


def fall_and_stop(draft: Draft, drop: float, brake: float, ease: float, stop: float, push: float) -> float:
    """From an apex, already falling at `brake`, down by `drop`: fall, catch over `ease`, stop over `stop` seconds.

    The bar is at rest for an instant at the bottom, pushed up with acceleration `push`. Answers the highest speed.
    """

    def sunk(fall: float) -> float:
        v0, v1 = brake * fall, brake * (fall + 0.5 * ease)
        caught = quintic_rise(ease, (v0, v1), (brake, 0.0), (0.0, 0.0))
        return brake * fall**2 / 2 + caught + quintic_rise(stop, (v1, 0.0), (0.0, -push), (0.0, 0.0))

    low, high = 0.002, 0.5
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if sunk(middle) < drop else (low, middle)
    draft.go(low, -brake * low, -brake)
    speed = brake * (low + 0.5 * ease)
    draft.go(ease, -speed)
    draft.go(stop, 0.0, push)
    return speed


def _catch(draft: Draft, style: PullStyle, marks: RepMarks) -> None:
    """Down from the apex to the lowest point of the catch and a small settling after it."""
    edges, brake = marks.edges, -draft.bar.z.line.rows[-1][3]
    drop = draft.draw(*style.drop) + draft.options.faults.slow_under
    stop, push = draft.draw(0.08, 0.13), draft.draw(0.0, 4.0)
    speed = fall_and_stop(draft, drop, brake, draft.draw(0.04, 0.07), stop, push)
    edges["catch"] = draft.t
    draft.jolts.append((edges["catch"] - stop / 2, min(1.0, speed)))
    settle = draft.draw(0.10, 0.16)
    if draft.options.faults.bounce:
        draft.move(draft.options.faults.bounce, 0.2)
        draft.move(-draft.options.faults.bounce, 0.22)
        push = 0.0
    back = 0.05 * speed + push * settle / 5
    draft.go(settle, back)
    draft.go(settle)
    draft.move(-0.25 * back * settle, 0.2)
    edges["settled"] = draft.t


def _recover(draft: Draft, style: PullStyle, marks: RepMarks) -> None:
    edges = marks.edges
    draft.hold(draft.draw(0.15, 0.5))
    edges["recovery_start"] = draft.t
    top = style.top * draft.lifter.stature_m
    rise = top - draft.height
    length = draft.draw(1.3, 1.8) * (0.8 + 0.3 * draft.share) * math.sqrt(rise / 0.9)
    length /= 1 - draft.options.faults.slow_recovery
    draft.stand_up(rise, rise / length)
    edges["recovery_end"] = draft.t
    draft.step("x", edges["recovery_start"], length, float(draft.rng.normal(0, 0.02)) + draft.options.faults.drift)
    draft.step("y", edges["recovery_start"], length, float(draft.rng.normal(0, 0.015)))
    draft.hold(draft.options.hold_s or draft.draw(1.0, 2.0))
    marks.stop = edges["hold_end"] = draft.t


def come_down(draft: Draft, marks: RepMarks, sway_from: float) -> None:
    """From a held finish back to the platform: dropped, or lowered by hand."""
    finish = draft.options.finish or "dropped"
    if finish == "dropped":
        let_go(draft, marks, forward=draft.draw(0.05, 0.35), soon=True, sway_from=sway_from)
        return
    held_until = draft.t
    sink = draft.height - 0.48 * draft.lifter.stature_m
    draft.move(-sink, lowering_time(draft, sink))
    draft.hold(draft.draw(0.1, 0.4))
    to_floor(draft)
    draft.sway(sway_from, draft.t - 0.15, fade_out=0.4)
    spin_back = -sum(step.size for step in draft.bar.spin.steps if marks.start <= step.start < held_until)
    draft.step("spin", held_until + 0.2, 0.8, spin_back + draft.draw(-0.2, 0.2))
    draft.tilting(marks.edges["lift_off"], 0.6, draft.t - 0.6)
    back = -draft.bar.x.end_value() + draft.draw(-0.05, 0.05)
    draft.step("x", held_until + 0.1, draft.t - held_until - 0.2, back)


def let_go(draft: Draft, marks: RepMarks, *, forward: float, soon: bool, sway_from: float | None = None) -> None:
    """Let the bar go with a forward speed and let it fall."""
    if not soon:
        draft.hold(draft.draw(0.02, 0.35))
    ready, ramp = draft.t, 0.12
    if draft.bar.z.line.rows[-1][3] < -1.0:  # still flying at the apex: the hands just open
        ramp = 0.05
        brake = -draft.bar.z.line.rows[-1][3]
        draft.go(ramp, -ramp * (brake + GRAVITY) / 2, -GRAVITY)
    else:
        draft.go(ramp, -ramp * GRAVITY / 2, -GRAVITY)
    release = draft.t
    marks.edges["released"] = release
    if not marks.stop:
        marks.stop = ready
    x, spin = draft.bar.x.line, draft.bar.spin.line
    lead = min(0.5, 0.12 + abs(forward) * 0.4)
    begin = max(release - lead, x.t + 1e-3)
    x.keep_until(begin)
    x.add(release - begin, forward)
    spin.keep_until(release - 0.1)
    spin.add(0.1, draft.draw(-1.5, 1.5))
    hurry = [s for s in draft.bar.x.steps + draft.bar.spin.steps if s.start + s.duration > release]
    if hurry:
        raise ValueError("a step of the path or the spin reaches past the release")
    if "catch" in marks.edges:
        draft.sway(sway_from or marks.edges["catch"] - 0.05, release - 1e-3, fade_out=0.15)
    fall_to_platform(draft)
    for axis in ("tilt", "yaw"):
        size = math.radians(float(draft.rng.normal(0, draft.options.tilt_deg)))
        draft.step(axis, marks.edges["lift_off"], release - marks.edges["lift_off"], size)
        draft.step(axis, release + 0.3, draft.t - release - 0.35, -size)


def _lower_pull(draft: Draft, marks: RepMarks) -> None:
    """After the apex of a pull: the bar sinks in the hands to the thighs, pauses, and goes to the floor."""
    edges, brake = marks.edges, -draft.bar.z.line.rows[-1][3]
    thigh = 0.50 * draft.lifter.stature_m
    sink = max(draft.height - thigh, 0.08)
    length = 2.4 * math.sqrt(sink / GRAVITY)
    fall = 0.5 * length
    speed = (sink - fall**2 * brake / 10) / (0.5 * length)
    draft.go(fall, -speed)
    edges["catch"] = draft.go(length - fall)
    held = draft.t
    draft.hold(draft.draw(0.3, 0.8))
    marks.stop = draft.t
    to_floor(draft)
    draft.sway(held - 0.1, draft.t - 0.15, share=0.7, fade_out=0.4)
    back = -draft.bar.x.end_value() + draft.draw(-0.02, 0.02)
    draft.step("x", held, draft.t - held - 0.1, back)
    draft.tilting(edges["lift_off"], 0.6, draft.t - 0.6)


def _aborted(draft: Draft, marks: RepMarks) -> None:
    """A pull that stops at the knee (or barely leaves the floor) and goes back down."""
    low = marks.outcome == "aborted_floor"
    rise = draft.draw(0.03, 0.08) if low else draft.draw(0.22, 0.32)
    draft.move(rise, draft.draw(0.35, 0.5) if low else draft.draw(0.6, 0.9), 0.45)
    marks.edges["apex"] = top = draft.t
    draft.hold(draft.draw(0.05, 0.3))
    marks.stop = draft.t
    to_floor(draft, draft.draw(0.3, 0.4) if low else draft.draw(0.5, 0.8))
    size = draft.draw(-0.04, 0.01)
    draft.step("x", marks.start, top - marks.start, size)
    draft.step("x", top, draft.t - top - 0.05, -size)
