"""The bytes of one request to one checked block."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from barwright.ingest import int16, senml
from barwright.ingest.block import Block
from barwright.ingest.block_members import block_of_members
from barwright.ingest.cbor_members import members_of_cbor
from barwright.ingest.compressed import decompressed
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.other_blocks import block_of_int16, block_of_pack
from barwright.ingest.refusals import Refusal

Kind = Literal["imu", "encoder"]
JSON = "application/json"
CBOR = "application/cbor"
BLOCK_TYPES = (JSON, CBOR, senml.JSON_TYPE, senml.CBOR_TYPE, int16.MEDIA_TYPE)
SENML_PARTS = 8 * senml.MOST_RECORDS


def decode_block(
    body: bytes,
    content_type: str,
    content_encoding: str | None,
    kind: Kind,
    limits: Limits,
    units: Mapping[str, str] | None = None,
) -> Block:
    """The block in a request body, in the units the stream declared.

    content_type: JSON, CBOR, SenML in either, or int16. content_encoding: gzip, zstd or None. kind: the sensor.
    units: what the stream declared, group to UCUM code; bodies that tell their own units are converted to these.
    Raises Refusal, and nothing else, for every body that is not a good block.
    """
    media_type = media_type_of(content_type, BLOCK_TYPES)
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
    if media_type in (JSON, CBOR):
        return block_of_members(members_of(plain, media_type, limits), kind, limits)
    if media_type == int16.MEDIA_TYPE:
        members = block_of_int16(plain, units or {}, limits)
    elif media_type == senml.CBOR_TYPE:
        pack = members_of_cbor(plain, limits.nesting, 8 * limits.block_samples, SENML_PARTS)
        members = block_of_pack(pack, units or {})
    else:
        members = block_of_pack(members_of_json(plain, limits.nesting, SENML_PARTS), units or {})
    return block_of_members(members, kind, limits)


def media_type_of(content_type: str, known: tuple[str, ...] = (JSON, CBOR)) -> str:
    """The media type in small letters, without parameters. Refuses a charset other than UTF-8, and unknown types."""
    media_type, _, parameters = content_type.partition(";")
    media_type = media_type.strip().lower()
    charset = parameters.lower().replace(" ", "").replace('"', "")
    if media_type not in known or (charset.startswith("charset=") and charset[8:] not in ("utf-8", "utf8")):
        raise Refusal(
            "unknown-content-type",
            f"Content-Type `{content_type[:80]}` is not known here; send {JSON} in UTF-8 or {', '.join(known[1:])}.",
        )
    return media_type


def members_of(body: bytes, media_type: str, limits: Limits) -> Any:
    """The plain values of a JSON or CBOR body."""
    if media_type == CBOR:
        return members_of_cbor(body, limits.nesting, 8 * limits.block_samples)
    return members_of_json(body, limits.nesting)
