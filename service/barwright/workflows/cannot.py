"""Why something a caller asked for is not done; ingest has its own word, Refusal, for what is wrong with samples."""

from __future__ import annotations

from difflib import get_close_matches

from barwright.access.scopes import Scope
from barwright.analysis.quantities.lifts import LIFTS


class Cannot(Exception):  # noqa: N818 - it reads as what happened
    """code: stable, one heading each in docs/problems.md. pointer: JSON pointer (RFC 6901) to the bad member."""

    def __init__(self, code: str, detail: str, pointer: str | None = None) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.pointer = pointer


def not_found(kind: str, wanted: str, pointer: str | None = None) -> Cannot:
    """Also said when another club has it: a caller learns nothing about other clubs."""
    return Cannot("not-found", f"This club has no {kind} {wanted!r}.", pointer)


def scope_missing(scope: Scope, what: str, pointer: str | None = None) -> Cannot:
    """The key may not do this."""
    return Cannot("scope-missing", f"This key may not {what}: it lacks the scope {scope}.", pointer)


def unknown_lift(lift: str, pointer: str = "/lift") -> Cannot:
    """No lift has this code."""
    near = get_close_matches(lift.lower().replace(" ", "_").replace("-", "_"), LIFTS, 1)
    meant = f" Was {near[0]!r} meant?" if near else ""
    return Cannot(
        "unknown-lift", f"{lift!r} is not a lift this service knows.{meant} GET /v1/lifts lists them all.", pointer
    )
