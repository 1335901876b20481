"""A table and what its headers say, to checked columns of samples with their units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from barwright.analysis.quantities.units import factor_to_si
from barwright.ingest.block import Floats, Ints
from barwright.ingest.block_times import check_stream_seconds
from barwright.ingest.columns import length_of, sensor_values
from barwright.ingest.declared_units import QUANTITY_OF, SI, choices_of, read_as_si
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal, pointer_to
from barwright.ingest.tables.clocks import Clock, read_clock
from barwright.ingest.tables.headers import NO_COLUMN, Column, Headers
from barwright.ingest.tables.table import Table
from barwright.ingest.tables.unit_guess import AtRest, Guess, force_at_rest, guess_force, guess_rate, rests_of

_MOVES = {
    "position": {"m": (0.15, 3.0), "mm": (300.0, 3000.0)},
    "velocity": {"m/s": (0.15, 8.0), "mm/s": (800.0, 8000.0)},
}
_COARSE = 0.5  # share of samples at the time of the one before


@dataclass(frozen=True, slots=True)
class TableSamples:
    """What a table holds. channels: name to (n,) values in `units`; told_by: group to header, declared, inferred or SI.

    at_rest: force at rest in the unit of accel, None without a rest.
    """

    clock: Clock
    channels: dict[str, Floats]
    units: dict[str, str]
    told_by: dict[str, str]
    at_rest: AtRest | None
    notes: tuple[str, ...]


def samples_of(table: Table, headers: Headers, limits: Limits) -> TableSamples:
    """The samples of a table. Raises Refusal for what cannot be read, and for units neither told nor certain."""
    columns = [one for one in (headers.time, *headers.channels.values()) if one.position != NO_COLUMN]
    read = table.read([one.position for one in columns])
    cells = {one.position: values for one, values in zip(columns, read, strict=True)}
    count = _check_lengths(columns, read, limits)
    clock = read_clock(headers.time, cells.get(headers.time.position), count, limits, table.place)
    check_stream_seconds(clock.t_us, limits, pointer_to(clock.name))
    channels = {
        name: sensor_values(cells[one.position], (one.header,), table.place) for name, one in headers.channels.items()
    }
    channels = {
        name: values if headers.channels[name].factor == 1.0 else values * headers.channels[name].factor
        for name, values in channels.items()
    }
    return _with_units(headers, clock, channels)


def first_told(headers: Headers, group: str) -> Column:
    """The column that stands for its group in texts."""
    return next(one for name, one in headers.channels.items() if name.startswith(group))


def _with_units(headers: Headers, clock: Clock, channels: dict[str, Floats]) -> TableSamples:
    t_s = (clock.t_us - clock.t_us[0]) * 1e-6
    rests: list[tuple[int, int]] = []
    force = rate = None
    if headers.kind == "imu":
        force = np.stack([channels[f"accel_{axis}"] for axis in "xyz"], axis=1)
        rate = np.stack([channels[f"gyro_{axis}"] for axis in "xyz"], axis=1)
        rests = rests_of(t_s, force)
    units: dict[str, str] = {}
    told_by: dict[str, str] = {}
    notes: list[str] = []
    for group, told in headers.units.items():
        if told is not None:
            units[group], told_by[group] = told, first_told(headers, group).told_by or "header"
            continue
        if group == "accel" and force is not None:
            guess = guess_force(force, rests)
        elif group == "gyro" and force is not None and rate is not None:
            guess = guess_rate(t_s, rate, force, rests)
        else:
            guess = _by_size(channels[group], group)
        units[group], told_by[group], note = _settled(guess, group, headers)
        notes.append(note)
    at_rest = None if force is None else force_at_rest(force, rests)
    repeated = float(np.mean(np.diff(clock.t_us) == 0)) if len(t_s) > 1 else 0.0
    if repeated > _COARSE:
        notes.append(
            f"{100 * repeated:.0f} % of the samples have the time of the one before: the clock is coarse. A finer one, "
            "or no clock and `rate_hz`, would say when each was measured."
        )
    notes += _doubts(at_rest, units.get("accel"))
    return TableSamples(clock, channels, units, told_by, at_rest, (*headers.notes, *clock.notes, *notes))


def _settled(guess: Guess, group: str, headers: Headers) -> tuple[str, str, str]:
    """(unit, told by, note). A column named as this project names it is SI by contract when nothing else is certain."""
    own = first_told(headers, group).own
    if guess.unit is not None and not (own and guess.unit == SI[group]):
        return guess.unit, "inferred", f"No unit was given for {group}: read as {guess.unit}, because {guess.why}."
    if own:
        return SI[group], "SI", read_as_si([group])[0]
    column = first_told(headers, group).header.strip()
    raise Refusal(
        "unit-unclear",
        f"No unit was given for {group} (`{column}`), and it is not certain: {guess.why}. Write it in the header, such "
        f'as `{column} ({SI[group]})`, or declare `"units": {{"{group}": ...}}`, one of {choices_of(group)}.',
        pointer_to(column),
    )


def _by_size(values: Floats, group: str) -> Guess:
    """The unit of a string's position or velocity, where a lift can be that large in one unit only."""
    size = float(np.ptp(values)) if group == "position" else float(np.max(np.abs(values)))
    for unit, (low, high) in _MOVES[group].items():
        if low <= size <= high:
            return Guess(unit, f"it spans {size:.4g}, as a lift does in that unit only")
    return Guess(None, f"it spans {size:.4g}, which is a lift in no unit for certain")


def _doubts(at_rest: AtRest | None, unit: str | None) -> list[str]:
    if at_rest is None or unit is None:
        return []
    gravities = at_rest.size * factor_to_si(unit, QUANTITY_OF["accel"]) / factor_to_si("[g]", "acceleration")
    if 0.7 < gravities < 1.4 or gravities == 0:
        return []
    return [f"At rest the accelerometer reads {gravities:.3g} times gravity; at rest it should read 1. Check its unit."]


def _check_lengths(columns: list[Column], read: list[Any], limits: Limits) -> int:
    lengths = [length_of(values, (one.header,)) for one, values in zip(columns, read, strict=True)]
    for one, length in zip(columns, lengths, strict=True):
        if length != lengths[0]:
            raise Refusal(
                "unequal-columns",
                f"`{one.header}` has {length} values and `{columns[0].header}` has {lengths[0]}; all columns have to "
                "be equally long.",
                pointer_to(one.header),
            )
    if not lengths[0]:
        raise Refusal("no-samples", "The file has a header and no samples.", pointer_to(columns[0].header))
    if lengths[0] > limits.recording_samples:
        raise Refusal(
            "too-many-samples",
            f"The file has {lengths[0]} samples; the limit is {limits.recording_samples} in one recording.",
            pointer_to(columns[0].header),
        )
    return lengths[0]


def span_of(t_us: Ints) -> float:
    """Seconds from the first to the last of (n,) device times."""
    return float(t_us[-1] - t_us[0]) * 1e-6
