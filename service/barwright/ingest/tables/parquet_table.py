"""Apache Parquet. Reading it costs a second of imports, so they wait until a file comes."""

from __future__ import annotations

from typing import Any

import numpy as np

from barwright.ingest.refusals import Refusal

MAGIC = b"PAR1"
_ROWS_AT_ONCE = 65536


class ParquetTable:
    """A Parquet file with flat columns of numbers."""

    def __init__(self, body: bytes, most_rows: int, most_bytes: int) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        self._most_rows = most_rows
        self._errors = (pa.ArrowException, OSError, ValueError, TypeError, MemoryError, OverflowError, KeyError)
        try:
            self._file = pq.ParquetFile(pa.BufferReader(body))
            self._schema = self._file.schema_arrow
            rows, groups = self._file.metadata.num_rows, self._file.num_row_groups
            unfolded = sum(self._file.metadata.row_group(i).total_byte_size for i in range(groups))
        except self._errors as error:
            raise self._unreadable(error) from error
        self.words: tuple[str, ...] = ()
        self._names: list[str] = list(self._schema.names)
        self.headers = [self._header(position) for position in range(len(self._names))]
        if unfolded > most_bytes:
            raise Refusal(
                "decompressed-too-large",
                f"The Parquet file unfolds to {unfolded} bytes; the limit is {most_bytes}. Send it as several "
                "recordings.",
            )
        self._check_rows(rows)

    def read(self, positions: list[int]) -> list[Any]:
        """The columns, (n,) each. Refuses columns that do not hold numbers, and empty cells."""
        for position in positions:
            self._check_type(position)
        names = [self._names[position] for position in positions]
        pieces: list[list[Any]] = [[] for _ in names]
        rows = 0
        try:
            for batch in self._file.iter_batches(batch_size=_ROWS_AT_ONCE, columns=names):
                for name, piece in zip(names, pieces, strict=True):
                    piece.append(self._numbers(batch.column(name), name, rows))
                rows += batch.num_rows
                self._check_rows(rows)
        except self._errors as error:
            raise self._unreadable(error) from error
        return [np.concatenate(piece) if piece else np.zeros(0) for piece in pieces]

    def place(self, row: int) -> str:
        """Where a value is."""
        return f"in row {row} (counted from 0)"

    def _numbers(self, column: Any, name: str, before: int) -> Any:
        if column.null_count:
            row = before + int(np.argmax(column.is_null().to_numpy(zero_copy_only=False)))
            raise Refusal("not-a-number", f"`{name}` is empty {self.place(row)}; every cell has to be a number.")
        numbers = column.to_numpy(zero_copy_only=False)
        return numbers.astype("datetime64[ns]").astype(np.int64) if numbers.dtype.kind == "M" else numbers

    def _header(self, position: int) -> str:
        """Dates and times are read as nanoseconds, and say so; an index of them is the clock."""
        import pyarrow.types as kinds

        name = self._names[position]
        if not kinds.is_timestamp(self._schema.field(position).type):
            return name
        return f"{'time' if name.startswith('__index_level') else name} [ns]"

    def _check_type(self, position: int) -> None:
        import pyarrow.types as kinds

        kind = self._schema.field(position).type
        if not (kinds.is_integer(kind) or kinds.is_floating(kind) or kinds.is_timestamp(kind)):
            raise Refusal(
                "not-a-number",
                f"`{self.headers[position]}` is a Parquet column of {kind}; it has to hold numbers.",
            )

    def _check_rows(self, rows: int) -> None:
        if rows > self._most_rows:
            raise Refusal(
                "too-many-samples", f"The file has {rows} samples; the limit is {self._most_rows} in one recording."
            )

    def _unreadable(self, error: BaseException) -> Refusal:
        return Refusal("unreadable", f"The Parquet file cannot be read: {str(error)[:200]}. Send a whole Parquet file.")
