"""Paths laid over each other, the band of the good ones, and the way a path crosses the vertical through its start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.reps.results import RepPath

Floats = NDArray[np.float64]
STEP_S = 0.01
LIFT_OFF = 0.03  # m/s: where paths are aligned
CROSSED_M = 0.010  # nearer to the vertical through the start than this is on it
BAND = 1.28  # sds: about 80 % of paths, if they spread evenly


@dataclass(frozen=True, slots=True)
class Aligned:
    """A path on even steps from lift-off, (n,) each, SI: x (None without fore-aft), z, vz and their u."""

    t_s: Floats
    z_m: Floats
    vz: Floats
    u_z: Floats
    x_m: Floats | None
    u_x: Floats | None


@dataclass(frozen=True, slots=True)
class Band:
    """Middle and spread (sd) of several aligned paths up to the shortest of them, (n,) each; count of paths."""

    t_s: Floats
    z_m: Floats
    z_sd: Floats
    x_m: Floats | None
    x_sd: Floats | None
    count: int


@dataclass(frozen=True, slots=True)
class Style:
    """How a path goes about the vertical through its start. Never a grade.

    crossings: sequence of rear and front up to the catch. letter: A rear, front, rear again; B rear throughout; C front
    first; `other` for what is none of these (Vorobyev's letters, from memory; authors number them differently).
    """

    crossings: tuple[str, ...]
    letter: str
    words: str


def aligned(path: RepPath) -> Aligned:
    """A path from lift-off: where the bar rises faster than 0.03 m/s for good on its way to the fastest point."""
    fastest = int(np.argmax(path.vz))
    slow = np.flatnonzero(path.vz[: fastest + 1] < LIFT_OFF)
    off = int(slow[-1]) + 1 if len(slow) else 0
    off = min(off, len(path.t_s) - 2)
    start = float(path.t_s[off])
    t = np.arange(start, float(path.t_s[-1]), STEP_S)

    def at(values: Floats) -> Floats:
        return np.asarray(np.interp(t, path.t_s, values))

    x = None if path.x_m is None else at(path.x_m - path.x_m[off])
    u_x = None if path.u_x is None else at(path.u_x)
    return Aligned(t - start, at(path.z_m - path.z_m[off]), at(path.vz), at(path.u_z), x, u_x)


def band_of(paths: Sequence[Aligned]) -> Band | None:
    """Mean and sd at each moment since lift-off; None for fewer than two paths."""
    if len(paths) < 2:
        return None
    n = min(len(path.t_s) for path in paths)
    z = np.stack([path.z_m[:n] for path in paths])
    x = [path.x_m[:n] for path in paths if path.x_m is not None]
    both = np.stack(x) if len(x) == len(paths) else None
    return Band(
        paths[0].t_s[:n],
        z.mean(axis=0),
        z.std(axis=0, ddof=1),
        None if both is None else both.mean(axis=0),
        None if both is None else both.std(axis=0, ddof=1),
        len(paths),
    )


def style_of(path: RepPath) -> Style | None:
    """Crossings and letter of a pull's path from lift-off to the catch; None without fore-aft motion."""
    if path.x_m is None:
        return None
    one = aligned(path)
    assert one.x_m is not None
    top = int(np.argmax(one.z_m[: max(2, round(1.6 / STEP_S))]))  # standing up may end higher than the pull's apex
    peak = int(np.argmax(one.vz))
    down = np.flatnonzero(one.vz[peak:] <= 0)
    apex = peak + int(down[0]) if len(down) else top
    caught = np.flatnonzero(one.vz[apex + 1 :] >= 0)
    end = min(apex + 1 + (int(caught[0]) if len(caught) else 0), len(one.x_m) - 1)
    crossings: list[str] = []
    for x in one.x_m[: end + 1]:
        side = "front" if x > CROSSED_M else "rear" if x < -CROSSED_M else None
        if side is not None and (not crossings or crossings[-1] != side):
            crossings.append(side)
    return Style(tuple(crossings), *_letter(crossings))


def _letter(crossings: Sequence[str]) -> tuple[str, str]:
    if not crossings:
        return "other", "the bar stays on the vertical through its start"
    if crossings[0] == "front":
        return "C", "the bar goes forward first"
    if list(crossings) == ["rear"]:
        return (
            "B",
            "the bar stays on the lifter's side throughout; many who jump backward lift so: a style, not a fault",
        )
    if list(crossings[:3]) == ["rear", "front", "rear"]:
        return "A", "toward the lifter, away, and toward the lifter again"
    return "other", "toward the lifter, then away, without coming back before the catch"
