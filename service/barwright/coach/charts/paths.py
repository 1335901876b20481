"""An athlete's latest bar path laid over their own good ones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from barwright.analysis.reps.results import RepPath
from barwright.coach.charts.drawing import (
    Chart,
    Scale,
    Table,
    bottom_axis,
    dot,
    left_axis,
    line,
    picture,
    segment,
    thinned,
)

_LEFT, _ABOVE, _BELOW, _WIDTH = 44.0, 30.0, 44.0, 300.0
_MOST_POINTS = 110


def paths_chart(
    latest: RepPath, latest_words: str, own: Sequence[tuple[str, RepPath]], stop_s: float | None, name: str
) -> Chart | None:
    """The latest rep over earlier good ones, up to the catch where that is told (stop_s, seconds of the stream).

    None when the latest has no horizontal path.
    """
    if latest.x_m is None:
        return None
    drawn = [(words, path) for words, path in own if path.x_m is not None]
    shapes = [_centimetres(path) for _, path in drawn]
    x, z = _centimetres(latest)
    if stop_s is not None:
        last = max(2, int(np.searchsorted(latest.t_s, stop_s)) + 1)
        x, z = x[:last], z[:last]
    top = float(np.max(z))
    shapes = [(sx[: _past_top(sz)], sz[: _past_top(sz)]) for sx, sz in shapes]
    low_x = min(-12.0, *(float(np.min(each[0])) for each in [(x, z), *shapes])) - 3
    high_x = max(12.0, *(float(np.max(each[0])) for each in [(x, z), *shapes])) + 3
    high_z = max([top, *(float(np.max(each[1])) for each in shapes)]) + 4
    per_cm = min(3.4, 400.0 / (high_z + 4), (_WIDTH - _LEFT - 20) / (high_x - low_x))
    tall, wide = per_cm * (high_z + 4), per_cm * (high_x - low_x)
    across = Scale(low_x, high_x, _LEFT, _LEFT + wide)
    up = Scale(-4.0, high_z, _ABOVE + tall, _ABOVE)
    parts = left_axis(up, _LEFT, _LEFT + wide, "height, cm", 6)
    parts += bottom_axis(across, _ABOVE + tall, "toward ◂ lifter ▸ away, cm", 4)
    parts.append(segment(across(0), _ABOVE, across(0), _ABOVE + tall, "c-zero"))
    for sx, sz in shapes:
        parts.append(line([(across(sx[n]), up(sz[n])) for n in thinned(len(sx), _MOST_POINTS)], "c-own"))
    parts.append(line([(across(x[n]), up(z[n])) for n in thinned(len(x), _MOST_POINTS)], "c-line"))
    parts.append(dot(across(x[0]), up(z[0]), 4, "c-mark"))
    words = f"Latest: {latest_words}. Beneath it {len(drawn)} earlier made lifts of the same kind."
    rows = [_row(latest_words, x, z), *(_row(words, *shape) for (words, _), shape in zip(drawn, shapes, strict=True))]
    svg = picture(_WIDTH, _ABOVE + tall + _BELOW, "Latest path and own good ones", words, parts, name)
    key = (("c-line", "latest"), ("c-own", "own good lifts"), ("c-zero", "plumb line"))
    table = Table(("Lift", "Furthest toward, cm", "Furthest away, cm", "Height, cm"), tuple(rows))
    return Chart("Latest path over own good ones", "cm, same scale both ways", svg, words, table, key, "tall")


def _centimetres(path: RepPath) -> tuple[np.ndarray, np.ndarray]:
    assert path.x_m is not None
    return 100 * path.x_m, 100 * path.z_m


def _past_top(z: np.ndarray) -> int:
    """As far as a third of a second after the first top, where a lift that is stood up would begin to hide its path."""
    rising = np.flatnonzero(np.diff(z) < -0.02)
    after = rising[rising > len(z) // 10]
    return len(z) if not len(after) else min(len(z), int(after[0]) + 35)


def _row(words: str, x: np.ndarray, z: np.ndarray) -> tuple[str, ...]:
    cells = (float(np.min(x)), float(np.max(x)), float(np.max(z)))
    return (words, *(f"{value:.1f}".replace("-", "−") for value in cells))
