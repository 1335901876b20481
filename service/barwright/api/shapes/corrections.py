"""Corrections of sets and reps on the wire."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from barwright.api.shapes.base import IdText, Told
from barwright.api.shapes.maxima import LoadTold, LoadUnits
from barwright.workflows.correct_set import RepChanges, SetChanges

Why = Annotated[str, Field(min_length=1, max_length=500, description="Why, in plain words; it is kept.")]


class SetCorrection(Told):
    """What is to change of a set; what is left out stays. A changed lift is analysed anew."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"load_kg": 82.5, "reason": "a plate was forgotten when it was typed in"}]}
    )

    load_kg: LoadTold | None = None
    units: LoadUnits = Field(default_factory=dict)
    lift: Annotated[str, Field(max_length=64, description="A code of GET /v1/lifts.")] | None = None
    athlete_id: IdText | None = None
    reason: Why | None = None

    def changes(self) -> SetChanges:
        """As the workflow wants it."""
        return SetChanges(self.load_kg, self.units.get("load"), self.lift, self.athlete_id, self.reason)


class RepCorrectionTold(Told):
    """What is to change of a rep; what is left out stays. excluded: it counts for nothing."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"outcome": "failed", "reason": "pressed out, called no lift"}]}
    )

    outcome: Literal["made", "failed", "partial"] | None = None
    excluded: Annotated[bool, Field(strict=True)] | None = None
    reason: Why | None = None

    def changes(self) -> RepChanges:
        """As the workflow wants it."""
        return RepChanges(self.outcome, self.excluded, self.reason)
