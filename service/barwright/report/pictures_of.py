"""The pictures of a report: raw samples, attitude, velocity, path and what each constraint did."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.devices.constraints import Constraint
from barwright.analysis.reps.results import Rep
from barwright.pictures.drawing import (
    Scale,
    area,
    bottom_axis,
    box,
    dot,
    left_axis,
    line,
    padded,
    picture,
    segment,
    text,
)

Floats = NDArray[np.float64]
WIDTH, LEFT, RIGHT = 920.0, 58.0, 14.0
MOST_BINS = 700
KINDS = ("r-x", "r-y", "r-z")


@dataclass(frozen=True, slots=True)
class Shade:
    """A stretch of time that is marked; kind: rest (firm), held or denied."""

    start_s: float
    stop_s: float
    kind: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """One picture with its title and what it shows in words; height in pixels of its own view box."""

    title: str
    svg: str
    words: str
    height: float


def samples_picture(
    name: str, title: str, unit: str, t_s: Floats, columns: Floats, labels: Sequence[str], shades: Sequence[Shade],
    until_s: float,
) -> Drawn:  # fmt: skip
    """Raw columns (n, k) over time, every bin drawn from its least to its greatest value so that no spike is lost."""
    height, above, below = 210.0, 30.0, 42.0
    low, high = padded(float(columns.min()), float(columns.max()), 0.05)
    across, up = Scale(0.0, until_s, LEFT, WIDTH - RIGHT), Scale(low, high, height - below, above)
    parts = _shaded(shades, across, above, height - below)
    parts += left_axis(up, LEFT, WIDTH - RIGHT, f"{title.lower()}, {unit}", 5, name_y=14)
    parts += bottom_axis(across, height - below, "seconds", 10)
    for column, kind in zip(columns.T, KINDS, strict=False):
        parts.append(line([(across(a), up(b)) for a, b in _enveloped(t_s, column)], kind))
    parts += _legend(labels, KINDS)
    most = float(np.abs(columns).max())
    words = f"{title} of {len(labels)} axes over {until_s:.1f} s, at most {most:.3g} {unit}."
    return Drawn(title, picture(WIDTH, height, title, words, parts, name), words, height)


def curves_picture(
    name: str, title: str, unit: str, curves: Sequence[tuple[str, str, Floats, Floats]], shades: Sequence[Shade],
    until_s: float,
) -> Drawn:  # fmt: skip
    """Smooth curves (label, kind, t_s, value) over time."""
    height, above, below = 190.0, 30.0, 42.0
    everything = np.concatenate([value for _, _, _, value in curves])
    low, high = padded(float(everything.min()), float(everything.max()), 0.06, 0.5)
    across, up = Scale(0.0, until_s, LEFT, WIDTH - RIGHT), Scale(low, high, height - below, above)
    parts = _shaded(shades, across, above, height - below)
    parts += left_axis(up, LEFT, WIDTH - RIGHT, f"{title.lower()}, {unit}", 4, name_y=14)
    parts += bottom_axis(across, height - below, "seconds", 10)
    for _, kind, t_s, value in curves:
        parts.append(line([(across(a), up(b)) for a, b in _enveloped(t_s, value)], kind))
    labels = list(dict.fromkeys((label, kind) for label, kind, _, _ in curves))
    parts += _legend([label for label, _ in labels], [kind for _, kind in labels])
    words = f"{title} between {everything.min():.1f} and {everything.max():.1f} {unit}."
    return Drawn(title, picture(WIDTH, height, title, words, parts, name), words, height)


def velocity_picture(
    stretches: Sequence[tuple[Floats, Floats, Floats]], reps: Sequence[Rep], shades: Sequence[Shade], until_s: float
) -> Drawn:
    """Upward velocity (t_s, v, u) of every stretch with a band of 2 u; reps are numbered where they are fastest."""
    height, above, below = 290.0, 34.0, 42.0
    lows = [float((v - 2 * u).min()) for _, v, u in stretches]
    highs = [float((v + 2 * u).max()) for _, v, u in stretches]
    low, high = padded(max(min(lows), -4.0), min(max(highs), 4.0), 0.05)
    across, up = Scale(0.0, until_s, LEFT, WIDTH - RIGHT), Scale(low, high, height - below, above)
    parts = _shaded(shades, across, above, height - below)
    parts += left_axis(up, LEFT, WIDTH - RIGHT, "upward velocity, m/s", 6, name_y=14)
    parts += bottom_axis(across, height - below, "seconds", 10)
    parts.append(segment(LEFT, up(0.0), WIDTH - RIGHT, up(0.0), "c-axis"))
    for t_s, v, u in stretches:
        take = np.unique(np.linspace(0, len(t_s) - 1, min(len(t_s), 2 * MOST_BINS)).astype(int))
        limit = [np.clip(one, low, high) for one in (v + 2 * u, v - 2 * u, v)]
        upper, lower, middle = ([(across(t_s[k]), up(float(one[k]))) for k in take] for one in limit)
        parts += [area(upper, lower, "r-band"), line(middle, "r-line")]
    for rep in reps:
        figure = rep.measures.get("peak_velocity")
        top = int(np.argmax(rep.path.vz))
        x, y = across(float(rep.path.t_s[top])), up(float(rep.path.vz[top]))
        parts.append(dot(x, y, 4, "r-dot"))
        told = "" if figure is None or figure.value is None else f" {figure.value:.3f} ± {figure.u:.3f}"
        near = x > WIDTH - 150
        parts.append(
            text(x - 7 if near else x + 7, y + 4, f"{rep.index + 1}{told}", "c-label", "end" if near else "start")
        )
    parts += _legend(["velocity, band ± 2 u", "at rest, firm", "held still", "looked still, not believed"],
                     ["r-line", "s-rest", "s-held", "s-denied"])  # fmt: skip
    words = f"{len(reps)} reps; the band is two standard uncertainties to each side."
    return Drawn("Velocity", picture(WIDTH, height, "Velocity", words, parts, "velocity"), words, height)


def paths_picture(reps: Sequence[Rep]) -> Drawn | None:
    """Side view of every rep, forward to the right, with equal scales; None where no fore-aft motion is known."""
    seen = [rep for rep in reps if rep.path.x_m is not None][:8]
    if not seen:
        return None
    height, above, below, gap = 330.0, 26.0, 30.0, 16.0
    rise = max(float(np.ptp(rep.path.z_m)) for rep in seen) * 1.08 + 0.02
    low = min(float(rep.path.z_m.min()) for rep in seen) - 0.03
    per_m = (height - above - below) / rise
    cell = (WIDTH - LEFT - RIGHT - gap * (len(seen) - 1)) / len(seen)
    up = Scale(low, low + rise, height - below, above)
    parts = left_axis(up, LEFT, WIDTH - RIGHT, "height, m", 6, name_y=14)
    for place, rep in enumerate(seen):
        x_m = rep.path.x_m
        assert x_m is not None
        middle = LEFT + place * (cell + gap) + cell / 2 - per_m * float(x_m.max() + x_m.min()) / 2
        parts.append(segment(middle, above, middle, height - below, "r-plumb"))
        points = [(round(middle + per_m * float(a), 1), up(float(b))) for a, b in zip(x_m, rep.path.z_m, strict=True)]
        parts.append(line(points, "r-line"))
        parts.append(dot(*points[0], 3.5, "r-dot"))
        parts.append(
            text(LEFT + place * (cell + gap) + cell / 2, height - 10, f"rep {rep.index + 1}", "c-tick", "middle")
        )
    words = "Side view, forward to the right, plumb lines through the start; the same scale both ways."
    return Drawn("Bar path", picture(WIDTH, height, "Bar path", words, parts, "paths"), words, height)


def constraints_picture(constraints: Sequence[Constraint]) -> Drawn | None:
    """How much the velocity would move without each, as bars; None where there is none."""
    held = [one for one in constraints if one.kind != "not_believed"]
    if not held:
        return None
    row, above, below, left = 22.0, 12.0, 44.0, 230.0
    height = above + row * len(held) + below
    most = max(one.moved_m_s for one in held)
    floor = 1e-4
    across = Scale(math.log10(floor), math.log10(max(most, 10 * floor)) + 0.05, left, WIDTH - 90)
    parts = []
    for power in range(-4, 2):
        if across.low <= power <= across.high:
            x = across(float(power))
            parts += [segment(x, above, x, height - below, "c-grid"),
                      text(x, height - below + 17, f"{10.0**power:g}", "c-tick", "middle")]  # fmt: skip
    parts.append(text((left + WIDTH - 90) / 2, height - 8, "velocity moved without it, m/s", "c-name", "middle"))
    for place, one in enumerate(held):
        y = above + row * place
        parts.append(text(left - 8, y + 15, f"{title_of(one)} {one.start_s:.1f}-{one.stop_s:.1f} s", "c-tick", "end"))
        x = across(math.log10(max(one.moved_m_s, floor)))
        parts.append(box(left, y + 4, x - left, 14, "r-bar"))
        parts.append(text(x + 6, y + 15, f"{one.moved_m_s:.4f}", "c-tick"))
    strongest = max(held, key=lambda one: one.moved_m_s)
    words = (
        f"{len(held)} constraints. The one that matters most is {title_of(strongest)} at {strongest.start_s:.1f} s: "
        f"without it velocity would move by {strongest.moved_m_s:.4f} m/s at {strongest.at_s:.1f} s."
    )
    svg = picture(WIDTH, height, "What each constraint did", words, parts, "constraints")
    return Drawn("What each constraint did", svg, words, height)


def title_of(one: Constraint) -> str:
    """What a constraint is called."""
    if one.kind == "same_height":
        return "same height"
    if one.kind == "not_believed":
        return "not believed"
    return "firm rest" if one.firm else "held rest"


def _shaded(shades: Sequence[Shade], across: Scale, top: float, bottom: float) -> list[str]:
    out = []
    for one in shades:
        a, b = across(max(across.low, one.start_s)), across(min(across.high, one.stop_s))
        out.append(box(a, top, max(b - a, 1.0), bottom - top, f"s-{one.kind}"))
    return out


def _legend(labels: Sequence[str], kinds: Sequence[str]) -> list[str]:
    out, x = [], WIDTH - RIGHT
    for label, kind in reversed(list(zip(labels, kinds, strict=False))):
        x -= 6.6 * len(label) + 34
        out.append(box(x, 5, 20, 9, kind) if kind.startswith("s-") else segment(x, 10, x + 20, 10, kind))
        out.append(text(x + 25, 14, label, "c-tick"))
    return out


def _enveloped(t_s: Floats, values: Floats) -> list[tuple[float, float]]:
    """Points of a curve: all of them, or least and greatest of each of MOST_BINS bins in their order."""
    n = len(t_s)
    if n <= 2 * MOST_BINS:
        return list(zip(t_s.tolist(), values.tolist(), strict=True))
    edges = np.linspace(0, n, MOST_BINS + 1).astype(int)
    out = []
    for a, b in pairwise(edges):
        places = sorted((a + int(np.argmin(values[a:b])), a + int(np.argmax(values[a:b]))))
        out += [(float(t_s[k]), float(values[k])) for k in dict.fromkeys(places)]
    return out
