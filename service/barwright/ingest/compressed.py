"""Decompression that stops at a limit, so that a small body cannot fill the memory."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import zstandard

from barwright.ingest.limits import MIB
from barwright.ingest.refusals import Refusal

GZIP_MAGIC = b"\x1f\x8b"
ZSTD_MAGIC = b"\x28\xb5\x2f\xfd"
_GZIP_WINDOW = 31  # zlib: 16 for the gzip wrapper + 15 for its largest window
_ZSTD_WINDOW = 8 * MIB  # RFC 8878, 3.1.1.1.2: decoders should support windows of 8 MB
_MOST_MEMBERS = 1000


@dataclass(frozen=True, slots=True)
class _Form:
    """One compression. bite: compressed bytes at a time; unfold(reader, bite, most) gives what they hold."""

    name: str
    bite: int
    new_reader: Callable[[], Any]
    unfold: Callable[[Any, memoryview, int], bytes]


_GZIP = _Form(
    "gzip", 65536, lambda: zlib.decompressobj(_GZIP_WINDOW), lambda reader, bite, most: reader.decompress(bite, most)
)
# No bound on the output here, so small bites: one zstd block of 4 bytes can unfold to 128 KiB.
_ZSTD = _Form(
    "zstd",
    256,
    lambda: zstandard.ZstdDecompressor(max_window_size=_ZSTD_WINDOW).decompressobj(),
    lambda reader, bite, _most: reader.decompress(bite),
)


def decompressed(body: bytes, encoding: str | None, limit: int) -> bytes:
    """The body without its content encoding (RFC 9110, 8.4): none, identity, gzip (RFC 1952) or zstd (RFC 8878).

    Refuses more than `limit` bytes after decompression without making them, and bodies cut short.
    """
    name = (encoding or "identity").strip().lower()
    if name == "identity":
        return body
    if name in ("gzip", "x-gzip"):
        return _unfolded(body, limit, _GZIP)
    if name == "zstd":
        return _unfolded(body, limit, _ZSTD)
    raise Refusal(
        "unknown-encoding", f"Content-Encoding `{encoding}` is not known; send gzip, zstd or leave the header out."
    )


def encoding_of(body: bytes) -> str | None:
    """gzip or zstd by the first bytes, None for anything else."""
    if body.startswith(GZIP_MAGIC):
        return "gzip"
    return "zstd" if body.startswith(ZSTD_MAGIC) else None


def _unfolded(body: bytes, limit: int, form: _Form) -> bytes:
    """All members (gzip) or frames (zstd) one after the other."""
    view, out, at, members = memoryview(body), bytearray(), 0, 0
    while at < len(body) or not members:
        reader = form.new_reader()
        members += 1
        if members > _MOST_MEMBERS:
            raise Refusal("unreadable", f"The body is more than {_MOST_MEMBERS} {form.name} pieces; send it as one.")
        while not reader.eof:
            if at >= len(body):
                raise Refusal(
                    "truncated", f"The {form.name} body ends after {len(body)} bytes in the middle; send all of it."
                )
            bite = view[at : at + form.bite]
            try:
                out += form.unfold(reader, bite, limit + 1 - len(out))
            except (zlib.error, zstandard.ZstdError) as error:
                raise Refusal(
                    "unreadable", f"The body is not {form.name}: {error}. Send whole, undamaged {form.name}."
                ) from error
            _check_size(out, limit)
            at += len(bite)
        at -= len(reader.unused_data)
    return bytes(out)


def _check_size(out: bytearray, limit: int) -> None:
    if len(out) > limit:
        raise Refusal(
            "decompressed-too-large",
            f"The body unfolds to more than {limit} bytes, the limit after decompression; send fewer samples at once.",
        )
