"""Velocity against load: the line, its interval, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.coach.charts.drawing import (
    Chart,
    Scale,
    Table,
    area,
    bottom_axis,
    diamond,
    dot,
    left_axis,
    line,
    padded,
    picture,
    segment,
    tick_words,
)
from barwright.coach.numbers import Display, counted

_WIDTH, _HEIGHT = 400.0, 290.0
_LEFT, _RIGHT, _ABOVE, _BELOW = 44.0, 14.0, 30.0, 46.0


@dataclass(frozen=True, slots=True)
class PointSeen:
    """One load of one day: kg, m/s, u; today: it was lifted on the day that is looked at."""

    load_kg: float
    velocity: float
    u: float
    words: str
    today: bool = False


@dataclass(frozen=True, slots=True)
class LineAt:
    """The line at one load, with its 95 % interval; m/s."""

    load_kg: float
    velocity: float
    low: float
    high: float


def profile_chart(
    points: Sequence[PointSeen],
    along: Sequence[LineAt],
    max_kg: float,
    max_u: float,
    one_rep: float,
    lift: str,
    display: Display,
    name: str,
) -> Chart:
    """The load-velocity line of one athlete and lift. one_rep: velocity of a maximum, m/s."""
    factor = display.to_kg(1.0)
    low_v, high_v = padded(
        min([one.low for one in along] + [one.velocity for one in points] + [one_rep]),
        max([one.high for one in along] + [one.velocity for one in points]),
    )
    loads = [one.load_kg / factor for one in along] + [one.load_kg / factor for one in points] + [max_kg / factor]
    low, high = padded(min(loads), max(loads), 0.04)
    across = Scale(low, high, _LEFT, _WIDTH - _RIGHT)
    up = Scale(max(0.0, low_v), high_v, _HEIGHT - _BELOW, _ABOVE)
    ticks = across.ticks(6)
    parts = left_axis(up, _LEFT, _WIDTH - _RIGHT, "velocity, m/s")
    parts += bottom_axis(across, _HEIGHT - _BELOW, f"load, {display.unit}", 6, tick_words(ticks))
    kept = [one for one in along if one.high > up.low]
    parts.append(
        area(
            [(across(one.load_kg / factor), up(one.high)) for one in kept],
            [(across(one.load_kg / factor), up(max(one.low, up.low))) for one in kept],
            "c-band",
        )
    )
    parts.append(line([(across(one.load_kg / factor), up(one.velocity)) for one in kept], "c-line"))
    for one in points:
        x, y = across(one.load_kg / factor), up(one.velocity)
        parts.append(segment(x, up(one.velocity - 2 * one.u), x, up(one.velocity + 2 * one.u), "c-err"))
        parts.append(dot(x, y, 4.4 if one.today else 3.2, "c-dot" if one.today else "c-dot hollow", one.words))
    x = across(max_kg / factor)
    parts.append(
        segment(
            across((max_kg - 2 * max_u) / factor),
            up(one_rep),
            across(min((max_kg + 2 * max_u) / factor, high)),
            up(one_rep),
            "c-max-bar",
        )
    )
    parts.append(diamond(x, up(one_rep), 6, "c-max", f"maximum {display.weight_with_u(max_kg, max_u)}"))
    title = f"{lift}: load and velocity"
    words = (
        f"The line reaches the velocity of a maximum, {one_rep:.2f} m/s, at {display.weight_with_u(max_kg, max_u)}. "
        f"It rests on {counted(len(points), 'best rep')}."
    )
    rows = tuple(
        (one.words, display.weight(one.load_kg), f"{one.velocity:.2f} ± {max(one.u, 0.01):.2f}") for one in points
    )
    svg = picture(_WIDTH, _HEIGHT, title, words, parts, name)
    key = (
        ("c-line", "line"),
        ("c-band-key", "19 in 20"),
        ("c-hollow", "best rep at a load"),
        ("c-dot", "the same, today"),
        ("c-max", "predicted maximum, ± 2 u"),
    )
    return Chart(title, f"m/s at {display.unit}", svg, words, Table(("Day", "Load", "Velocity, m/s"), rows), key)
