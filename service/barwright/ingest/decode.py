"""The bytes of one request to one checked block."""

from __future__ import annotations

from typing import Any, Literal

from barwright.ingest.block import Block
from barwright.ingest.block_members import block_of_members
from barwright.ingest.cbor_members import members_of_cbor
from barwright.ingest.compressed import decompressed
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal

Kind = Literal["imu", "encoder"]
JSON = "application/json"
CBOR = "application/cbor"


def decode_block(body: bytes, content_type: str, content_encoding: str | None, kind: Kind, limits: Limits) -> Block:
    """The block in a request body, in the units the stream declared.

    content_type: application/json or application/cbor. content_encoding: gzip, zstd or None. kind: the stream's sensor.
    Raises Refusal, and nothing else, for every body that is not a good block.
    """
    media_type = media_type_of(content_type)
    if len(body) > limits.body_bytes:
        raise Refusal(
            "body-too-large",
            f"The body has {len(body)} bytes; the limit is {limits.body_bytes}. Send it as several blocks.",
        )
    plain = decompressed(body, content_encoding, limits.block_bytes)
    if len(plain) > limits.block_bytes:
        raise Refusal(
            "block-too-large",
            f"The block has {len(plain)} bytes; the limit is {limits.block_bytes}. Send it as several blocks.",
        )
    return block_of_members(members_of(plain, media_type, limits), kind, limits)


def media_type_of(content_type: str) -> str:
    """The media type in small letters, without parameters. Refuses a charset other than UTF-8, and unknown types."""
    media_type, _, parameters = content_type.partition(";")
    media_type = media_type.strip().lower()
    charset = parameters.lower().replace(" ", "").replace('"', "")
    if media_type not in (JSON, CBOR) or (charset.startswith("charset=") and charset[8:] not in ("utf-8", "utf8")):
        raise Refusal(
            "unknown-content-type",
            f"Content-Type `{content_type}` is not known for a block; send {JSON} in UTF-8 or {CBOR}.",
        )
    return media_type


def members_of(body: bytes, media_type: str, limits: Limits) -> Any:
    """The plain values of a JSON or CBOR body."""
    if media_type == CBOR:
        return members_of_cbor(body, limits.nesting, 8 * limits.block_samples)
    return members_of_json(body, limits.nesting)
