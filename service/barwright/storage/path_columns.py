"""A rep's path as one compressed blob: Zstandard (RFC 8878) over CBOR typed arrays (RFC 8746)."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import cbor2
import zstandard

from barwright.analysis.reps.results import RepPath
from barwright.ingest.typed_arrays import array_of_tag, tag_of_array


def pack_path(path: RepPath) -> bytes:
    """Every column that is there, as float64."""
    there = {f.name: getattr(path, f.name) for f in fields(path) if getattr(path, f.name) is not None}
    content = cbor2.dumps({name: tag_of_array(column.astype("<f8")) for name, column in there.items()})
    return zstandard.ZstdCompressor(level=6, write_checksum=True).compress(content)


def unpack_path(stored: bytes) -> RepPath:
    """The path `pack_path` stored."""

    def array(tag: Any, _immutable: bool = False) -> Any:
        return array_of_tag(tag.tag, tag.value)

    return RepPath(**cbor2.loads(zstandard.ZstdDecompressor().decompress(stored), tag_hook=array))
