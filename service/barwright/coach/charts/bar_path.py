"""Where the bar went, seen from the lifter's left: both axes to the same scale, beside the plumb line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.reps.results import Phase, RepPath
from barwright.coach.charts.drawing import (
    Chart,
    Scale,
    Table,
    area,
    bottom_axis,
    dot,
    left_axis,
    line,
    picture,
    segment,
    text,
    thinned,
)
from barwright.coach.words import phase_titles

Floats = NDArray[np.float64]
_MOST_POINTS = 150
_LEFT, _RIGHT, _ABOVE, _BELOW = 44.0, 150.0, 34.0, 44.0
_LINE_KINDS = 6
_WORTH_DRAWING_M = 0.02


def bar_path_chart(
    path: RepPath,
    phases: Sequence[Phase],
    forward_known: bool,
    other: RepPath | None = None,
    other_words: str = "",
    name: str = "path",
) -> Chart | None:
    """The path of one rep, with one more beneath it when wanted; None when the sensor saw no horizontal motion.

    One centimetre is as long across as it is up. The band is two standard uncertainties to either side.
    """
    if path.x_m is None or path.u_x is None:
        return None
    x_cm, z_cm, u_cm = 100 * path.x_m, 100 * path.z_m, 200 * path.u_x
    drawn_x = [x_cm - u_cm, x_cm + u_cm]
    drawn_z = [z_cm]
    if other is not None and other.x_m is not None:
        drawn_x.append(100 * other.x_m)
        drawn_z.append(100 * other.z_m)
    low_x, high_x = _range(drawn_x, least=44.0)
    low_z, high_z = _range(drawn_z, least=30.0)
    per_cm = min(3.4, 440.0 / (high_z - low_z), 190.0 / (high_x - low_x))
    wide, tall = per_cm * (high_x - low_x), per_cm * (high_z - low_z)
    across = Scale(low_x, high_x, _LEFT, _LEFT + wide)
    up = Scale(low_z, high_z, _ABOVE + tall, _ABOVE)
    parts = left_axis(up, _LEFT, _LEFT + wide, "height, cm", 6)
    parts += bottom_axis(
        across, _ABOVE + tall, "toward ◂ lifter ▸ away, cm" if forward_known else "fore and aft, cm", 2
    )
    parts.append(segment(across(0), _ABOVE, across(0), _ABOVE + tall, "c-zero"))
    parts.append(_band(path, across, up))
    if other is not None and other.x_m is not None:
        parts.append(line(_pixels(other.x_m, other.z_m, across, up), "c-other"))
    for place, phase in enumerate(phases):
        inside = _within(path, phase)
        kind = f"c-line c-p{place % _LINE_KINDS}"
        parts.append(line(_pixels(path.x_m[inside], path.z_m[inside], across, up), kind))
    if not phases:
        parts.append(line(_pixels(path.x_m, path.z_m, across, up), "c-line"))
    after = _after(path, phases)
    if after is not None:
        parts.append(line(_pixels(path.x_m[after], path.z_m[after], across, up), "c-after-line"))
    parts.append(dot(across(x_cm[0]), up(z_cm[0]), 4, "c-mark", "start"))
    top = int(np.argmax(path.vz))
    parts.append(dot(across(x_cm[top]), up(z_cm[top]), 4.5, "c-dot", f"peak velocity, {path.vz[top]:.2f} m/s"))
    parts += _labels(path, phases, across, up, _LEFT + wide, tall)
    words = _words(path, forward_known)
    width = max(_LEFT + wide + _RIGHT, 300.0)
    svg = picture(width, _ABOVE + tall + _BELOW, "Bar path", words, parts, name)
    key: tuple[tuple[str, str], ...] = (
        ("c-zero", "plumb line through the start"),
        ("c-band-key", "band: ± 2 u across"),
        ("c-dot", "peak velocity"),
    )
    if after is not None:
        key += (("c-after-line", "after the last phase"),)
    if other is not None:
        key += (("c-other", other_words),)
    return Chart("Bar path", "cm, both axes to the same scale", svg, words, _table(path, phases), key, "tall")


def _range(columns: Sequence[Floats], least: float) -> tuple[float, float]:
    low = min(0.0, *(float(np.min(column)) for column in columns))
    high = max(0.0, *(float(np.max(column)) for column in columns))
    missing = max(0.0, least - (high - low)) / 2
    return low - missing - 2.0, high + missing + 2.0


def _pixels(x_m: Floats, z_m: Floats, across: Scale, up: Scale) -> list[tuple[float, float]]:
    return [(across(100 * x_m[n]), up(100 * z_m[n])) for n in thinned(len(x_m), _MOST_POINTS)]


def _band(path: RepPath, across: Scale, up: Scale) -> str:
    assert path.x_m is not None
    assert path.u_x is not None
    return area(
        _pixels(path.x_m - 2 * path.u_x, path.z_m, across, up),
        _pixels(path.x_m + 2 * path.u_x, path.z_m, across, up),
        "c-band",
    )


def _within(path: RepPath, phase: Phase) -> NDArray[np.intp]:
    first = max(0, int(np.searchsorted(path.t_s, phase.start_s)) - 1)
    last = min(len(path.t_s) - 1, int(np.searchsorted(path.t_s, phase.stop_s)))
    return np.arange(first, last + 1)


def _after(path: RepPath, phases: Sequence[Phase]) -> NDArray[np.intp] | None:
    """What comes after the last phase, as the fall of a lost bar; None when that is nearly nothing."""
    assert path.x_m is not None
    if not phases:
        return None
    first = min(len(path.t_s) - 1, int(np.searchsorted(path.t_s, phases[-1].stop_s)))
    way = max(float(np.ptp(path.x_m[first:])), float(np.ptp(path.z_m[first:])))
    return np.arange(first, len(path.t_s)) if way > _WORTH_DRAWING_M else None


def _labels(path: RepPath, phases: Sequence[Phase], across: Scale, up: Scale, right: float, tall: float) -> list[str]:
    """The phases' names at the right, none over another, each tied to the middle of its line."""
    assert path.x_m is not None
    ends = []
    titles = phase_titles([phase.phase for phase in phases])
    for place, phase in enumerate(phases):
        inside = _within(path, phase)
        if len(inside) > 1:
            middle = int(inside[len(inside) // 2])
            ends.append((up(100 * path.z_m[middle]), across(100 * path.x_m[middle]), place, titles[place]))
    out, floor = [], _ABOVE + tall - 4
    lowest = floor
    placed = []
    for wanted, x, place, words in sorted(ends, reverse=True):  # from the platform upward
        y = min(wanted, lowest)
        placed.append((y, wanted, x, place, words))
        lowest = y - 20
    for y, wanted, x, place, words in placed:
        out.append(segment(x, wanted, right + 6, y, "c-leader"))
        out.append(segment(right + 10, y, right + 36, y, f"c-line c-p{place % _LINE_KINDS}"))
        out.append(text(right + 41, y + 4, words, "c-label"))
    return out


def _words(path: RepPath, forward_known: bool) -> str:
    assert path.x_m is not None
    back, front = -100 * float(np.min(path.x_m)), 100 * float(np.max(path.x_m))
    height = 100 * float(np.max(path.z_m) - np.min(path.z_m))
    if not forward_known:
        return (
            f"The bar travelled {height:.0f} cm up and {back + front:.0f} cm fore and aft. Which way is forward is not "
            "known for this sensor, so the picture may be mirrored."
        )
    return (
        f"The bar travelled {height:.0f} cm up. Measured from where it left its rest it came {back:.0f} cm toward the "
        f"lifter at most and went {front:.0f} cm away at most."
    )


def _table(path: RepPath, phases: Sequence[Phase]) -> Table:
    assert path.x_m is not None
    assert path.u_x is not None
    times = [("Start", float(path.t_s[0]))]
    titles = phase_titles([phase.phase for phase in phases])
    times += [(f"End: {title.lower()}", phase.stop_s) for title, phase in zip(titles, phases, strict=True)]
    rows = []
    for words, at in times:
        x, z, u = (100 * float(np.interp(at, path.t_s, column)) for column in (path.x_m, path.z_m, path.u_x))
        rows.append((words, f"{x:.1f} ± {max(u, 0.1):.1f}".replace("-", "−"), f"{z:.1f}".replace("-", "−")))
    return Table(("Where", "Away from the lifter, cm", "Height, cm"), tuple(rows))
