"""How much may arrive at once; published, so that a sender can keep within it."""

from __future__ import annotations

from dataclasses import asdict, dataclass

MIB = 1024 * 1024
LARGEST_EXACT_INTEGER = 2**53  # above it JSON numbers are no longer exact in common readers (RFC 8259, section 6)


@dataclass(frozen=True, slots=True)
class Limits:
    """Every limit of ingest. Sizes in bytes, times in seconds, rates in Hz.

    block_bytes: one block after decompression. body_bytes: one block as sent.
    recording_body_bytes, recording_bytes: one recording file as sent, and after decompression.
    nesting: how deep JSON and CBOR may be nested.
    """

    block_bytes: int = 8 * MIB
    body_bytes: int = 8 * MIB
    block_seconds: float = 120.0
    block_samples: int = 250_000
    stream_seconds: float = 1800.0
    stream_samples: int = 2_000_000  # what an analysis holds in memory grows with them: about 1 GB per million
    lowest_rate_hz: float = 20.0
    highest_rate_hz: float = 4000.0
    nesting: int = 16
    recording_body_bytes: int = 64 * MIB
    recording_bytes: int = 64 * MIB
    recording_samples: int = 2_000_000

    def published(self) -> dict[str, int | float]:
        """The limits as members of GET /v1/limits."""
        return asdict(self)
