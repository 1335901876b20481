"""How a sensor sits on the bar, as declared."""

from __future__ import annotations

import math
from typing import Any

from barwright.ingest.columns import Path, kind_of
from barwright.ingest.refusals import Refusal, pointer_to

Axis = tuple[float, float, float]

_NAMED: dict[str, Axis] = {
    sign + name: tuple(size * (i == j) for j in range(3))  # type: ignore[misc]
    for sign, size in (("+", 1.0), ("-", -1.0), ("", 1.0))
    for i, name in enumerate("xyz")
}
_SHORTEST, _LONGEST = 1e-6, 1e6


def parse_bar_axis(declared: Any, path: Path = ("mounting", "bar_axis")) -> Axis:
    """The sensor axis that points along the bar to the lifter's left, as a unit vector (3,) in the sensor frame.

    declared: "+x", "-z", ..., or three numbers of any length, such as [0.98, 0.17, 0]. Raises Refusal otherwise.
    """
    if isinstance(declared, str) and declared.strip().lower() in _NAMED:
        return _NAMED[declared.strip().lower()]
    if isinstance(declared, list | tuple) and len(declared) == 3 and all(type(n) in (int, float) for n in declared):
        size = math.hypot(*(min(max(n, -_LONGEST), _LONGEST) if n == n else n for n in declared))
        if _SHORTEST <= size < _LONGEST:
            x, y, z = (float(n) / size for n in declared)
            return (x, y, z)
    said = repr(declared[:40]) if isinstance(declared, str) else kind_of(declared)
    raise Refusal(
        "bad-bar-axis",
        f"`bar_axis` is {said}; it has to be the sensor axis that points to the lifter's left: one of +x, -x, "
        "+y, -y, +z, -z, or three numbers that are not all zero.",
        pointer_to(*path),
    )
