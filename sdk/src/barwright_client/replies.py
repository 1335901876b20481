"""What came back over the wire, before anyone has read it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime


@dataclass(frozen=True, slots=True)
class Reply:
    """status, body, and headers with lower-case names."""

    status: int
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)

    def header(self, name: str) -> str | None:
        """A header by its lower-case name."""
        return self.headers.get(name)

    @property
    def good(self) -> bool:
        """True for 2xx."""
        return 200 <= self.status < 300

    def retry_after_s(self, now: datetime | None = None) -> float | None:
        """Seconds asked for by Retry-After (RFC 9110 section 10.2.3: seconds or a date), None when there is none."""
        text = self.headers.get("retry-after", "").strip()
        if text.isdecimal():
            return float(text)
        try:
            at = parsedate_to_datetime(text)
        except ValueError:
            return None
        at = at if at.tzinfo else at.replace(tzinfo=UTC)
        return max(0.0, (at - (now or datetime.now(UTC))).total_seconds())
