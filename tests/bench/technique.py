"""Which phase leaks first: faults put into simulated lifters and looked for; boundaries; whether a drill helped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from barsim import RepTruth
from barsim.technique import DEVIATION
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import Rep
from barwright.analysis.technique.faults import find_faults
from barwright.analysis.technique.limits import limits_for
from barwright.analysis.technique.response import Response, Session, response_to
from bench.lifters import one_day
from bench.tables import Table
from bench.work import Bench

GOOD_DAYS = 3
GIVEN = date(2026, 10, 1)
CLASSES = ("good", "fast", "hobby", "poor")
EARLIEST = {"good": 0.95, "fast": 0.95, "hobby": 0.90}
BOUNDS = {
    "first_pull": "first_pull_end", "transition": "transition_end", "second_pull": "peak_velocity",
    "first_pull_and_transition_and_second_pull": "peak_velocity", "turnover": "apex", "catch": "catch",
    "dip": "dip_bottom", "drive": "peak_velocity", "rise_to_apex": "apex", "receive": "catch",
}  # fmt: skip


@dataclass(slots=True)
class Found:
    """One lifter: the faults put in (earliest first), those found, and errors of phase boundaries in s."""

    seed: int
    put: tuple[str, ...]
    found: tuple[str, ...]
    reps: int
    bounds: dict[str, list[float]] = field(default_factory=dict)

    @property
    def right(self) -> bool:
        """The earliest is right (none, where there is none)."""
        return self.found[:1] == self.put[:1]


def faults_of(lift: str, seed: int) -> dict[str, float]:
    """Two in five lifters are clean, two have one fault, one has two; each of 1.5 to 3 times the deviation."""
    draw = np.random.default_rng([seed, 30])
    codes = [limit.code for limit in limits_for(LIFTS[lift])]
    count = (0, 1, 0, 1, 2)[seed % 5]
    chosen = sorted(draw.choice(len(codes), size=count, replace=False))
    sizes = {codes[k]: float(draw.uniform(1.5, 3.0)) for k in chosen}
    if {"S3", "S5"} <= sizes.keys() or {"S12", "S13"} <= sizes.keys() or {"J2", "J3"} <= sizes.keys():
        sizes.popitem()  # opposites undo each other
    return sizes


def look(lift: str, device: str, seed: int, typical: bool = False) -> Found:
    """Simulate and judge one lifter."""
    sizes = faults_of(lift, seed)
    days = [one_day(lift, device, seed, day, {}, typical) for day in range(GOOD_DAYS)]
    days.append(one_day(lift, device, seed, GOOD_DAYS, sizes, typical))
    seen = [rep for day in days for rep in day.seen]
    codes = tuple(fault.code for fault in find_faults(seen, limits_for(LIFTS[lift])).faults)
    out = Found(seed, tuple(sizes), codes, len(days[-1].seen))
    for day in days:
        for rep, true in day.pairs:
            _bounds(out.bounds, rep, true)
    return out


def _bounds(out: dict[str, list[float]], rep: Rep, true: RepTruth) -> None:
    if rep.outcome != "made":
        return
    for phase in rep.phases:
        edge = BOUNDS.get(phase.phase)
        if edge in ("first_pull_end", "transition_end") and not true.dip_in_transition:
            continue
        if edge is not None and edge in true.edges:
            out.setdefault(edge, []).append(phase.stop_s - true.edges[edge])
    if "first_pull_end" in true.edges:
        out.setdefault("lift_off", []).append(rep.phases[0].start_s - true.concentric[0])


def technique(bench: Bench) -> list[Table]:
    """Earliest fault right, false faults, boundaries; a row of lifters a class, three lifts each."""
    rows, bounds, notes = [], [], []
    for lift, share in (("snatch", 1.0), ("clean", 0.5), ("jerk", 0.5)):
        for device in CLASSES:
            count = max(5, round(bench.lifts * share / 4))
            found = bench.each(f"technique: {device} {lift}", look, [(lift, device, seed) for seed in range(count)])
            rows.append(_row(lift, device, found))
            bounds.append(_bounds_row(lift, device, found))
            wrong = [
                f"{f.seed} put {'+'.join(f.put) or 'none'} found {'+'.join(f.found) or 'none'}"
                for f in found
                if not f.right
            ]
            if wrong:
                notes.append(f"{device} {lift}: {'; '.join(wrong[:8])}")
    return [
        drill_responses(),
        Table("Technique: earliest fault", ("class", "lift", "lifters", "lifts judged", "earliest right %",
              "missed %", "false fault, clean lifters %"), tuple(rows), tuple(notes)),
        Table("Technique: phase boundaries, ms", ("class", "lift", "boundary: median / p95", "all: median", "all: p95"),
              tuple(bounds)),
    ]  # fmt: skip


def _wrong(one: Found) -> str:
    return f"seed {one.seed} put {'+'.join(one.put) or 'none'} found {'+'.join(one.found) or 'none'}"


def drill_responses(histories: int = 2000) -> Table:
    """Fault measures over 4 sessions before a drill and 12 after it: halved bit by bit, or not changed at all."""
    rows = []
    for code, day_sd in (("S1", 0.002), ("S3", 0.008), ("S6", 0.025), ("S9", 0.008), ("S11", 0.012), ("S12", 0.008)):
        (limit,) = (one for one in limits_for(LIFTS["snatch"]) if one.code == code)
        rng = np.random.default_rng(sum(map(ord, code)))
        called = {True: [], False: []}  # type: dict[bool, list[Response]]
        for better in (True, False):
            for _ in range(histories):
                fault = limit.way * DEVIATION[code] * float(rng.uniform(1.5, 3.0))
                fall = np.zeros(16)
                fall[4:] = 0.5 * fault * np.arange(1, 13) / 12 * better
                wander = rng.normal(0, day_sd, 16) + rng.normal(0, limit.spread / np.sqrt(3), 16)
                days = [GIVEN + timedelta(days=3 * (k - 3)) for k in range(16)]
                told = [Session(d, float(v), 0.003, 3) for d, v in zip(days, fault - fall + wander, strict=True)]
                called[better].append(response_to(told, limit, GIVEN, days[-1]).response)
        helped = {k: float(np.mean([r is Response.HELPED for r in v])) for k, v in called.items()}
        worse = float(np.mean([r is Response.WORSE for r in called[False]]))
        rows.append((
            code, str(histories), f"{100 * helped[True]:.1f} (>= 80){'' if helped[True] >= 0.8 else ' NOT met'}",
            f"{100 * helped[False]:.1f} (<= 5){'' if helped[False] <= 0.05 else ' NOT met'}", f"{100 * worse:.1f}",
        ))  # fmt: skip
    head = ("fault", "histories", "halved: helped %", "no change: helped %", "no change: worse %")
    return Table("Technique: did the drill help, 12 sessions", head, tuple(rows))


def _row(lift: str, device: str, found: Sequence[Found]) -> tuple[str, ...]:
    faulty_ones, clean = [f for f in found if f.put], [f for f in found if not f.put]
    right = float(np.mean([f.right for f in faulty_ones]))
    false = float(np.mean([bool(f.found) for f in clean]))
    missed = float(np.mean([not f.found for f in faulty_ones]))
    target = EARLIEST.get(device)
    met = "" if target is None else f" (>= {100 * target:.0f}){'' if right >= target else ' NOT met'}"
    return (
        device, lift, str(len(found)), str(sum(f.reps for f in found)), f"{100 * right:.1f}{met}",
        f"{100 * missed:.1f}", f"{100 * false:.1f} (<= 3){'' if false <= 0.03 else ' NOT met'}",
    )  # fmt: skip


def _bounds_row(lift: str, device: str, found: Sequence[Found]) -> tuple[str, ...]:
    each: dict[str, list[float]] = {}
    for one in found:
        for name, errors in one.bounds.items():
            each.setdefault(name, []).extend(1000 * abs(e) for e in errors)
    every = [e for errors in each.values() for e in errors]
    told = "; ".join(f"{n} {np.median(e):.0f} / {np.quantile(e, 0.95):.0f}" for n, e in each.items())
    middle, most = float(np.median(every)), float(np.quantile(every, 0.95))
    return (
        device, lift, told, f"{middle:.1f} (<= 20){'' if middle <= 20 else ' NOT met'}",
        f"{most:.1f} (<= 40){'' if most <= 40 else ' NOT met'}",
    )  # fmt: skip
