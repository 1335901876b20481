"""Lifts that do not go by the book: misses, stalls, walk-outs, touch and go, tempo, fidgeting."""

from __future__ import annotations

from barsim import Options
from bench.cases import Case
from bench.summary import share, worst_seeds
from bench.tables import Table
from bench.work import Bench


def cases(device: str) -> list[Case]:
    """Every row for one device class."""

    def one(lift: str, label: str, options: Options, reps: int = 1) -> Case:
        return Case(lift, device, reps, "off", f"{lift} {label}", options)

    def ends(lift: str, outcome: str, reps: int = 1) -> Case:
        return one(lift, outcome.replace("_", " "), Options(outcomes=("made",) * (reps - 1) + (outcome,)), reps)

    misses = ("forward_miss", "behind_miss", "no_height", "aborted_knee", "aborted_floor")
    return [
        *(ends("snatch", outcome) for outcome in misses),
        *(ends("clean", outcome) for outcome in misses),
        ends("clean_and_jerk", "jerk_miss"),
        ends("jerk", "forward_miss"),
        one("jerk", "lowered x3", Options(finish="lowered"), 3),
        one("clean_and_jerk", "x2", Options(), 2),
        one("snatch", "made, missed, made", Options(outcomes=("made", "forward_miss", "made")), 3),
        one("snatch", "lowered x3", Options(finish="lowered"), 3),
        one("snatch_pull", "x3", Options(), 3),
        ends("back_squat", "stalled", 3),
        ends("bench_press", "stalled", 3),
        ends("deadlift", "stalled"),
        one("back_squat", "walk-out x3", Options(walk_out=True), 3),
        one("front_squat", "walk-out x3", Options(walk_out=True), 3),
        one("back_squat", "tempo 4 s x3", Options(tempo_down_s=4.0), 3),
        one("back_squat", "pause 2 s x3", Options(pause_s=2.0), 3),
        one("bench_press", "pause 1 s x3", Options(pause_s=1.0), 3),
        one("back_squat", "no rest between x5", Options(touch_and_go=True), 5),
        one("deadlift", "touch and go x5", Options(touch_and_go=True), 5),
        one("press", "x3", Options(), 3),
        one("bent_over_row", "x5", Options(), 5),
        one("snatch", "fidget before the pull", Options(fidget=True)),
        one("clean", "fidget before the pull x2", Options(fidget=True), 2),
    ]


def outcomes(bench: Bench) -> list[Table]:
    """How often the made reps are counted right, and every outcome with them."""
    rows, notes = [], []
    wanted = [case for device in ("good", "hobby") for case in cases(device)]
    for case, scores in zip(wanted, bench.scores("outcomes", wanted), strict=True):
        counted, right = share(scores, lambda one: one.counted), share(scores, lambda one: one.right)
        met = f"{100 * counted:.1f} {'met' if counted == 1 else 'NOT met'}"
        rows.append((case.device or "", case.title, str(len(scores)), met, f"{100 * right:.1f}"))
        if right < 1:
            notes.append(f"{case.device} {case.title}, seeds: {worst_seeds(scores)}")
    return [
        Table(
            "Lifts that do not go by the book",
            ("class", "lift", "sets", "made reps counted right %", "every rep and outcome right %"),
            tuple(rows),
            tuple(notes),
        )
    ]
