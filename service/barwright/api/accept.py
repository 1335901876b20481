"""Which of several formats a caller wants."""

from __future__ import annotations

from collections.abc import Sequence

from barwright.workflows.cannot import Cannot

JSON, CBOR, CSV = "application/json", "application/cbor", "text/csv"


def best_format(accept: str, formats: Sequence[str]) -> str:
    """The format of highest quality; of equals, the first of `formats` (RFC 9110, 12.5.1). Raises Cannot for none."""
    quality = {one: _quality(accept, one) for one in formats}
    best = max(formats, key=lambda one: quality[one])
    if quality[best] == 0:
        raise Cannot("not-acceptable", f"Accept is {accept[:80]!r}; this can be given as {', '.join(formats)}.")
    return best


def _quality(accept: str, media_type: str) -> float:
    """q of the most specific range that fits; 0 when none does."""
    fits: dict[int, float] = {}
    for part in accept.split(","):
        name, *parameters = (piece.strip().lower() for piece in part.split(";"))
        ranges = (media_type, media_type.split("/")[0] + "/*", "*/*")
        if name in ranges:
            fits.setdefault(ranges.index(name), _q(parameters))
    return fits[min(fits)] if fits else 0.0


def _q(parameters: list[str]) -> float:
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                return min(max(float(parameter[2:]), 0.0), 1.0)
            except ValueError:
                return 0.0
    return 1.0
