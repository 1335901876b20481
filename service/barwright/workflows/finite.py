"""A last look over an analysis before it is kept or shown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")


def check_finite(analysis: T, name: str = "set") -> T:
    """The same analysis. Raises ArithmeticError for a number that is not finite: JSON (RFC 8259) has none."""
    for where in _not_finite(analysis, name):
        raise ArithmeticError(f"{where} is not finite")
    return analysis


def _not_finite(part: Any, where: str) -> Iterator[str]:
    if isinstance(part, float | np.ndarray):
        if not np.all(np.isfinite(part)):
            yield where
    elif isinstance(part, tuple):
        for place, one in enumerate(part):
            yield from _not_finite(one, f"{where}[{place}]")
    elif isinstance(part, dict):
        for name, one in part.items():
            yield from _not_finite(one, f"{where}[{name}]")
    elif is_dataclass(part):
        for field in fields(part):
            yield from _not_finite(getattr(part, field.name), f"{where}.{field.name}")
