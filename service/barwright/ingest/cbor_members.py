"""CBOR (RFC 8949) to plain Python values and numpy arrays (RFC 8746), with bounded nesting."""

from __future__ import annotations

import io
from typing import Any

import cbor2

from barwright.ingest.cbor_size import MOST_PARTS, check_parts
from barwright.ingest.columns import NoArray
from barwright.ingest.refusals import Refusal
from barwright.ingest.typed_arrays import array_of_tag

_SELF_DESCRIBED = b"\xd9\xd9\xf7"  # RFC 8949, 3.4.6
# Tags that would build something else than numbers and text: big numbers, fractions, references, patterns, sets ...
_REFUSED_TAGS = (2, 3, 4, 5, 25, 28, 29, 30, 35, 36, 37, 43000, 256, 258, 260, 261)


def members_of_cbor(body: bytes, nesting: int, most_values: int, most_parts: int = MOST_PARTS) -> Any:
    """The value of one CBOR item; typed arrays come as (n,) numpy arrays. Raises Refusal for anything else.

    most_values, most_parts: how many values a large body may have outside typed arrays, and how many arrays and texts.
    """
    body = body.removeprefix(_SELF_DESCRIBED)
    check_parts(body, most_values, most_parts)
    stream = io.BytesIO(body)
    decoder = cbor2.CBORDecoder(
        stream,
        tag_hook=_tag_hook,
        max_depth=nesting,
        allow_duplicate_keys=False,
        strict_hashable_types=True,
        semantic_decoders=_REFUSING,
    )
    try:
        members = decoder.decode()
    except cbor2.CBORDecodeEOF as error:
        raise Refusal(
            "truncated", f"The CBOR body ends after {len(body)} bytes in the middle; send all of it."
        ) from error
    except (cbor2.CBORDecodeError, RecursionError, MemoryError, ValueError, TypeError, OverflowError) as error:
        raise _unreadable(error, nesting) from error
    if stream.tell() != len(body):
        raise Refusal(
            "unreadable",
            f"The CBOR item ends after {stream.tell()} of {len(body)} bytes; send one item and nothing behind it.",
        )
    return members


def _tag_hook(tag: Any, _immutable: bool = False) -> Any:
    try:
        return array_of_tag(tag.tag, tag.value)
    except ValueError as error:
        return NoArray(str(error))


def _refuse_tag(*_: Any) -> Any:
    raise ValueError("it holds a CBOR tag that is neither a typed array of RFC 8746 nor a date-time")


_REFUSING = dict.fromkeys(_REFUSED_TAGS, _refuse_tag)


def _unreadable(error: Exception, nesting: int) -> Refusal:
    if isinstance(error, RecursionError) or "nesting depth" in str(error):
        return Refusal("too-deep", f"The CBOR body is nested deeper than {nesting} levels.")
    return Refusal(
        "unreadable",
        f"The CBOR body cannot be read: {error.__cause__ or error}. Send one map with typed arrays "
        "(RFC 8746) or plain numbers.",
    )
