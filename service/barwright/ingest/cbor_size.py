"""A look over a large CBOR body before it is built: how many Python values it would make."""

from __future__ import annotations

import numpy as np

from barwright.ingest.limits import MIB
from barwright.ingest.refusals import Refusal

SMALL = MIB // 4  # a body this small cannot make more than a few tens of MiB whatever it holds
MOST_PARTS = 200_000
_FLOAT_WIDTHS = {0xF9: 3, 0xFA: 5, 0xFB: 9}
_ARGUMENT_BYTES = {24: 1, 25: 2, 26: 4, 27: 8}


def check_parts(body: bytes, most_values: int, most_parts: int = MOST_PARTS) -> None:
    """Refuses more than `most_parts` arrays, maps, tags and texts, or `most_values` values outside runs of floats.

    Walks item heads only (RFC 8949, 3); damage is left for the decoder to find.
    """
    if len(body) <= SMALL:
        return
    raw = np.frombuffer(body, np.uint8)
    at, parts, values = 0, 0, 0
    while at < len(body):
        head = body[at]
        major, short = head >> 5, head & 0x1F
        wide = _ARGUMENT_BYTES.get(short, 0)
        argument = int.from_bytes(body[at + 1 : at + 1 + wide], "big") if wide else short
        at += 1 + wide
        values += 1
        if 2 <= major <= 6:
            parts += 1
            if major in (2, 3) and short < 28:
                at += argument
            elif major == 4 and short < 28:
                at += _run_of_floats(raw, at, argument)
        if parts > most_parts or values > most_values:
            raise Refusal(
                "too-many-arrays",
                f"The CBOR body has more than {most_parts} arrays, maps, tags and texts, or more than {most_values} "
                "values outside arrays of floats; send samples as one typed array per channel.",
            )


def _run_of_floats(raw: np.ndarray, at: int, count: int) -> int:
    """Bytes taken by `count` floats of one width starting here; 0 when they are anything else."""
    width = _FLOAT_WIDTHS.get(int(raw[at]), 0) if at < len(raw) else 0
    if not width or at + width * count > len(raw):
        return 0
    heads = raw[at : at + width * count : width]
    return width * count if bool((heads == raw[at]).all()) else 0
