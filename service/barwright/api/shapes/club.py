"""A club's own settings on the wire."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from barwright.api.shapes.base import Answer, Name, Number, Told, Whole
from barwright.storage.club_settings import BARS, PLATES, Bar, Club, ClubZone, Plates

Kg = Annotated[Number, Field(gt=0, le=50, description="Kilograms.")]
Days = Annotated[Whole, Field(ge=1, le=36500)]
_EXAMPLE: dict[str, Any] = {
    "time_zone": "Europe/Vienna",
    "bars": [{"kg": 20}, {"kg": 15, "sex": "female"}],
    "plates": [{"kg": 20, "count": 4}, {"kg": 10, "count": 4}, {"kg": 2.5, "count": 2}, {"kg": 1.25, "count": 2}],
    "step_kg": 2.5,
    "daily_cap_percent": 5,
    "smallest_change_percent": 2,
}


class BarShape(Told):
    """A bar without collars. sex: whose bar it is; null for everybody's."""

    kg: Kg
    sex: Literal["female", "male", "other"] | None = None


class PlatesShape(Told):
    """Plates of one mass; count: how many the club has for one bar, both ends together."""

    kg: Kg
    count: Annotated[Whole, Field(ge=0, le=100)]


class ZoneShape(Told):
    """A velocity zone; from_m_s belongs to it, to_m_s (null: without end) does not."""

    name: Name
    from_m_s: Annotated[Number, Field(ge=0, le=6)]
    to_m_s: Annotated[Number, Field(gt=0, le=6)] | None = None
    measure: Literal["mean_velocity", "peak_velocity"] = "mean_velocity"


def _bars() -> list[BarShape]:
    return [BarShape(kg=one.kg, sex=one.sex) for one in BARS]  # type: ignore[arg-type]


def _plates() -> list[PlatesShape]:
    return [PlatesShape(kg=one.kg, count=one.count) for one in PLATES]


class ClubChanges(Told):
    """What is to change. Members left out stay with PATCH; with PUT they go back to what they are untold."""

    model_config = ConfigDict(json_schema_extra={"examples": [_EXAMPLE]})

    time_zone: Annotated[str, Field(max_length=64, description="IANA name, such as Europe/Vienna.")] = "UTC"
    bars: Annotated[list[BarShape], Field(min_length=1, max_length=10)] = Field(default_factory=_bars)
    plates: Annotated[list[PlatesShape], Field(min_length=1, max_length=20)] = Field(default_factory=_plates)
    collars_kg: Annotated[Number, Field(ge=0, le=10, description="Both together.")] = 0.0
    step_kg: Annotated[Number, Field(ge=0.1, le=10, description="Loads are the bar plus multiples of it.")] = 1.0
    daily_cap_percent: Annotated[
        Number, Field(ge=0, le=20, description="How far a day's loads may leave those of a usual day.")
    ] = 5.0
    smallest_change_percent: (
        Annotated[Number, Field(gt=0, le=20, description="A change of the maximum that matters.")] | None
    ) = None
    zones: Annotated[list[ZoneShape], Field(max_length=20)] | None = None
    raw_full_days: Annotated[Days, Field(description="Raw samples of older sets are thinned; null: never.")] | None = (
        None
    )
    raw_thinning: Literal["packed", "around_reps"] = "packed"
    raw_drop_days: Annotated[Days, Field(description="Raw samples of older sets are dropped; null: never.")] | None = (
        None
    )

    def changes(self) -> dict[str, Any]:
        """Only what was told, as the workflow wants it."""
        told: dict[str, Any] = {name: getattr(self, name) for name in self.model_fields_set}
        for name, kind in (("bars", Bar), ("plates", Plates), ("zones", ClubZone)):
            if told.get(name) is not None:
                told[name] = tuple(kind(**one.model_dump()) for one in told[name])
        return told


class ClubAnswer(Answer):
    """A club and its settings. smallest_change_percent null: 2 %; zones null: the published ones."""

    id: str
    name: str
    time_zone: str
    bars: list[BarShape]
    plates: list[PlatesShape]
    collars_kg: float
    step_kg: float
    daily_cap_percent: float
    smallest_change_percent: float | None
    zones: list[ZoneShape] | None
    raw_full_days: int | None
    raw_thinning: str
    raw_drop_days: int | None

    @classmethod
    def of(cls, club: Club) -> ClubAnswer:
        """From the stored club."""
        return cls.model_validate({"id": club.id, "name": club.name, **asdict(club.settings)})
