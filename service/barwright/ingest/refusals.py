"""Why something that arrived was not taken: one stable code each, with its HTTP status and title."""

from __future__ import annotations

# code -> (HTTP status of RFC 9110, title)
REFUSALS: dict[str, tuple[int, str]] = {
    "unreadable": (400, "The body cannot be read"),
    "truncated": (400, "The body ends too early"),
    "too-deep": (400, "The body is nested too deeply"),
    "too-many-arrays": (400, "The body has too many arrays or texts"),
    "body-too-large": (413, "The body is too large as sent"),
    "block-too-large": (413, "The block is too large"),
    "decompressed-too-large": (413, "The body is too large once decompressed"),
    "unknown-content-type": (415, "The content type is not known"),
    "unknown-encoding": (415, "The content encoding is not known"),
    "missing-member": (422, "A member is missing"),
    "unknown-member": (422, "A member is not known"),
    "bad-member": (422, "A member does not have the right shape"),
    "time-unclear": (422, "The sample times are not clear"),
    "missing-axis": (422, "An axis of the sensor is missing"),
    "missing-channel": (422, "No channel can be used"),
    "unknown-channel": (422, "A channel is not known"),
    "channel-conflict": (422, "Two channels contradict each other"),
    "unequal-columns": (422, "The columns are not equally long"),
    "no-samples": (422, "There are no samples"),
    "not-a-number": (422, "A value is not a number"),
    "not-finite": (422, "A value is not finite"),
    "value-too-large": (422, "A value is larger than any sensor's"),
    "time-runs-backwards": (422, "Time runs backwards"),
    "rate-out-of-limits": (422, "The sample rate is out of limits"),
    "too-many-samples": (422, "There are too many samples"),
    "too-long": (422, "The samples last too long"),
    "unknown-unit": (422, "A unit is not known"),
    "unit-unclear": (422, "A unit is neither told nor certain"),
    "unit-conflict": (422, "Two units contradict each other"),
    "bad-bar-axis": (422, "The bar axis does not name a direction"),
    "missing-column": (422, "A column is missing"),
    "repeated-column": (422, "A column is there twice"),
    "bad-row": (422, "A row does not fit the header"),
    "bad-history": (422, "The history cannot be used"),
    "other-content": (422, "The same block was sent before with other content"),
}


class Refusal(Exception):  # noqa: N818 - the project's word for it
    """Something that arrived was not taken.

    code: stable, a key of REFUSALS. detail: what was wrong, where, and what would be right.
    pointer: JSON pointer (RFC 6901) to the bad member, or None when the whole body is meant.
    more: (pointer, detail) of each thing that is wrong, where there can be several.
    """

    def __init__(
        self, code: str, detail: str, pointer: str | None = None, more: tuple[tuple[str, str], ...] = ()
    ) -> None:
        super().__init__(detail)
        self.code = code
        self.status, self.title = REFUSALS[code]
        self.detail = detail
        self.pointer = pointer
        self.more = more


def pointer_to(*parts: str | int) -> str:
    """The JSON pointer (RFC 6901) to a member, from its path."""
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in parts)
