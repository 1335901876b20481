"""Request bodies that can be sent again: every try gets fresh chunks of the same bytes."""

from __future__ import annotations

import gzip
import json
import os
import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, Protocol

from barwright_client import cbor
from barwright_client.blocks import Samples, columns_of

CHUNK_BYTES = 1 << 16
Progress = Callable[[int, int], object]
File = str | os.PathLike[str] | bytes | BinaryIO | Samples
_SMALLEST_TO_PACK = 512

_TYPES = {
    ".csv": "text/csv",
    ".parquet": "application/vnd.apache.parquet",
    ".cbor": "application/cbor",
    ".json": "application/json",
    ".ndjson": "application/x-ndjson",
    ".jsonl": "application/x-ndjson",
    ".senml": "application/senml+json",
    ".senmlc": "application/senml+cbor",
    ".i16": "application/vnd.barwright.int16",
}


class Body(Protocol):
    """Bytes to send, with the headers that describe them."""

    def headers(self) -> dict[str, str]:
        """Content-Type, Content-Length and, when packed, Content-Encoding."""
        ...

    def chunks(self) -> Iterator[bytes]:
        """The bytes, from the start, once per call."""
        ...


@dataclass(frozen=True, slots=True)
class Whole:
    """A body held in memory."""

    content: bytes
    content_type: str
    encoding: str | None = None

    def headers(self) -> dict[str, str]:
        """Content-Type, Content-Length and, when packed, Content-Encoding."""
        packed = {"Content-Encoding": self.encoding} if self.encoding else {}
        return {"Content-Type": self.content_type, "Content-Length": str(len(self.content)), **packed}

    def chunks(self) -> Iterator[bytes]:
        """The bytes in one piece."""
        yield self.content


def json_body(document: Mapping[str, Any]) -> Whole:
    """A JSON document."""
    return Whole(json.dumps(document, separators=(",", ":"), allow_nan=False).encode(), "application/json")


def cbor_body(document: Mapping[str, Any], *, pack: bool = True) -> Whole:
    """A CBOR document, gzipped when that makes it smaller."""
    content = cbor.encode(document)
    if pack and len(content) >= _SMALLEST_TO_PACK:
        packed = gzip.compress(content, compresslevel=6, mtime=0)
        if len(packed) < len(content):
            return Whole(packed, "application/cbor", "gzip")
    return Whole(content, "application/cbor")


@dataclass(frozen=True, slots=True)
class Upload:
    """A file to send: name, size in bytes, and how to open it afresh."""

    name: str
    size: int
    open: Callable[[], Iterator[bytes]]

    @property
    def content_type(self) -> str:
        """Media type by the name's ending."""
        return _TYPES.get(Path(self.name).suffix.lower(), "application/octet-stream")


def upload_of(file: File, name: str | None = None) -> Upload:
    """An Upload of a path, of bytes, of a binary file (read from where it stands) or of columns. Bytes need a name."""
    if isinstance(file, Mapping):
        t_us, channels = columns_of(file)
        columns = cbor.encode({"t_us": t_us, **channels})
        return Upload(name or "samples.cbor", len(columns), lambda: _pieces(columns))
    if isinstance(file, str | os.PathLike):
        path = Path(file)
        return Upload(name or path.name, path.stat().st_size, lambda: _pieces_of_file(path))
    given = getattr(file, "name", None)
    content = file if isinstance(file, bytes) else file.read()
    if not isinstance(content, bytes):
        raise TypeError("the file was opened as text; open it with mode 'rb'")
    known = name or (Path(given).name if isinstance(given, str) else None)
    if known is None:
        raise ValueError('file_name is needed here: its ending tells the format, such as file_name="set.csv"')
    return Upload(known, len(content), lambda: _pieces(content))


def _pieces_of_file(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(CHUNK_BYTES):
            yield piece


def _pieces(content: bytes) -> Iterator[bytes]:
    for start in range(0, len(content), CHUNK_BYTES):
        yield content[start : start + CHUNK_BYTES]


@dataclass(frozen=True, slots=True)
class Form:
    """multipart/form-data (RFC 7578) with one JSON part `meta` and one file part `file`."""

    meta: Mapping[str, Any]
    upload: Upload
    progress: Progress | None = None
    boundary: str = field(default_factory=lambda: uuid.uuid4().hex)

    def headers(self) -> dict[str, str]:
        """Content-Type and Content-Length."""
        before, after = self._around()
        return {
            "Content-Type": f"multipart/form-data; boundary={self.boundary}",
            "Content-Length": str(len(before) + self.upload.size + len(after)),
        }

    def chunks(self) -> Iterator[bytes]:
        """The parts; progress is told after each piece of the file has been taken for sending."""
        before, after = self._around()
        yield before
        sent = 0
        for piece in self.upload.open():
            yield piece
            sent += len(piece)
            if self.progress:
                self.progress(sent, self.upload.size)
        yield after

    def _around(self) -> tuple[bytes, bytes]:
        meta = json.dumps(self.meta, allow_nan=False)
        name = self.upload.name.replace("\\", "%5C").replace('"', "%22").replace("\r", "%0D").replace("\n", "%0A")
        before = (
            f'--{self.boundary}\r\nContent-Disposition: form-data; name="meta"\r\n'
            f"Content-Type: application/json\r\n\r\n{meta}\r\n"
            f'--{self.boundary}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
            f"Content-Type: {self.upload.content_type}\r\n\r\n"
        )
        return before.encode(), f"\r\n--{self.boundary}--\r\n".encode()
