"""A recording file as far as its format tells: a table with columns, or blocks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Any

from barwright.ingest import int16, senml
from barwright.ingest.cbor_members import members_of_cbor
from barwright.ingest.cbor_size import MOST_PARTS
from barwright.ingest.columns import kind_of
from barwright.ingest.compressed import decompressed, encoding_of
from barwright.ingest.declared_units import known_units
from barwright.ingest.file_layout import FileLayout, layout_of
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.csv_table import CsvTable
from barwright.ingest.tables.member_table import MemberTable
from barwright.ingest.tables.parquet_table import MAGIC as PARQUET_MAGIC
from barwright.ingest.tables.parquet_table import ParquetTable
from barwright.ingest.tables.rows_table import RowsTable, objects_of_lines
from barwright.ingest.tables.table import Table

_BY_TYPE = {
    "text/csv": "csv",
    "application/csv": "csv",
    "text/tab-separated-values": "csv",
    "application/json": "json",
    "application/cbor": "cbor",
    "application/vnd.apache.parquet": "parquet",
    "application/x-ndjson": "ndjson",
    "application/jsonl": "ndjson",
    senml.JSON_TYPE: "senml",
    senml.CBOR_TYPE: "senml cbor",
    int16.MEDIA_TYPE: "int16",
}
_BY_ENDING = {
    ".csv": "csv", ".tsv": "csv", ".txt": "csv", ".log": "csv", ".dat": "csv", ".json": "json", ".cbor": "cbor",
    ".parquet": "parquet", ".ndjson": "ndjson", ".jsonl": "ndjson", ".senml": "senml", ".senmlc": "senml cbor",
    ".i16": "int16", ".int16": "int16",
}  # fmt: skip
TITLES = {
    "csv": "CSV", "json": "JSON", "cbor": "CBOR", "parquet": "Parquet", "ndjson": "NDJSON", "senml": "SenML JSON",
    "senml cbor": "SenML CBOR", "int16": "int16",
}  # fmt: skip
_FOREIGN = {
    b"PK\x03\x04": "a spreadsheet or an archive (save the sheet as CSV)",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (save the sheet as CSV)",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"%PDF": "a PDF document",
    b"SQLite format 3": "a database",
    b"\x89HDF": "an HDF5 file",
}
_WITH_POINTERS = ("json", "cbor")
_SENML_PARTS = 8 * senml.MOST_RECORDS


@dataclass(frozen=True, slots=True)
class Opened:
    """form: a key of TITLES. Either a table, or blocks (a block or a list of them, not checked yet) at `path`.

    layout: what was told of the file, by its sender and by itself.
    """

    form: str
    layout: FileLayout
    table: Table | None = None
    blocks: Any = None
    path: tuple[str | int, ...] = ()

    def told(self, refusal: Refusal) -> Refusal:
        """The refusal as it is told: a JSON pointer means nothing where the text names column and line."""
        if self.form not in _WITH_POINTERS and not (refusal.pointer or "").startswith(("/columns", "/units", "/scale")):
            refusal.pointer = None
        return refusal


def open_recording(
    body: bytes, filename: str | None, content_type: str | None, layout: FileLayout, limits: Limits
) -> Opened:
    """Opens a file; the format is told by the first bytes, then the content type, then the ending of the name.

    Raises Refusal, and nothing else.
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
    if not plain:
        raise Refusal("no-samples", "The file is empty; it has to have a header and samples.")
    form = _format_of(plain, filename or "", content_type or "", layout)
    if form in ("json", "senml"):
        most = _SENML_PARTS if form == "senml" or plain[:200].lstrip()[:1] == b"[" else None
        return open_members(members_of_json(plain, limits.nesting, most), layout, limits, form)
    if form in ("cbor", "senml cbor"):
        most = _SENML_PARTS if form == "senml cbor" or b"\x80" <= plain[:1] < b"\xa0" else MOST_PARTS
        members = members_of_cbor(plain, limits.nesting, 4 * limits.recording_samples, most)
        return open_members(members, layout, limits, form)
    try:
        return _open_table(plain, form, layout, limits)
    except Refusal as refusal:
        raise Opened(form, layout).told(refusal) from None


def open_members(members: Any, layout: FileLayout, limits: Limits, form: str) -> Opened:
    """What JSON or CBOR carried: columns, samples one by one, blocks, each with `units` beside them; or SenML."""
    if form.startswith("senml") or senml.is_pack(members):
        form = form if form.startswith("senml") else "senml" if form == "json" else "senml cbor"
        return Opened(form, layout, MemberTable(senml.columns_of(senml.resolve(members))))
    if isinstance(members, list):
        if members and isinstance(members[0], dict) and not {"channels", "boot"} & members[0].keys():
            return Opened(form, layout, RowsTable(members, limits.recording_samples))
        return Opened(form, layout, None, members)
    if not isinstance(members, dict):
        raise Refusal("bad-member", f"The file is {kind_of(members)}; it has to be an object of columns.", "")
    if "units" in members:
        in_file = known_units(members["units"])
        layout = replace(layout, units=_both(layout.units, in_file))
    if "blocks" in members:
        return Opened(form, layout, None, members["blocks"], ("blocks",))
    rest = {name: value for name, value in members.items() if name != "units"}
    if "channels" in members:
        return Opened(form, layout, None, rest)
    return Opened(form, layout, MemberTable(rest))


def _open_table(plain: bytes, form: str, layout: FileLayout, limits: Limits) -> Opened:
    if form == "parquet":
        return Opened(form, layout, ParquetTable(plain, limits.recording_samples, limits.recording_bytes))
    if form == "int16":
        head, raw = int16.split_head(plain, limits)
        in_head = layout_of(head, limits)
        both = FileLayout(
            _both(layout.units, in_head.units), None, layout.columns or in_head.columns,
            {**in_head.scale, **layout.scale}, layout.rate_hz or in_head.rate_hz,
        )  # fmt: skip
        table = int16.Int16Table(raw, both.columns)
        return Opened(form, both, table)
    if form == "ndjson":
        first = next(iter(objects_of_lines(plain)), None)
        if isinstance(first, dict) and "channels" in first:
            return Opened(form, layout, None, list(objects_of_lines(plain)))
        return Opened(form, layout, RowsTable(objects_of_lines(plain), limits.recording_samples, _in_object))
    return Opened(form, layout, CsvTable(plain, limits.recording_samples, layout.columns is not None))


def _in_object(count: int) -> str:
    return f"in object {count + 1} of the file"


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


def _format_of(body: bytes, filename: str, content_type: str, layout: FileLayout) -> str:
    if body.startswith(PARQUET_MAGIC):
        return "parquet"
    if body.startswith(int16.MAGIC):
        return "int16"
    for magic, what in _FOREIGN.items():
        if body.startswith(magic):
            raise Refusal(
                "unknown-content-type",
                f"The file is {what}; send CSV, Parquet, JSON, NDJSON, SenML, CBOR or int16.",
            )
    media_type = content_type.partition(";")[0].strip().lower()
    path = PurePath(filename.lower())
    if path.suffix in (".gz", ".zst"):
        path = path.with_suffix("")
    form = _BY_TYPE.get(media_type) or _BY_ENDING.get(path.suffix)
    if form == "json" and _more_than_one_line_of_json(body):
        return "ndjson"
    return form or _guessed(body, layout)


def _guessed(body: bytes, layout: FileLayout) -> str:
    text = body.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text[:1] in (b"{", b"["):
        return "ndjson" if _more_than_one_line_of_json(body) else "json"
    if body[:3] == b"\xd9\xd9\xf7" or (body[:1] and 0x80 <= body[0] <= 0xBF):
        return "cbor"
    if body[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" not in body[:4096]:
        return "csv"
    if layout.columns is not None and layout.scale:
        return "int16"
    raise Refusal(
        "unknown-content-type",
        "The file is neither CSV, Parquet, JSON, NDJSON, SenML nor CBOR; name it with one of these endings. int16 "
        "needs its `columns` and `scale` declared.",
    )


def _more_than_one_line_of_json(body: bytes) -> bool:
    """Objects line by line: the first line is whole, and another object follows it."""
    text = body.removeprefix(b"\xef\xbb\xbf").lstrip()
    first, _, rest = text[: 1 << 20].partition(b"\n")
    return first.rstrip().endswith(b"}") and rest.lstrip()[:1] == b"{"
