"""A whole recording in one file: CSV, Parquet, columns or blocks in JSON or CBOR; gzip or zstd around any."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from barwright.ingest.block import Block
from barwright.ingest.cbor_members import members_of_cbor
from barwright.ingest.columns import kind_of
from barwright.ingest.compressed import decompressed, encoding_of
from barwright.ingest.declared_units import known_units
from barwright.ingest.file_blocks import blocks_of_list, blocks_of_table
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.csv_table import CsvTable
from barwright.ingest.tables.headers import read_headers
from barwright.ingest.tables.member_table import MemberTable
from barwright.ingest.tables.parquet_table import MAGIC as PARQUET_MAGIC
from barwright.ingest.tables.parquet_table import ParquetTable
from barwright.ingest.tables.table import Table

_BY_TYPE = {
    "text/csv": "csv",
    "application/csv": "csv",
    "application/json": "json",
    "application/cbor": "cbor",
    "application/vnd.apache.parquet": "parquet",
}
_BY_ENDING = {".csv": "csv", ".tsv": "csv", ".txt": "csv", ".json": "json", ".cbor": "cbor", ".parquet": "parquet"}


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
    body: bytes, filename: str | None, content_type: str | None, declared_units: dict[str, Any] | None, limits: Limits
) -> RecordingFile:
    """The blocks of a recording file, within the limits of a block each, values in the units they were written in.

    The format is told by the first bytes, then the content type, then the ending of the file name.
    declared_units: {"accel": "[g]", ...}; a unit may instead stand in a header (`accel_x[m/s2]`). Where neither tells
    one the values are taken as SI, and a note says so.
    Raises Refusal, and nothing else, for every file that is not a good recording.
    """
    if len(body) > limits.recording_body_bytes:
        raise Refusal(
            "body-too-large", f"The file has {len(body)} bytes; the limit is {limits.recording_body_bytes} as sent."
        )
    plain = decompressed(body, encoding_of(body), limits.recording_bytes)
    if len(plain) > limits.recording_bytes:
        raise Refusal(
            "decompressed-too-large", f"The file has {len(plain)} bytes; the limit is {limits.recording_bytes}."
        )
    declared = known_units(declared_units or {})
    form = _format_of(plain, filename or "", content_type or "")
    if form == "json":
        return recording_of_members(members_of_json(plain, limits.nesting), declared, limits)
    if form == "cbor":
        return recording_of_members(
            members_of_cbor(plain, limits.nesting, 4 * limits.recording_samples), declared, limits
        )
    try:
        if form == "parquet":
            table: Table = ParquetTable(plain, limits.recording_samples, limits.recording_bytes)
        else:
            table = CsvTable(plain, limits.recording_samples)
        return _of_table(table, declared, limits)
    except Refusal as refusal:
        refusal.pointer = None  # a JSON pointer means nothing in these formats; the text names column and line
        raise


def recording_of_members(members: Any, declared: dict[str, str], limits: Limits) -> RecordingFile:
    """The recording in what JSON or CBOR carried: columns, one block, or a list of blocks, with `units` beside them."""
    if isinstance(members, list):
        return _of_blocks(members, declared, limits, ())
    if not isinstance(members, dict):
        raise Refusal("bad-member", f"The file is {kind_of(members)}; it has to be an object of columns.", "")
    if "units" in members:
        declared = _both(declared, known_units(members["units"]))
    if "blocks" in members:
        return _of_blocks(members["blocks"], declared, limits, ("blocks",))
    rest = {name: value for name, value in members.items() if name != "units"}
    if "channels" in members:
        return _of_blocks(rest, declared, limits, ())
    return _of_table(MemberTable(rest), declared, limits)


def _of_blocks(given: Any, declared: dict[str, str], limits: Limits, path: tuple[str, ...]) -> RecordingFile:
    return RecordingFile(*blocks_of_list(given, declared, limits, path))


def _of_table(table: Table, declared: dict[str, str], limits: Limits) -> RecordingFile:
    headers = read_headers(table.headers, declared)
    return RecordingFile(headers.kind, blocks_of_table(table, headers, limits), headers.units, headers.notes)


def _both(declared: dict[str, str], in_file: dict[str, str]) -> dict[str, str]:
    for group, code in in_file.items():
        if declared.get(group, code) != code:
            raise Refusal(
                "unit-conflict",
                f"The file says `{code}` for `{group}` and the declared units say `{declared[group]}`; make them "
                "the same.",
                f"/units/{group}",
            )
    return {**declared, **in_file}


def _format_of(body: bytes, filename: str, content_type: str) -> str:
    if body.startswith(PARQUET_MAGIC):
        return "parquet"
    media_type = content_type.partition(";")[0].strip().lower()
    path = PurePath(filename.lower())
    if path.suffix in (".gz", ".zst"):
        path = path.with_suffix("")
    return _BY_TYPE.get(media_type) or _BY_ENDING.get(path.suffix) or _guessed(body)


def _guessed(body: bytes) -> str:
    text = body.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text[:1] in (b"{", b"["):
        return "json"
    if body[:3] == b"\xd9\xd9\xf7" or (body[:1] and 0x80 <= body[0] <= 0xBF):
        return "cbor"
    if b"\0" not in body[:4096]:
        return "csv"
    raise Refusal(
        "unknown-content-type", "The file is neither CSV, Parquet, JSON nor CBOR; name it with one of these endings."
    )
