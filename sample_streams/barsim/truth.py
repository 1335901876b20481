"""Exact truth of a simulated set, by the definitions the analysis answers to.

The concentric phase runs between the two crossings of 0.03 m/s that bracket the whole rise: the first upward one after
the lowest point (a pull: the rest on the floor) and the last downward one before the highest point (a pull or a drive:
the apex). Mean velocity is rise over time between them; peak velocity the maximum between them; the propulsive part
ends at the first time the acceleration falls below -9.81 m/s2. Range of motion is lowest to highest point; peak height
is the apex above the rest the rep began from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barsim.bar import BarCurves
from barsim.draft import RepMarks

Floats = NDArray[np.float64]
EDGE_VELOCITY = 0.03  # m/s
PROPULSIVE = -9.81  # m/s2
GRID_S = 0.00025


@dataclass(frozen=True, slots=True)
class RepTruth:
    """Truth of one rep; seconds since the stream's first sample, SI units.

    outcome: made, failed or partial; how: the simulator's finer word. concentric: (start, stop).
    measures: name -> value. edges: phase boundaries known by construction, by name.
    jerk: the second half of a clean and jerk.
    """

    index: int
    outcome: str
    how: str
    start_s: float
    stop_s: float
    concentric: tuple[float, float]
    measures: dict[str, float]
    edges: dict[str, float]
    dip_in_transition: bool
    x_start: float
    jerk: RepTruth | None = None


@dataclass(frozen=True, slots=True)
class RepPathTruth:
    """The bar over one rep, (n,) each, SI units; x from where the rep began."""

    t_s: Floats
    x_m: Floats
    z_m: Floats
    vx: Floats
    vz: Floats
    az: Floats


@dataclass(frozen=True, slots=True)
class SetTruth:
    """Truth of one set: reps, and the bar at the sensor's times t_s (n,): x, z (m), vx, vz (m/s), az (m/s2).

    rests: (start_s, stop_s, place) in which nothing (place `floor`) or nothing but sway (place `held`) moves the bar.
    """

    lift: str
    load_kg: float
    reps: tuple[RepTruth, ...]
    rests: tuple[tuple[float, float, str], ...]
    t_s: Floats
    x_m: Floats
    y_m: Floats
    z_m: Floats
    vx: Floats
    vz: Floats
    az: Floats

    def made(self) -> tuple[RepTruth, ...]:
        """The reps that count."""
        return tuple(rep for rep in self.reps if rep.outcome == "made")

    def path_of(self, rep: RepTruth) -> RepPathTruth:
        """The bar's path over one rep at the sensor's times, x from where the rep began, z as it is."""
        part = slice(*np.searchsorted(self.t_s, [rep.start_s, rep.stop_s]))
        return RepPathTruth(
            self.t_s[part], self.x_m[part] - rep.x_start, self.z_m[part], self.vx[part], self.vz[part], self.az[part]
        )


def still_spans(
    bar: BarCurves, holds: list[tuple[float, float]], shortest: float = 0.2
) -> list[tuple[float, float, str]]:
    """The parts of `holds` (s) in which no step of the path or the attitude is under way, joined where they touch."""
    curves = (bar.x, bar.y, bar.z, bar.spin, bar.tilt, bar.yaw)
    moving = [(s.start, s.start + s.duration) for c in curves for s in c.steps]
    for line in (bar.x.line, bar.spin.line):
        moving += [(a[0], b[0]) for a, b in zip(line.rows, line.rows[1:], strict=False) if a[2] != 0 or b[2] != 0]
    swaying = [(s.start, s.stop) for c in curves for s in c.sways]
    joined: list[list[float]] = []
    for start, stop in holds:
        if joined and abs(joined[-1][1] - start) < 1e-9:
            joined[-1][1] = stop
        else:
            joined.append([start, stop])
    spans: list[tuple[float, float, str]] = []
    for start, stop in joined:
        cuts = sorted((a, b) for a, b in moving if a < stop and b > start)
        here = start
        for a, b in [*cuts, (stop, stop)]:
            if a - here >= shortest:
                held = any(q < a and r > here for q, r in swaying)
                spans.append((here, min(a, stop), "held" if held else "floor"))
            here = max(here, b)
    return spans


def outcome_of(how: str) -> str:
    """The analysis's word for the simulator's outcome."""
    return {"made": "made", "aborted_knee": "partial", "aborted_floor": "partial"}.get(how, "failed")


def rep_truth(bar: BarCurves, marks: RepMarks, index: int) -> RepTruth:
    """Truth of one rep, from a fine grid and interpolation between its points."""
    begin, end = search_window(marks)
    t = np.arange(begin, end, GRID_S)
    z, v, a = bar.z.evaluate(t)
    x = bar.x.evaluate(t)[0]
    kind = marks.kind
    low = int(np.argmin(z)) if kind in ("lift_after_lowering", "drive") else 0
    top = low + 1 + int(np.argmax(z[low + 1 :]))
    start, stop, rise = concentric_window(t, z, v, low, top)
    measures = {
        "mean_velocity": rise / (stop - start),
        "range_of_motion": float(z[top] - z[low]),
        **_peak(t, v, start, stop),
        "mean_propulsive_velocity": _propulsive(t, z, a, start, stop),
    }
    if kind != "lift_after_lowering":
        measures["peak_height"] = float(z[top] - z[0])
    if "settled" in marks.edges:
        after = (t >= t[top]) & (t <= marks.edges["settled"])
        measures["drop_to_catch"] = float(z[top] - z[after].min())
    first = next(iter(marks.edges.values()))
    return RepTruth(
        index=index,
        outcome=outcome_of(marks.outcome),
        how=marks.outcome,
        start_s=marks.start,
        stop_s=marks.stop,
        concentric=(start, stop),
        measures=measures,
        edges=dict(marks.edges),
        dip_in_transition=marks.dip_in_transition,
        x_start=float(np.interp(first, t, x)),
        jerk=rep_truth(bar, marks.jerk, index) if marks.jerk else None,
    )


def search_window(marks: RepMarks) -> tuple[float, float]:
    """Where the rep's lowest and highest points are looked for, s."""
    e = marks.edges
    if marks.kind in ("lift_after_lowering", "lift_first"):
        return e.get("lowering_start" if marks.kind == "lift_after_lowering" else "lifting_start", 0.0), e[
            "lifting_end"
        ] + 0.1
    return marks.start, e.get("settled", e["apex"] + 0.05)


def concentric_window(t: Floats, z: Floats, v: Floats, low: int, top: int) -> tuple[float, float, float]:
    """Start, stop (s) and rise (m) of the concentric phase between sample `low` and sample `top`."""
    fast = v[low : top + 1] > EDGE_VELOCITY
    first = low + int(np.argmax(fast))
    last = top - int(np.argmax(fast[::-1]))
    if not fast.any():
        return float(t[low]), float(t[top]), float(z[top] - z[low])
    start, z_start = _crossing(t, z, v, max(first - 1, 0))
    stop, z_stop = _crossing(t, z, v, min(last, len(t) - 2))
    return start, stop, z_stop - z_start


def _crossing(t: Floats, z: Floats, v: Floats, i: int) -> tuple[float, float]:
    share = (EDGE_VELOCITY - v[i]) / (v[i + 1] - v[i]) if v[i + 1] != v[i] else 0.0
    share = float(np.clip(share, 0.0, 1.0))
    step = float(t[i + 1] - t[i]) * share
    return float(t[i]) + step, float(z[i]) + step * float(v[i] + EDGE_VELOCITY) / 2


def _peak(t: Floats, v: Floats, start: float, stop: float) -> dict[str, float]:
    inside = np.flatnonzero((t >= start) & (t <= stop))
    k = int(inside[np.argmax(v[inside])])
    k = min(max(k, 1), len(t) - 2)
    before, here, after = (float(v[i]) for i in (k - 1, k, k + 1))
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return {
        "peak_velocity": here - 0.25 * (before - after) * shift,
        "time_to_peak": float(t[k]) + shift * float(t[1] - t[0]) - start,
    }


def _propulsive(t: Floats, z: Floats, a: Floats, start: float, stop: float) -> float:
    inside = (t >= start) & (t <= stop)
    falling = np.flatnonzero(inside & (a < PROPULSIVE))
    end = float(t[falling[0]]) if len(falling) else stop
    rise = float(np.interp(end, t, z) - np.interp(start, t, z))
    return rise / (end - start)
