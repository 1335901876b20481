"""A measured figure with its standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """value and its standard uncertainty u, both in `unit` (UCUM); both None when it cannot be had: see `reason`."""

    value: float | None
    u: float | None
    unit: str
    reason: str | None = None

    def __str__(self) -> str:
        """Such as `1.82 ± 0.01 m/s`; u is shown with one digit, two when it begins with 1."""
        if self.value is None:
            return f"unknown ({self.reason})" if self.reason else "unknown"
        unit = f" {self.unit}" if self.unit not in ("", "1") else ""
        if self.u is None or self.u <= 0 or not math.isfinite(self.u):
            return f"{self.value:.4g}{unit}"
        places = _places(self.u)
        return f"{round(self.value, places):.{max(0, places)}f} ± {round(self.u, places):.{max(0, places)}f}{unit}"

    def __bool__(self) -> bool:
        """False when there is no value."""
        return self.value is not None


def _places(u: float) -> int:
    """Decimal places that leave u one digit, or two when the first is 1 (so that rounding changes u by 5 % at most)."""
    places = -math.floor(math.log10(u))
    if round(u, places) >= 10.0 ** (1 - places):  # 0.0096 shows as 0.010
        places -= 1
    return places + 1 if u * 10.0**places < 1.95 else places


def figure(document: Any) -> Figure:
    """A figure as the service writes it."""
    return Figure(document["value"], document.get("u"), str(document.get("unit", "")), document.get("reason"))
