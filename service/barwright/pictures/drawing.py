"""Pieces every picture is made of: marks, scales, axes, as SVG text. The standard library only."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape


@dataclass(frozen=True, slots=True)
class Scale:
    """Values to pixels, straight."""

    low: float
    high: float
    first_px: float
    last_px: float

    def __call__(self, value: float) -> float:
        """The pixel of a value, to a tenth."""
        share = (value - self.low) / (self.high - self.low)
        return round(self.first_px + share * (self.last_px - self.first_px), 1)

    def ticks(self, about: int) -> list[float]:
        """Round values within the range."""
        return round_ticks(self.low, self.high, about)


def round_ticks(low: float, high: float, about: int) -> list[float]:
    """Multiples of 1, 2 or 5 times a power of ten, about so many of them."""
    if not high > low:
        return [low]
    rough = (high - low) / max(1, about)
    size = 10.0 ** math.floor(math.log10(rough))
    step = min((size * each for each in (1.0, 2.0, 5.0, 10.0)), key=lambda each: abs(math.log(each / rough)))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(step * n, 10) for n in range(first, last + 1)]


def tick_words(values: Sequence[float]) -> list[str]:
    """All with as many decimals as the step between them needs."""
    step = abs(values[1] - values[0]) if len(values) > 1 else 1.0
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0
    return [f"{value:.{decimals}f}".replace("-", "−") if value else "0" for value in values]


def padded(low: float, high: float, share: float = 0.06, least: float = 1e-6) -> tuple[float, float]:
    """A range with some room at both ends."""
    room = max((high - low) * share, least)
    return low - room, high + room


def picture(width: float, height: float, title: str, words: str, parts: Iterable[str], name: str) -> str:
    """The whole SVG. name: unique on its page; it ties title and description to the picture."""
    return (
        f'<svg viewBox="0 0 {width:g} {height:g}" role="img" aria-labelledby="{name}-t {name}-d" '
        f'xmlns="http://www.w3.org/2000/svg"><title id="{name}-t">{escape(title)}</title>'
        f'<desc id="{name}-d">{escape(words)}</desc>{"".join(parts)}</svg>'
    )


def line(points: Sequence[tuple[float, float]], kind: str) -> str:
    """A line through pixels."""
    return f'<path class="{kind}" d="{_through(points)}"/>' if len(points) > 1 else ""


def area(upper: Sequence[tuple[float, float]], lower: Sequence[tuple[float, float]], kind: str) -> str:
    """The area between two lines."""
    return f'<path class="{kind}" d="{_through([*upper, *reversed(lower)])}Z"/>' if len(upper) > 1 else ""


def segment(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    """A straight stroke."""
    return f'<path class="{kind}" d="M{x1:g} {y1:g}L{x2:g} {y2:g}"/>'


def box(x: float, y: float, width: float, height: float, kind: str) -> str:
    """A rectangle."""
    return f'<rect class="{kind}" x="{x:g}" y="{y:g}" width="{max(width, 0):g}" height="{max(height, 0):g}"/>'


def dot(x: float, y: float, radius: float, kind: str, said: str = "") -> str:
    """A round mark; `said` shows when the pointer rests on it."""
    inner = f"<title>{escape(said)}</title>" if said else ""
    return f'<circle class="{kind}" cx="{x:g}" cy="{y:g}" r="{radius:g}">{inner}</circle>'


def diamond(x: float, y: float, radius: float, kind: str, said: str = "") -> str:
    """A mark told from dots by its form."""
    inner = f"<title>{escape(said)}</title>" if said else ""
    d = f"M{x:g} {y - radius:g}L{x + radius:g} {y:g}L{x:g} {y + radius:g}L{x - radius:g} {y:g}Z"
    return f'<path class="{kind}" d="{d}">{inner}</path>'


def text(x: float, y: float, words: str, kind: str = "c-tick", anchor: str = "start") -> str:
    """Words."""
    end = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text class="{kind}" x="{x:g}" y="{y:g}"{end}>{escape(words)}</text>'


def left_axis(
    scale: Scale, x: float, right: float, name: str, about: int = 5, name_y: float | None = None
) -> list[str]:
    """Ticks, grid lines and the name of the upright axis, written above it or at name_y."""
    ticks = scale.ticks(about)
    out = [segment(x, scale(value), right, scale(value), "c-grid") for value in ticks]
    out += [
        text(x - 6, scale(value) + 4, words, anchor="end")
        for value, words in zip(ticks, tick_words(ticks), strict=True)
    ]
    above = min(scale.first_px, scale.last_px) - 9
    return [*out, text(2, above if name_y is None else name_y, name, "c-name")]


def bottom_axis(scale: Scale, y: float, name: str, about: int = 5, words: Sequence[str] | None = None) -> list[str]:
    """Ticks and name of the level axis."""
    ticks = scale.ticks(about)
    told = words if words is not None else tick_words(ticks)
    out = [segment(scale.first_px, y, scale.last_px, y, "c-axis")]
    for value, said in zip(ticks, told, strict=True):
        out += [
            segment(scale(value), y, scale(value), y + 4, "c-axis"),
            text(scale(value), y + 17, said, anchor="middle"),
        ]
    return [*out, text((scale.first_px + scale.last_px) / 2, y + 34, name, "c-name", "middle")]


def thinned(count: int, most: int) -> list[int]:
    """At most so many places among `count`, evenly, first and last among them."""
    if count <= most:
        return list(range(count))
    return sorted({round(n * (count - 1) / (most - 1)) for n in range(most)})


def _through(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{trimmed(x, 1)} {trimmed(y, 1)}".replace("−", "-") for x, y in points)


def trimmed(value: float, decimals: int) -> str:
    """A number without needless noughts, and never `-0`."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "−")
