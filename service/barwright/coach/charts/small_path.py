"""A bar path as a small picture without axes, to glance at in a list."""

from __future__ import annotations

from html import escape

import numpy as np
from markupsafe import Markup

from barwright.analysis.reps.results import RepPath
from barwright.coach.charts.drawing import line, segment, thinned

_WIDTH, _HEIGHT, _MARGIN = 62.0, 116.0, 6.0
_MOST_POINTS = 60


def small_path(path: RepPath, said: str) -> Markup | None:
    """Both axes to the same scale, the plumb line dash-dotted; None without a horizontal path."""
    if path.x_m is None:
        return None
    x, z = 100 * path.x_m, 100 * path.z_m
    tall = max(float(np.max(z) - np.min(z)), 30.0)
    wide = max(float(np.max(np.abs(x))) * 2, 20.0)
    per_cm = min((_HEIGHT - 2 * _MARGIN) / tall, (_WIDTH - 2 * _MARGIN) / wide)
    middle, floor = _WIDTH / 2, _HEIGHT - _MARGIN
    low = float(np.min(z))
    points = [
        (middle + per_cm * float(x[n]), floor - per_cm * (float(z[n]) - low)) for n in thinned(len(x), _MOST_POINTS)
    ]
    parts = segment(middle, _MARGIN, middle, floor, "c-zero thin") + line(points, "c-line thin")
    head = f'<svg class="small-path" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" role="img" aria-label="{escape(said)}">'
    return Markup(f"{head}{parts}</svg>")  # noqa: S704 - escaped where it came in
