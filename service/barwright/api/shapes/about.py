"""Limits, lifts and health on the wire."""

from __future__ import annotations

from pydantic import Field, create_model

from barwright.access.rates import RateLimits
from barwright.api.shapes.base import Answer
from barwright.ingest.limits import Limits


class LiftAnswer(Answer):
    """One lift. start: where the bar rests before a rep. key_velocity: the measure its profiles are drawn with."""

    code: str
    title: str
    pattern: str
    start: str
    key_velocity: str


class LiftPage(Answer):
    """All lifts."""

    items: list[LiftAnswer]
    next: str | None


class Health(Answer):
    """The service is well."""

    status: str = Field(examples=["ready"])


# One member per published limit, so that the document lists them without a second list to keep.
LimitsAnswer = create_model(
    "LimitsAnswer",
    __base__=Answer,
    __doc__="Sizes in bytes, times in seconds, rates in hertz.",
    **{name: (type(value), ...) for name, value in {**Limits().published(), **RateLimits().published()}.items()},  # type: ignore[call-overload]
)
