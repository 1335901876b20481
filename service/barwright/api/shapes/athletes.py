"""Athletes on the wire."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from barwright.api.shapes.base import Answer, Name, Number, Told, Whole
from barwright.storage.athletes import Athlete, AthleteFacts
from barwright.workflows.forget_athlete import ErasureReceipt

Sex = Annotated[
    Literal["female", "male", "other"],
    BeforeValidator(lambda told: _SEX.get(told.lower(), told) if isinstance(told, str) else told),
]
_SEX = {"f": "female", "female": "female", "m": "male", "male": "male", "other": "other"}
Level = Annotated[
    str,
    Field(
        min_length=1,
        max_length=40,
        description="The club's own word, such as intermediate. Two mean something, however they are capitalised: "
        "`novice` keeps loads to the lower limits, `advanced` allows drills above 80 % of the maximum.",
    ),
]
ConsentOn = Annotated[date, Field(description="The day on which athlete or guardian agreed to what is kept.")]
GuardianNote = Annotated[
    str, Field(min_length=1, max_length=500, description="Who decides for a minor, and how they are reached.")
]
BirthYear = Annotated[Whole, Field(ge=1900, le=2100)]
BodyMass = Annotated[Number, Field(gt=0, le=400, description="Kilograms.")]
Stature = Annotated[Number, Field(gt=0.5, le=2.6, description="Metres.")]


class NewAthlete(Told):
    """An athlete; only the name must be told."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [{"name": "Imke", "birth_year": 1999, "body_mass_kg": 63.4, "level": "advanced"}]
        }
    )

    name: Name
    birth_year: BirthYear | None = None
    sex: Sex | None = None
    body_mass_kg: BodyMass | None = None
    stature_m: Stature | None = None
    level: Level | None = None
    consent_on: ConsentOn | None = None
    guardian_note: GuardianNote | None = None

    def facts(self) -> AthleteFacts:
        """As the workflows want it."""
        return AthleteFacts(**self.model_dump())


class AthleteChanges(Told):
    """What is to change; members left out stay, null forgets a fact."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"body_mass_kg": 64.1}]})

    name: Name | None = None
    birth_year: BirthYear | None = None
    sex: Sex | None = None
    body_mass_kg: BodyMass | None = None
    stature_m: Stature | None = None
    level: Level | None = None
    consent_on: ConsentOn | None = None
    guardian_note: GuardianNote | None = None

    @model_validator(mode="after")
    def _name_stays(self) -> AthleteChanges:
        if "name" in self.model_fields_set and self.name is None:
            raise ValueError("the name can be changed, not taken away.")
        return self


class AthleteAnswer(Answer):
    """An athlete of the club."""

    id: str
    name: str
    birth_year: int | None
    sex: str | None
    body_mass_kg: float | None
    stature_m: float | None
    level: str | None
    consent_on: date | None
    guardian_note: str | None
    created_at: datetime

    @classmethod
    def of(cls, athlete: Athlete) -> AthleteAnswer:
        """From the stored athlete."""
        facts = athlete.facts
        return cls(
            id=athlete.id,
            name=facts.name,
            birth_year=facts.birth_year,
            sex=facts.sex,
            body_mass_kg=facts.body_mass_kg,
            stature_m=facts.stature_m,
            level=facts.level,
            consent_on=facts.consent_on,
            guardian_note=facts.guardian_note,
            created_at=athlete.created_at,
        )


class AthletePage(Answer):
    """Athletes in order of name."""

    items: list[AthleteAnswer]
    next: str | None


class ErasedObject(Answer):
    """A raw object that was deleted, by name and the SHA-256 of what it held."""

    name: str
    digest: str


class ErasureAnswer(Answer):
    """What was erased, in numbers: rows by table, kept answers to retried requests, raw objects.

    objects_waiting: objects the store could not delete yet; it is tried again until it can. log_emptied false: a long
    reader was in the way of emptying the database's log; it is emptied as soon as that ends.
    """

    athlete_id: str
    erased_at: datetime
    rows: dict[str, int]
    answers: int
    objects: list[ErasedObject]
    objects_waiting: int
    log_emptied: bool

    @classmethod
    def of(cls, receipt: ErasureReceipt) -> ErasureAnswer:
        """From the workflow's receipt."""
        return cls.model_validate(asdict(receipt))
