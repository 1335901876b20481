"""A table as aligned plain text and as Markdown."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """title, column heads, rows of ready-made cells, and lines to say below."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()

    def text(self) -> str:
        """Aligned for a terminal."""
        return "\n".join([self.title, "=" * len(self.title), *self._lines("  "), *self.notes, ""])

    def markdown(self) -> str:
        """The same as a Markdown section."""
        lines = [f"| {line} |" for line in self._lines(" | ", rule="|")]
        notes = ["", *(f"- {note}" for note in self.notes)] if self.notes else []
        return "\n".join([f"## {self.title}", "", *lines, *notes, ""])

    def _lines(self, between: str, rule: str = "") -> list[str]:
        all_rows = (self.columns, *self.rows)
        widths = [max(len(row[k]) for row in all_rows) for k in range(len(self.columns))]
        lines = [between.join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in all_rows]
        middle = between.join("-" * width for width in widths)
        return [lines[0], middle, *lines[1:]] if rule or self.rows else lines


def against(value: float | None, limit: float | None, digits: int = 4, scale: float = 1.0) -> str:
    """A figure with its target and whether it is met: `0.0061 <0.008 met`."""
    if value is None:
        return "-"
    shown = f"{value * scale:.{digits}f}"
    if limit is None:
        return shown
    return f"{shown} <{limit * scale:g} {'met' if value <= limit else 'NOT met'}"


def coverage(share: float | None) -> str:
    """A share of truths inside value +/- 2 u in per cent; 92-98 is aimed at."""
    if share is None:
        return "-"
    mark = "met" if 0.92 <= share <= 0.98 else "low" if share < 0.92 else "wide"
    return f"{100 * share:.1f} {mark}"
