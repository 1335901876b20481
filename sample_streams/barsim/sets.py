"""Whole sets: rests, reps, what lies between them."""

from __future__ import annotations

import numpy as np

from barsim.draft import Draft, RepMarks
from barsim.jerks import jerk
from barsim.lifters import Lifter
from barsim.options import OUTCOMES_OF, SLOW_OUTCOMES, Options
from barsim.platform import lowering_time
from barsim.pulls import come_down, let_go, pull
from barsim.slow_lifts import STYLES, lifted_rep, lowered_rep, walk

LIFTS = (
    "snatch", "clean", "jerk", "clean_and_jerk", "snatch_pull", "back_squat", "front_squat", "bench_press", "deadlift",
    "press", "bent_over_row",
)  # fmt: skip


def known_lift(lift: str) -> None:
    """Refuse a lift the simulator does not know."""
    if lift not in LIFTS:
        raise ValueError(f"no simulated lift called {lift!r}; there are {', '.join(LIFTS)}")


def build_set(lift: str, rng: np.random.Generator, lifter: Lifter, share: float, reps: int, options: Options) -> Draft:
    """The motion of one set of `reps` reps at `share` of the maximum."""
    known_lift(lift)
    outcomes = options.outcomes or ("made",) * reps
    known = OUTCOMES_OF.get(lift, SLOW_OUTCOMES)
    if len(outcomes) != reps or not set(outcomes) <= set(known):
        raise ValueError(f"outcomes must be {reps} of {', '.join(known)}, not {outcomes}")
    if lift in ("snatch", "clean", "clean_and_jerk", "snatch_pull"):
        return _floor_set(lift, Draft.begin(rng, lifter, share, options, 0.225), outcomes)
    if lift == "jerk":
        return _jerk_set(Draft.begin(rng, lifter, share, options, 0.82 * lifter.stature_m), outcomes)
    if lift == "deadlift":
        return _deadlift_set(Draft.begin(rng, lifter, share, options, 0.225), outcomes)
    return _held_set(lift, Draft.begin(rng, lifter, share, options, STYLES[lift].start * lifter.stature_m), outcomes)


def _rest(draft: Draft, index: int, of: int, low: float, high: float) -> None:
    """Rest before rep `index` (0 = before the first, `of` = after the last)."""
    o = draft.options
    if index == 0 and o.first_rest_s:
        draft.hold(o.first_rest_s)
    elif index == of and o.last_rest_s:
        draft.hold(o.last_rest_s)
    elif 0 < index < of and o.rest_between_s:
        draft.hold(draft.draw(*o.rest_between_s))
    else:
        draft.hold(draft.draw(low, high))


def _grip(draft: Draft) -> None:
    """The lifter takes hold: the bar turns in its sleeves, is tugged by a millimetre or two, and lies still again."""
    start, length = draft.t, draft.draw(0.6, 1.2)
    draft.bar.z.line.add(length)
    draft.step("spin", start, 0.7 * length, draft.draw(-0.7, 0.7))
    for axis in ("x", "y"):
        tug = draft.draw(-0.002, 0.002)
        draft.step(axis, start, 0.4 * length, tug)
        draft.step(axis, start + 0.5 * length, 0.4 * length, -0.7 * tug)
    draft.hold(draft.draw(0.3, 0.8))


def _floor_set(lift: str, draft: Draft, outcomes: tuple[str, ...]) -> Draft:
    for index, outcome in enumerate(outcomes):
        _rest(draft, index, len(outcomes), 1.2, 2.5)
        if draft.options.fidget:
            _grip(draft)
        first = "clean" if lift == "clean_and_jerk" else lift
        marks = pull(draft, first, "made" if outcome == "jerk_miss" else outcome)
        if "recovery_end" not in marks.edges:
            continue
        held = marks.edges["catch"] - 0.05
        if lift == "clean_and_jerk":
            marks.kind = "clean_and_jerk"
            marks.outcome = outcome
            marks.jerk = jerk(draft, "forward_miss" if outcome == "jerk_miss" else "made")
            marks.stop = marks.jerk.stop
        if outcome == "jerk_miss":
            let_go(draft, marks, forward=draft.draw(0.5, 0.9), soon=False, sway_from=held)
            continue
        come_down(draft, marks, held)
    _rest(draft, len(outcomes), len(outcomes), 1.0, 1.8)
    return draft


def _jerk_set(draft: Draft, outcomes: tuple[str, ...]) -> Draft:
    held_from = 0.0
    for index, outcome in enumerate(outcomes):
        _rest(draft, index, len(outcomes), 1.2, 2.5)
        marks = jerk(draft, outcome)
        draft.reps.append(marks)
        marks.edges["lift_off"] = marks.start
        last = index == len(outcomes) - 1
        if outcome != "made" or (last and draft.options.finish != "lowered"):
            if not last:
                raise ValueError("only the last jerk of a set can be lost: the bar ends on the platform")
            forward = draft.draw(0.05, 0.35) if outcome == "made" else draft.draw(0.5, 0.9)
            let_go(draft, marks, forward=forward, soon=outcome == "made", sway_from=held_from)
            _rest(draft, len(outcomes), len(outcomes), 1.0, 1.8)
            return draft
        down = draft.t
        sink = draft.height - 0.82 * draft.lifter.stature_m
        draft.move(-sink, lowering_time(draft, sink))
        draft.step("x", down, draft.t - down, -draft.bar.x.end_value() + draft.draw(-0.02, 0.02))
        draft.step("spin", down, draft.t - down, draft.draw(0.1, 0.5))
    _rest(draft, len(outcomes), len(outcomes), 1.0, 1.8)
    draft.sway(-0.5, draft.t + 0.5)
    return draft


def _deadlift_set(draft: Draft, outcomes: tuple[str, ...]) -> Draft:
    draft.hold(draft.options.first_rest_s or draft.draw(1.2, 2.2))
    stretch: RepMarks | None = None
    for index, outcome in enumerate(outcomes):
        last = index == len(outcomes) - 1
        marks = lifted_rep(draft, "deadlift", outcome, last)
        stretch = stretch or marks
        if last or not draft.options.touch_and_go:
            draft.sway(stretch.start + 0.1, draft.t - 0.15, share=0.6, fade=0.5, fade_out=0.4)
            stretch = None
            _rest(draft, index + 1, len(outcomes), 1.0, 3.0)
    return draft


def _held_set(lift: str, draft: Draft, outcomes: tuple[str, ...]) -> Draft:
    """Squats, bench press, press, row: in the hands from first to last."""
    style, n = STYLES[lift], len(outcomes)
    held_from, held_to = -0.5, None
    if draft.options.walk_out:
        draft.bar.z.line.rows[0] = (0.0, draft.height - 0.05, 0.0, 0.0, 0.0)
        draft.hold(draft.draw(1.0, 2.0))
        held_from = draft.t - 0.3
        walk(draft, out=True)
    for index, outcome in enumerate(outcomes):
        if index == 0 or not draft.options.touch_and_go:
            _rest(draft, index, n, *(style.rest_s if index else (1.2, 2.5)))
        if outcome == "stalled" and index < n - 1 and style.lowered_first:
            raise ValueError("only the last rep can stall: the bar ends on the safeties")
        if style.lowered_first:
            lowered_rep(draft, lift, outcome)
        else:
            lifted_rep(draft, lift, outcome, index == n - 1)
    on_safeties = outcomes[-1] == "stalled" and style.lowered_first
    if on_safeties:
        held_to = draft.t - 0.02
    _rest(draft, n, n, 1.0, 2.0)
    if draft.options.walk_out and not on_safeties:
        walk(draft, out=False)
        held_to = draft.t
        draft.hold(draft.draw(1.0, 1.5))
    draft.sway(held_from, held_to or draft.t + 0.5, up=draft.options.sway_up)
    return draft
