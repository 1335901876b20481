"""A whole recording in one file: CSV, Parquet, NDJSON, SenML, int16, columns or blocks in JSON or CBOR; gzip or zstd
around any.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from barwright.ingest.block import Block
from barwright.ingest.declared_units import known_units
from barwright.ingest.file_blocks import blocks_of_list, blocks_of_samples
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.limits import Limits
from barwright.ingest.open_recording import Opened, open_members, open_recording
from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.headers import columns_of, read_headers
from barwright.ingest.tables.table_samples import samples_of


@dataclass(frozen=True, slots=True)
class RecordingFile:
    """kind: imu or encoder. units: group of channels to UCUM code. notes: plain sentences on what was left out or taken
    for granted.
    """

    kind: str
    blocks: list[Block]
    units: dict[str, str]
    notes: tuple[str, ...]


def read_recording_file(
    body: bytes,
    filename: str | None,
    content_type: str | None,
    declared_units: dict[str, Any] | None,
    limits: Limits,
    layout: FileLayout | None = None,
) -> RecordingFile:
    """The blocks of a recording file, within the limits of a block each, values in the units they were written in.

    declared_units: {"accel": "[g]", ...}; a unit may instead stand in a header (`accel_x[m/s2]`, `AccX (g)`). Where
    neither tells one it is found from the samples if only one is possible; else columns named accel_x and so on are
    taken as SI, and others refused. A note says so. layout: what else was told of the file; declared_units, when they
    are given, go before its units.
    Raises Refusal, and nothing else, for every file that is not a good recording.
    """
    layout = layout or FileLayout()
    if declared_units:
        layout = replace(layout, units=known_units(declared_units))
    return _recording_of(open_recording(body, filename, content_type, layout, limits), limits)


def recording_of_members(members: Any, declared: dict[str, str], limits: Limits) -> RecordingFile:
    """The recording in what JSON or CBOR carried: columns, one block, or a list of blocks, with `units` beside them."""
    return _recording_of(open_members(members, FileLayout(declared), limits, "json"), limits)


def _recording_of(opened: Opened, limits: Limits) -> RecordingFile:
    try:
        if opened.table is None:
            return RecordingFile(*blocks_of_list(opened.blocks, opened.layout.units, limits, opened.path))
        headers = read_headers(columns_of(opened.table.headers, opened.layout), opened.layout)
        samples = samples_of(opened.table, headers, limits)
        return RecordingFile(headers.kind, blocks_of_samples(samples, limits), samples.units, samples.notes)
    except Refusal as refusal:
        raise opened.told(refusal) from None
