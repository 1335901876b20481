"""Who is told how the work goes; by itself it keeps nothing."""

from __future__ import annotations


class Watch:
    """What can be seen of the workflows from outside."""

    def analysed(self, seconds: float, outcome: str, reason_code: str | None) -> None:
        """An analysis ended. outcome: analysed, unusable or failed."""
