"""The bytes of one request to one checked block."""

from __future__ import annotations

from typing import Literal

from barwright.ingest.block import Block
from barwright.ingest.limits import Limits

Kind = Literal["imu", "encoder"]


def decode_block(body: bytes, content_type: str, content_encoding: str | None, kind: Kind, limits: Limits) -> Block:
    """The block in a request body. Raises Refusal, and nothing else, for every body that is not a good block."""
    raise NotImplementedError
