"""How a recording file would be understood, before it is taken: each column, the clock, what it reads at rest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from barwright.ingest.block import Block, Ints
from barwright.ingest.declared_units import SI, group_of
from barwright.ingest.file_blocks import blocks_of_list, blocks_of_samples
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.limits import Limits
from barwright.ingest.open_recording import TITLES, Opened, open_recording
from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.header_words import TIME, quantity_of
from barwright.ingest.tables.headers import Column, Headers, columns_of, read_headers
from barwright.ingest.tables.table import Table
from barwright.ingest.tables.table_samples import TableSamples, samples_of
from barwright.ingest.tables.unit_guess import AtRest

FIRST_VALUES = 5
GAP_STEPS = 2.5  # usual steps without a sample that make a gap
_MOST_SHOWN = 200
_LONGEST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class ColumnPreview:
    """One column. channel: time, a channel of a block, or None when it is left out, with `why`.

    unit: UCUM code (`iso` for a clock of dates). unit_from: header, declared, inferred, or SI where a column named as
    this project names it tells none; None when no unit is known. first: values as they stand in the file.
    """

    header: str
    channel: str | None
    quantity: str | None = None
    axis: str | None = None
    unit: str | None = None
    unit_from: str | None = None
    first: tuple[float | str, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class Timing:
    """When samples come, gaps left out of the rate.

    gaps: where more than GAP_STEPS usual steps pass without a sample. repeated: samples at the time of the one before.
    """

    samples: int
    duration_s: float
    rate_hz: float | None
    gaps: int
    longest_gap_s: float
    repeated: int


@dataclass(frozen=True, slots=True)
class FilePreview:
    """refusal: why the file would not be taken; then what was understood before it stands beside it.

    form: such as CSV. words: about its layout. at_rest: size of force at rest, in the unit of accel.
    """

    form: str | None
    words: tuple[str, ...] = ()
    kind: str | None = None
    columns: tuple[ColumnPreview, ...] = ()
    units: dict[str, str] | None = None
    timing: Timing | None = None
    at_rest: AtRest | None = None
    notes: tuple[str, ...] = ()
    refusal: Refusal | None = None


def preview_recording(
    body: bytes, filename: str | None, content_type: str | None, layout: FileLayout, limits: Limits
) -> FilePreview:
    """What `read_recording_file` would make of a file. Raises nothing: a refusal is part of the answer."""
    found = FilePreview(None)
    try:
        opened = open_recording(body, filename, content_type, layout, limits)
        found = FilePreview(TITLES[opened.form])
        if opened.table is None:
            return _of_blocks(opened, found, limits)
        found = replace(found, words=opened.table.words)
        return _of_table(opened, opened.table, found, limits)
    except _Refused as refused:
        return replace(refused.found, refusal=refused.refusal)
    except Refusal as refusal:
        return replace(found, refusal=refusal)


class _Refused(Exception):  # noqa: N818 - carries what was understood up to a refusal
    def __init__(self, found: FilePreview, refusal: Refusal) -> None:
        super().__init__(refusal.detail)
        self.found, self.refusal = found, refusal


def _of_table(opened: Opened, table: Table, found: FilePreview, limits: Limits) -> FilePreview:
    try:
        columns = columns_of(table.headers, opened.layout)
        found = replace(found, columns=tuple(_column(one, None, None) for one in columns[:_MOST_SHOWN]))
        headers = read_headers(columns, opened.layout)
        shown = headers.all[:_MOST_SHOWN]
        found = replace(
            found,
            kind=headers.kind,
            columns=tuple(_column(one, headers, None) for one in shown),
            notes=headers.notes,
        )
        samples = samples_of(table, headers, limits)
        found = replace(
            found,
            columns=tuple(_column(one, headers, samples) for one in shown),
            units=samples.units,
            timing=_timing([samples.clock.t_us]),
            at_rest=samples.at_rest,
            notes=samples.notes,
        )
        blocks_of_samples(samples, limits)
    except Refusal as refusal:
        raise _Refused(found, opened.told(refusal)) from None
    return found


def _of_blocks(opened: Opened, found: FilePreview, limits: Limits) -> FilePreview:
    kind, blocks, units, notes = blocks_of_list(opened.blocks, opened.layout.units, limits, opened.path)
    told = [group for group in units if group in opened.layout.units]
    columns = [
        ColumnPreview(
            name, name, quantity_of(name), _axis(name), units[group_of(name)],
            "declared" if group_of(name) in told else "SI", _first(blocks[0].channels[name]),
        )
        for name in blocks[0].channels
    ]  # fmt: skip
    clock = ColumnPreview("t_us", TIME, TIME, None, "us", "header", _first(blocks[0].t_us))
    timing = _timing([np.concatenate(one) for one in _by_boot(blocks)])
    words = (f"{len(blocks)} blocks",)
    return replace(found, words=words, kind=kind, columns=(clock, *columns), units=units, timing=timing, notes=notes)


def _by_boot(blocks: list[Block]) -> Iterable[list[Ints]]:
    boots: dict[str, list[Block]] = {}
    for block in blocks:
        boots.setdefault(block.boot, []).append(block)
    return ([b.t_us for b in sorted(some, key=lambda one: one.seq)] for some in boots.values())


def _column(column: Column, headers: Headers | None, samples: TableSamples | None) -> ColumnPreview:
    header = column.header.strip()[:200]
    if column.channel is None:
        return ColumnPreview(header, None, why=column.why or "nothing this service uses")
    unit, unit_from = column.unit, column.told_by or None
    if samples is not None and column.channel == TIME:
        unit, unit_from = samples.clock.unit, samples.clock.told_by
    elif samples is not None and headers is not None:
        group = group_of(column.channel)
        unit, unit_from = samples.units[group], samples.told_by[group]
    elif unit is None and column.own and column.channel != TIME:
        unit, unit_from = SI[group_of(column.channel)], "SI"
    first: tuple[float | str, ...] = ()
    if headers is not None and column.position >= 0 and samples is not None:
        first = _first(samples.clock.first) if column.channel == TIME else _as_read(column, samples)
    return ColumnPreview(
        header, column.channel, quantity_of(column.channel), _axis(column.channel), unit, unit_from, first
    )


def _as_read(column: Column, samples: TableSamples) -> tuple[float | str, ...]:
    return _first(samples.channels[str(column.channel)][:FIRST_VALUES] / column.factor)


def _first(values: Any) -> tuple[float | str, ...]:
    return tuple(
        one[:_LONGEST_SHOWN] if isinstance(one, str) else round(float(one), 9) for one in list(values[:FIRST_VALUES])
    )


def _axis(channel: str) -> str | None:
    return channel[-1] if channel[-2:] in ("_x", "_y", "_z") else None


def _timing(starts: list[Ints]) -> Timing:
    steps = np.concatenate([np.diff(t_us) for t_us in starts]) * 1e-6
    rising = steps[steps > 0]
    usual = float(np.median(rising)) if len(rising) else 0.0
    long = steps[steps > GAP_STEPS * usual] if usual else steps[:0]
    even_s = float(steps.sum() - long.sum())
    return Timing(
        samples=sum(len(t_us) for t_us in starts),
        duration_s=float(sum(t_us[-1] - t_us[0] for t_us in starts)) * 1e-6,
        rate_hz=(len(steps) - len(long)) / even_s if even_s > 0 else None,
        gaps=len(long),
        longest_gap_s=float(long.max()) if len(long) else 0.0,
        repeated=int((steps == 0).sum()),
    )
