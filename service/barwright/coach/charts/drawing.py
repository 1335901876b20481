"""Charts of the pages: what stands beside a picture, and the pieces it is made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from barwright.pictures import drawing
from barwright.pictures.drawing import Scale as Scale
from barwright.pictures.drawing import area as area
from barwright.pictures.drawing import bottom_axis as bottom_axis
from barwright.pictures.drawing import box as box
from barwright.pictures.drawing import diamond as diamond
from barwright.pictures.drawing import dot as dot
from barwright.pictures.drawing import left_axis as left_axis
from barwright.pictures.drawing import line as line
from barwright.pictures.drawing import padded as padded
from barwright.pictures.drawing import round_ticks as round_ticks
from barwright.pictures.drawing import segment as segment
from barwright.pictures.drawing import text as text
from barwright.pictures.drawing import thinned as thinned
from barwright.pictures.drawing import tick_words as tick_words


@dataclass(frozen=True, slots=True)
class Table:
    """The same figures as text."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture with everything that has to stand beside it. words: what it shows, for those who do not see it."""

    title: str
    units: str
    svg: Markup
    words: str
    table: Table
    key: tuple[tuple[str, str], ...] = ()  # (class of the line, what it is)
    shape: str = ""  # tall: does not grow beyond what a tall picture can use


def picture(width: float, height: float, title: str, words: str, parts: Iterable[str], name: str) -> Markup:
    """The whole SVG, as a page takes it. name: unique on its page; it ties title and description to the picture."""
    made = drawing.picture(width, height, title, words, parts, name)
    return Markup(made)  # noqa: S704 - every text in it was escaped where it came in
