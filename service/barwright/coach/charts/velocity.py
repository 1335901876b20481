"""How fast the bar rose, over time, with its phases shaded."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from barwright.analysis.reps.results import Phase, RepPath
from barwright.coach.charts.drawing import (
    Chart,
    Scale,
    Table,
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
    thinned,
)
from barwright.coach.words import phase_title, phase_titles

_WIDTH, _HEIGHT = 390.0, 342.0
_LEFT, _ABOVE, _BELOW = 44.0, 92.0, 44.0
_MOST_POINTS = 240
_SAME_MOMENT_S = 0.03
_ROWS = 4


def velocity_chart(
    path: RepPath,
    phases: Sequence[Phase],
    other: RepPath | None = None,
    other_words: str = "",
    name: str = "velocity",
) -> Chart:
    """Upward velocity of one rep, with one more beneath it when wanted, both from their own start."""
    start = phases[0].start_s if phases else float(path.t_s[0])
    seconds = path.t_s - start
    low_v, high_v = _range(path, other)
    low_t, high_t = float(seconds[0]), float(seconds[-1])
    across = Scale(low_t, high_t, _LEFT, _WIDTH - 8)
    up = Scale(low_v, high_v, _HEIGHT - _BELOW, _ABOVE)
    parts = _shades(phases, start, across)
    parts += left_axis(up, _LEFT, _WIDTH - 8, "upward velocity, m/s", name_y=12)
    parts += bottom_axis(across, _HEIGHT - _BELOW, "seconds from the start of the rep", 6)
    parts.append(segment(_LEFT, up(0), _WIDTH - 8, up(0), "c-axis"))
    places = thinned(len(seconds), _MOST_POINTS)
    above = [(across(seconds[n]), up(path.vz[n] + 2 * path.u_vz[n])) for n in places]
    below = [(across(seconds[n]), up(path.vz[n] - 2 * path.u_vz[n])) for n in places]
    parts.append(area(above, below, "c-band"))
    if other is not None:
        parts.append(line(_shifted(path, other, start, across, up), "c-other"))
    parts.append(line([(across(seconds[n]), up(path.vz[n])) for n in places], "c-line"))
    top = int(np.argmax(path.vz))
    parts.append(dot(across(seconds[top]), up(path.vz[top]), 4.5, "c-dot", f"{path.vz[top]:.2f} m/s"))
    said = f"{path.vz[top]:.2f} m/s"
    near_edge = across(seconds[top]) > _WIDTH - 90
    parts.append(
        text(
            across(seconds[top]) + (-9 if near_edge else 9),
            up(path.vz[top]) + 4,
            said,
            "c-label",
            "end" if near_edge else "start",
        )
    )
    words = _words(path, phases, seconds, top)
    svg = picture(_WIDTH, _HEIGHT, "Bar velocity", words, parts, name)
    key: tuple[tuple[str, str], ...] = (("c-band-key", "band: ± 2 u"), ("c-dot", "peak"))
    if other is not None:
        key += (("c-other", other_words),)
    return Chart("Bar velocity", "m/s over seconds", svg, words, _table(path, phases, start), key)


def _range(path: RepPath, other: RepPath | None) -> tuple[float, float]:
    columns = [path.vz - 2 * path.u_vz, path.vz + 2 * path.u_vz] + ([] if other is None else [other.vz])
    low = min(0.0, *(float(np.min(column)) for column in columns))
    high = max(0.5, *(float(np.max(column)) for column in columns))
    return padded(low, high, 0.05)


def _shades(phases: Sequence[Phase], start: float, across: Scale) -> list[str]:
    """Phases as grey fields, lighter and darker in turn, their names above them."""
    out, middles = [], []
    for place, phase in enumerate(phases):
        left = across(max(across.low, phase.start_s - start))
        right = across(min(across.high, phase.stop_s - start))
        middles.append((left + right) / 2)
        out.append(
            box(left, _ABOVE, right - left, _HEIGHT - _BELOW - _ABOVE, "c-shade odd" if place % 2 else "c-shade")
        )
    titles = phase_titles([phase.phase for phase in phases])
    for words, middle, spot in zip(titles, middles, _spots(titles, middles), strict=True):
        if spot is None:
            continue
        x, row = spot
        y = _ABOVE - 8 - 16 * row
        if row:
            out.append(segment(middle, y + 4, middle, _ABOVE, "c-leader"))
        out.append(text(x + 4, y, words, "c-label"))
    return out


def _spots(titles: Sequence[str], middles: Sequence[float]) -> list[tuple[float, int] | None]:
    """Left edge and row (0 the lowest) of every name, over the middle of its phase; None where no room is left.

    The line that ties a name in a higher row to its phase is kept off the names below it, where that can be.
    """
    taken, led = [-1e9] * _ROWS, [-1e9] * _ROWS  # the right edge of what stands in a row, and the last line through it
    out: list[tuple[float, int] | None] = []
    for place, (words, middle) in enumerate(zip(titles, middles, strict=True)):
        width = 6.4 * len(words) + 8
        following = middles[place + 1] if place + 1 < len(middles) else 1e9
        spot = None
        for clear in (True, False):
            for row in range(_ROWS):
                low = max(2.0, taken[row] + 1, middle - width + 2, led[row] + 2 if clear else -1e9)
                high = min(middle - 2 if clear else middle, _WIDTH - width, following - 2 - width if clear else 1e9)
                if spot is None and low <= high:
                    spot = (min(max(middle - width / 2, low), high), row)
        out.append(spot)
        if spot is not None:
            x, row = spot
            taken[row] = x + width
            led[:row] = [middle] * row
    return out


def _shifted(path: RepPath, other: RepPath, start: float, across: Scale, up: Scale) -> list[tuple[float, float]]:
    """The other rep, laid so that both peaks come at the same time."""
    peak = float(path.t_s[int(np.argmax(path.vz))]) - start
    seconds = other.t_s - float(other.t_s[int(np.argmax(other.vz))]) + peak
    inside = np.flatnonzero((seconds >= across.low) & (seconds <= across.high))
    return [(across(seconds[inside[n]]), up(other.vz[inside[n]])) for n in thinned(len(inside), _MOST_POINTS)]


def _words(path: RepPath, phases: Sequence[Phase], seconds: np.ndarray, top: int) -> str:
    at = float(path.t_s[top])
    ending = next((p for p in phases if abs(p.stop_s - at) < _SAME_MOMENT_S), None)
    during = next((p for p in phases if p.start_s <= at <= p.stop_s), None)
    where = ""
    if ending is not None:
        where = f", at the end of the {phase_title(ending.phase).lower()}"
    elif during is not None:
        where = f", in the {phase_title(during.phase).lower()}"
    return f"The bar was fastest {seconds[top]:.2f} s after the start of the rep{where}: {path.vz[top]:.2f} m/s."


def _table(path: RepPath, phases: Sequence[Phase], start: float) -> Table:
    rows = []
    titles = phase_titles([phase.phase for phase in phases])
    for title, phase in zip(titles, phases, strict=True):
        inside = (path.t_s >= phase.start_s) & (path.t_s <= phase.stop_s)
        fastest = f"{float(np.max(path.vz[inside])):.2f}".replace("-", "−") if inside.any() else "–"
        rows.append(
            (
                title,
                f"{phase.start_s - start:.2f}",
                f"{phase.stop_s - start:.2f}",
                fastest,
                f"{100 * phase.sure:.0f} %",
            )
        )
    return Table(("Phase", "From, s", "To, s", "Fastest, m/s", "Sure of its edges"), tuple(rows))
