"""A measured figure with its standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Estimate:
    """One figure, its standard uncertainty (GUM, JCGM 100:2008) and its UCUM unit.

    value and u are None together when the figure cannot be had; `reason` then says why.
    """

    value: float | None
    u: float | None
    unit: str
    reason: str | None = None

    def __post_init__(self) -> None:
        if (self.value is None) != (self.u is None):
            raise ValueError("a figure has both a value and an uncertainty, or neither")
        if self.value is None and not self.reason:
            raise ValueError("a figure that cannot be had needs a reason")
        if self.value is not None and self.u is not None and not (math.isfinite(self.value) and self.u >= 0):
            raise ValueError(f"not a usable figure: {self.value} ± {self.u} {self.unit}")


def unknown(unit: str, reason: str) -> Estimate:
    """A figure that cannot be had, with the reason in plain words."""
    return Estimate(None, None, unit, reason)
