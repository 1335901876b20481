"""What a sender tells of a file: units, names for its columns, scales of counts, a rate in place of a clock."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from barwright.analysis.quantities.units import UNITS
from barwright.ingest.columns import Path, kind_of
from barwright.ingest.declared_units import QUANTITY_OF, known_units
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal, pointer_to

MOST_COLUMNS = 1000
_LARGEST_SCALE = 1e6


@dataclass(frozen=True, slots=True)
class FileLayout:
    """units: group to UCUM code. time_unit: s, ms, us or ns. columns: a name for each column, "" for one to leave out.

    scale: group of channels to what one count is, in the unit of that group. rate_hz: of the samples of a file that
    has no clock.
    """

    units: dict[str, str] = field(default_factory=dict)
    time_unit: str | None = None
    columns: tuple[str, ...] | None = None
    scale: dict[str, float] = field(default_factory=dict)
    rate_hz: float | None = None


def layout_of(told: Mapping[str, Any], limits: Limits, path: Path = ()) -> FileLayout:
    """The layout in members `units` (with `time`), `columns`, `scale` and `rate_hz`, checked. Raises Refusal."""
    units = told.get("units") or {}
    time_unit = None
    if isinstance(units, dict) and "time" in units:
        units = dict(units)
        time_unit = _time_unit(units.pop("time"), (*path, "units", "time"))
    return FileLayout(
        known_units(units, (*path, "units")),
        time_unit,
        _columns(told.get("columns"), (*path, "columns")),
        _scale(told.get("scale"), (*path, "scale")),
        _rate(told.get("rate_hz"), limits, (*path, "rate_hz")),
    )


def _time_unit(code: Any, path: Path) -> str:
    if isinstance(code, str) and code in UNITS["time"]:
        return code
    choices = ", ".join(f"`{one}`" for one in UNITS["time"])
    raise Refusal("unknown-unit", f"The unit of `time` is not known; the choices are {choices}.", pointer_to(*path))


def _columns(value: Any, path: Path) -> tuple[str, ...] | None:
    if value is None:
        return None
    good = isinstance(value, Sequence) and not isinstance(value, str) and 0 < len(value) <= MOST_COLUMNS
    if not good or not all(isinstance(one, str) and len(one) <= 200 for one in value):
        raise Refusal(
            "bad-member",
            '`columns` has to be a list of names, one per column of the file and "" for those to leave out, such as '
            '["t_ms", "accel_x[[g]]", ...].',
            pointer_to(*path),
        )
    return tuple(value)


def _scale(value: Any, path: Path) -> dict[str, float]:
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise Refusal("bad-member", f"`scale` is {kind_of(value)}; it has to be an object.", pointer_to(*path))
    for group, size in value.items():
        if group not in QUANTITY_OF:
            raise Refusal(
                "unknown-member",
                f"`{str(group)[:40]}` is no group of channels; the groups are {', '.join(QUANTITY_OF)}.",
                pointer_to(*path, str(group)),
            )
        if type(size) not in (int, float) or not math.isfinite(size) or not 0 < abs(size) <= _LARGEST_SCALE:
            raise Refusal(
                "bad-member",
                f"`scale` of `{group}` is {kind_of(size)}; it has to be what one count is in the unit of {group}, "
                f"a number other than 0 and below {_LARGEST_SCALE:g}, such as 0.000122.",
                pointer_to(*path, group),
            )
    return {group: float(size) for group, size in value.items()}


def _rate(value: Any, limits: Limits, path: Path) -> float | None:
    if value is None:
        return None
    if type(value) in (int, float) and limits.lowest_rate_hz <= value <= limits.highest_rate_hz:
        return float(value)
    raise Refusal(
        "rate-out-of-limits",
        f"`rate_hz` is {kind_of(value)}; it has to be a number from {limits.lowest_rate_hz:g} to "
        f"{limits.highest_rate_hz:g} Hz.",
        pointer_to(*path),
    )
