"""The clock of a file: numbers in some unit, or dates and times as text, to whole microseconds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any

import numpy as np

from barwright.analysis.quantities.units import UNITS
from barwright.ingest.block import Ints
from barwright.ingest.block_times import US
from barwright.ingest.columns import finite_numbers
from barwright.ingest.limits import LARGEST_EXACT_INTEGER, Limits
from barwright.ingest.refusals import Refusal, pointer_to
from barwright.ingest.tables.headers import NO_COLUMN, Column

FIRST = 5
WRAPS = 2**32  # where counters of 32 bits begin again
_LONGEST_TEXT = 40
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
Place = Callable[[int], str]


@dataclass(frozen=True, slots=True)
class Clock:
    """t_us (n,) device time, never falling. name: its header. unit: UCUM code, or `iso` for dates and times as text.

    told_by: header, declared, or inferred. notes: plain sentences. first: a few cells as they stand in the file.
    """

    t_us: Ints
    name: str
    unit: str
    told_by: str
    notes: tuple[str, ...] = ()
    first: tuple[Any, ...] = ()


def read_clock(column: Column, values: Any, count: int, limits: Limits, place: Place) -> Clock:
    """The clock of a table. values: the cells of its column, numbers or texts; None when a declared rate stands for it.

    Raises Refusal for times that cannot be read, run backwards, or have no certain unit.
    """
    if column.position == NO_COLUMN:
        return Clock(_even(count, float(column.header.removesuffix(" Hz"))), "rate_hz", "us", "declared")
    if isinstance(values, list) and values and isinstance(values[0], str):
        return Clock(
            _rising(_of_texts(values, column, place), values, column, place),
            column.header,
            "iso",
            "header",
            (),
            tuple(values[:FIRST]),
        )
    numbers = finite_numbers(values, (column.header,), place)
    unit, told_by = column.unit, column.told_by
    notes: tuple[str, ...] = ()
    _check_size(numbers, LARGEST_EXACT_INTEGER * 1e3, column, values, place)
    if unit is None:
        unit, told_by = _likely_unit(numbers, column, limits), "inferred"
        notes = (
            f"No unit was given for `{column.header.strip()}`: only in {unit} do its samples come at a possible rate.",
        )
    factor = {"s": 1e6, "ms": 1e3, "us": 1.0, "ns": 1e-3}[unit]
    times = numbers * factor
    _check_size(times, LARGEST_EXACT_INTEGER, column, values, place)
    t_us: Ints = np.rint(times).astype(np.int64)
    wraps = np.flatnonzero((np.diff(numbers) < -0.9 * WRAPS) & (np.diff(numbers) > -1.0 * WRAPS))
    if len(wraps) and unit in ("ms", "us", "ns"):
        for at in wraps:
            t_us[at + 1 :] += round(WRAPS * factor)
        notes += (f"`{column.header.strip()}` began again {len(wraps)} times where 32 bits end; that was put right.",)
    return Clock(_rising(t_us, values, column, place), column.header, unit, told_by, notes, tuple(values[:FIRST]))


def _check_size(times: np.ndarray, most: float, column: Column, values: Any, place: Place) -> None:
    far = np.abs(times) >= most
    if far.any():
        row = int(np.argmax(far))
        raise Refusal(
            "bad-member",
            f"`{column.header}` is {values[row]} {place(row)}; times have to stay below 2^53 microseconds.",
            pointer_to(column.header, row),
        )


def _even(count: int, rate_hz: float) -> Ints:
    even: Ints = np.rint(np.arange(count) * (US / rate_hz)).astype(np.int64)
    return even


def _likely_unit(numbers: np.ndarray, column: Column, limits: Limits) -> str:
    """The one unit in which the samples come at a rate within the limits; there is never more than one."""
    steps = np.diff(numbers)
    rising = steps[steps > 0]
    usual, mean = (float(np.median(rising)), float(steps.mean())) if len(rising) else (0.0, 0.0)
    if mean > 0:
        for unit, seconds in UNITS["time"].items():
            possible = limits.lowest_rate_hz <= 1 / (usual * seconds) <= limits.highest_rate_hz
            if (
                possible and 1 / (mean * seconds) <= limits.highest_rate_hz
            ):  # else a coarse clock, with many at one time
                return unit
    raise Refusal(
        "time-unclear",
        f"`{column.header.strip()}` names no unit, and its usual step of {usual:g} (on average {mean:.4g}) is a rate "
        f"within {limits.lowest_rate_hz:g} to {limits.highest_rate_hz:g} Hz in none of s, ms, us and ns. Name it t_s, "
        't_ms or the like, or declare `"units": {"time": "ms"}`.',
        pointer_to(column.header),
    )


def _rising(t_us: Ints, values: Sequence[Any], column: Column, place: Place) -> Ints:
    back = np.diff(t_us) < 0
    if back.any():
        row = int(np.argmax(back)) + 1
        raise Refusal(
            "time-runs-backwards",
            f"`{column.header}` goes from {values[row - 1]} back to {values[row]} {place(row)}; times may "
            "repeat, never fall. A device that started again writes a file of its own.",
            pointer_to(column.header, row),
        )
    return t_us


def _of_texts(texts: list[str], column: Column, place: Place) -> Ints:
    """Dates and times of ISO 8601, or times of day, as microseconds since 1970 or since midnight."""
    out = np.empty(len(texts), np.int64)
    days, before = 0, 0
    for row, text in enumerate(texts):
        at = _one(text)
        if at is None:
            raise Refusal(
                "time-unclear",
                f"`{column.header.strip()}` is {str(text)[:_LONGEST_TEXT]!r} {place(row)}, which is no time that can "
                "be read in one way only; write 2026-03-01T17:30:00.005, 17:30:00.005, or a number with its unit in "
                "the header.",
                pointer_to(column.header, row),
            )
        if at < before and before - at > 43_200 * US and at < 86_400 * US:
            days += 1  # a time of day after midnight
        before = at
        out[row] = at + days * 86_400 * US
    return out


def _one(text: Any) -> int | None:
    if not isinstance(text, str) or len(text) > _LONGEST_TEXT:
        return None
    told = text.strip()
    try:
        if ":" in told and "-" not in told[:5] and "T" not in told[:5]:
            of_day = time.fromisoformat(told)
            return ((of_day.hour * 60 + of_day.minute) * 60 + of_day.second) * US + of_day.microsecond
        at = datetime.fromisoformat(told.replace(" UTC", "Z"))
    except ValueError:
        return None
    if ":" not in told:
        return None
    return (at.replace(tzinfo=at.tzinfo or UTC) - _EPOCH) // timedelta(microseconds=1)
