"""How good a sensor is: the error to expect of each lift, and its figures beside those of the classes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from barwright.coach.charts.drawing import (
    Chart,
    Scale,
    Table,
    bottom_axis,
    box,
    diamond,
    picture,
    segment,
    text,
)

_WIDTH, _LEFT, _RIGHT = 390.0, 92.0, 58.0
_ROW, _ABOVE, _BELOW = 44.0, 8.0, 44.0


@dataclass(frozen=True, slots=True)
class ErrorBar:
    """One lift: u of its peak velocity as the sensor is, and calibrated (None when that is not known), m/s."""

    lift: str
    as_is: float
    calibrated: float | None


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure of a sensor beside the classes', all in `unit`. words: the value as text."""

    title: str
    unit: str
    value: float | None
    words: str
    classes: tuple[tuple[str, float], ...]
    like: str


def expected_chart(bars: Sequence[ErrorBar], name: str = "expected") -> Chart:
    """Bars, as it is above calibrated."""
    most = max(max(one.as_is, one.calibrated or 0.0) for one in bars)
    height = _ABOVE + _ROW * len(bars) + _BELOW
    across = Scale(0.0, most * 1.02, _LEFT, _WIDTH - _RIGHT)
    bottom = height - _BELOW
    parts = [segment(across(tick), _ABOVE, across(tick), bottom, "c-grid") for tick in across.ticks(4)]
    for place, one in enumerate(bars):
        y = _ABOVE + _ROW * place
        parts.append(text(_LEFT - 8, y + 27, one.lift, "c-label", "end"))
        parts.append(box(_LEFT, y + 6, across(one.as_is) - _LEFT, 14, "c-before"))
        parts.append(text(across(one.as_is) + 5, y + 18, f"{one.as_is:.4f}", "c-tick"))
        if one.calibrated is not None:
            parts.append(box(_LEFT, y + 23, across(one.calibrated) - _LEFT, 14, "c-after"))
            parts.append(text(across(one.calibrated) + 5, y + 35, f"{one.calibrated:.4f}", "c-tick"))
    parts += bottom_axis(across, bottom, "error to expect of the peak velocity, ± m/s", 4)
    words = _error_words(bars)
    rows = tuple(
        (one.lift, f"{one.as_is:.4f}", "not known" if one.calibrated is None else f"{one.calibrated:.4f}")
        for one in bars
    )
    key = (("c-before-key", "as it is"), ("c-after-key", "calibrated"))
    table = Table(("Lift", "As it is, m/s", "Calibrated, m/s"), rows)
    svg = picture(_WIDTH, height, "Error to expect", words, parts, name)
    return Chart("Error to expect", "peak velocity, ± u", svg, words, table, key)


def likeness_chart(rows: Sequence[FigureRow], name: str = "likeness") -> Chart:
    """Each figure on a logarithmic line of its own, with marks for the classes and a diamond for this sensor."""
    left, row, height = 14.0, 62.0, 8.0 + 62.0 * len(rows)
    parts: list[str] = []
    for place, one in enumerate(rows):
        y = 8.0 + row * place
        middle = y + 34
        sizes = [value for _, value in one.classes] + ([one.value] if one.value else [])
        low, high = math.log(min(sizes)) - 0.35, math.log(max(sizes)) + 0.35
        across = Scale(low, high, left, _WIDTH - 14)
        parts.append(text(left, y + 12, one.title, "c-label"))
        parts.append(text(_WIDTH - 14, y + 12, one.words, "c-label", "end"))
        parts.append(segment(left, middle, _WIDTH - 14, middle, "c-axis"))
        for letters, value in _merged(one.classes):
            x = across(math.log(value))
            parts.append(segment(x, middle - 7, x, middle + 7, "c-axis"))
            parts.append(text(x, middle + 20, letters, "c-tick", "middle"))
        if one.value:
            parts.append(diamond(across(math.log(one.value)), middle, 7, "c-max", f"this sensor: {one.words}"))
    told = {
        like: ", ".join(one.title.lower() for one in rows if one.value and one.like == like)
        for like in dict.fromkeys(one.like for one in rows if one.value)
    }
    words = " ".join(f"Nearest to the class {like}: {titles}." for like, titles in told.items())
    words = words or "None of the figures is known."
    head = ("Figure", "This sensor", *(title for title, _ in rows[0].classes))
    table = Table(
        head, tuple((f"{one.title}, {one.unit}", one.words, *(f"{v:.3g}" for _, v in one.classes)) for one in rows)
    )
    key = (("c-max", "this sensor"),)
    return Chart(
        "Beside the device classes",
        "g good, f fast, h hobby, p poor; less is better",
        picture(_WIDTH, height, "Beside the device classes", words, parts, name),
        words,
        table,
        key,
    )


def _merged(classes: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """Letters of classes whose marks would lie on each other, together."""
    out: list[tuple[str, float]] = []
    for title, value in classes:
        if out and abs(math.log(value / out[-1][1])) < 0.16:
            out[-1] = (out[-1][0] + title[:1], out[-1][1])
        else:
            out.append((title[:1], value))
    return out


def _error_words(bars: Sequence[ErrorBar]) -> str:
    said = []
    for one in (bars[0], *bars[3:4]):
        after = "" if one.calibrated is None else f", {one.calibrated:.4f} calibrated"
        said.append(f"{one.lift} {one.as_is:.4f} m/s{after}")
    return f"{'; '.join(said)}."
