"""Tested maxima, histories and maxima from repetitions on the wire."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field

from barwright.analysis.readiness.loads import CAUTION
from barwright.api.shapes.base import Answer, Number, Told
from barwright.api.shapes.days import Day
from barwright.storage.efforts import SetEffort
from barwright.storage.maxima import Maximum
from barwright.workflows.import_history import Imported
from barwright.workflows.read_velocity_loss import RepMaxAnswer

LoadUnits = dict[Literal["load"], str]
Note = Annotated[str, Field(max_length=500)]
LoadTold = Annotated[Number, Field(description="Kilograms, or the unit in units.load; above 0 and at most 600 kg.")]


class NewMaximum(Told):
    """A maximum that was tested and made."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"lift": "back_squat", "load_kg": 112.5, "on": "2026-03-01"}]}
    )

    lift: Annotated[str, Field(max_length=64, description="A code of GET /v1/lifts.")]
    load_kg: LoadTold
    units: LoadUnits = Field(default_factory=dict, description="kg or [lb_av] for load.")
    on: Day = Field(default=None, description="The day; today, when it is left out.")
    note: Note | None = None


class KeptMaximum(Answer):
    """A tested maximum. source: told, or history when it came with a file."""

    id: str
    athlete_id: str
    lift: str
    load_kg: float
    on: date
    note: str | None
    source: str
    created_at: datetime

    @classmethod
    def of(cls, one: Maximum) -> Self:
        """From the stored maximum."""
        told = one.told
        return cls(
            id=one.id,
            athlete_id=one.athlete_id,
            lift=told.lift,
            load_kg=told.load_kg,
            on=told.day,
            note=told.note,
            source=one.source,
            created_at=one.created_at,
        )


class MaximumAnswer(KeptMaximum):
    """A tested maximum, with the caution."""

    caution: str = CAUTION


class MaximaAnswer(Answer):
    """Tested maxima, the oldest first; all of them at once."""

    items: list[KeptMaximum]
    next: None
    caution: str

    @classmethod
    def of(cls, found: list[Maximum]) -> MaximaAnswer:
        """From the stored maxima."""
        return cls(items=[KeptMaximum.of(one) for one in found], next=None, caution=CAUTION)


class ToldSetAnswer(Answer):
    """A set that came with a file of history; velocity, velocity_u in m/s, of its fastest made rep."""

    on: date
    lift: str
    set: int | None
    load_kg: float
    made: int
    missed: int
    velocity: float | None
    velocity_u: float | None
    note: str | None

    @classmethod
    def of(cls, one: SetEffort) -> ToldSetAnswer:
        """From the stored set."""
        return cls(
            on=one.day,
            lift=one.lift,
            set=one.number,
            load_kg=one.load_kg,
            made=one.made,
            missed=one.missed,
            velocity=one.velocity,
            velocity_u=one.u,
            note=one.note,
        )


class ImportedAnswer(Answer):
    """What was kept of a file of history. known: rows left out because they were there already."""

    athlete_id: str
    sets: int
    maxima: int
    known: int
    lifts: list[str]
    first_day: date | None
    last_day: date | None

    @classmethod
    def of(cls, one: Imported) -> ImportedAnswer:
        """From the workflow's answer."""
        return cls.model_validate({name: getattr(one, name) for name in cls.model_fields})


class RepMaxima(Answer):
    """The maximum from repetitions to failure by each formula, in kilograms; no uncertainty is known of them."""

    load_kg: float
    reps: int
    by_formula: dict[str, float] = Field(description="epley, brzycki, lombardi, wathan, oconner")
    lowest_kg: float
    highest_kg: float
    words: str
    caution: str

    @classmethod
    def of(cls, one: RepMaxAnswer) -> RepMaxima:
        """From the workflow's answer."""
        found = one.found
        return cls(
            load_kg=found.load_kg,
            reps=found.reps,
            by_formula={name: round(kg, 2) for name, kg in found.by_formula.items()},
            lowest_kg=round(found.lowest_kg, 2),
            highest_kg=round(found.highest_kg, 2),
            words=found.words,
            caution=one.caution,
        )
