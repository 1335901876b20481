"""Plans, the loads for them, and the coach's decisions on the wire."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from barwright.analysis.readiness.loads import CAUTION, SuggestedLoad
from barwright.api.shapes.base import Answer, Number, Told, Whole
from barwright.api.shapes.days import Day
from barwright.api.shapes.maxima import LoadUnits, Note
from barwright.api.shapes.sets import Figure
from barwright.storage.plans import Decision, Plan, PlannedSet, ToldDecision
from barwright.workflows.cannot import Cannot
from barwright.workflows.change_club import bar_of
from barwright.workflows.check_readiness import LiftToday, verdict_of
from barwright.workflows.plan_loads import LoadOfSet, LoadsOfDay

LiftCode = Annotated[str, Field(min_length=1, max_length=64, description="A code of GET /v1/lifts.")]
Reason = Annotated[str, Field(min_length=3, max_length=500, description="Why, in plain words; it is kept.")]


class PlannedSetShape(Told):
    """A line of a plan: `sets` sets of `reps`, with one target: percent of the maximum, velocity in m/s, or a zone.

    velocity_loss: percent of velocity lost at which a set is to stop.
    """

    lift: LiftCode
    percent: Annotated[Number, Field(gt=0, le=120)] | None = None
    velocity: Annotated[Number, Field(gt=0, le=6)] | None = None
    zone: Annotated[str, Field(min_length=1, max_length=60)] | None = None
    reps: Annotated[Whole, Field(ge=1, le=50)] = 1
    sets: Annotated[Whole, Field(ge=1, le=50)] = 1
    velocity_loss: Annotated[Number, Field(gt=0, lt=100)] | None = None

    @model_validator(mode="after")
    def _one_target(self) -> PlannedSetShape:
        told = [name for name in ("percent", "velocity", "zone") if getattr(self, name) is not None]
        if len(told) != 1:
            found = "none of them is there" if not told else f"{' and '.join(told)} are there"
            raise ValueError(f"a line has one target, percent, velocity or zone; {found}.")
        return self


class NewPlan(Told):
    """What an athlete is to do on a day. A later plan for the same day goes in its place."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "on": "2026-03-01",
                    "sets": [
                        {"lift": "snatch", "percent": 80, "reps": 2, "sets": 5},
                        {"lift": "back_squat", "velocity": 0.6, "reps": 3, "sets": 4, "velocity_loss": 20},
                    ],
                }
            ]
        }
    )

    on: Day = Field(default=None, description="The day; today, when it is left out.")
    sets: Annotated[list[PlannedSetShape], Field(min_length=1, max_length=60)]
    note: Note | None = None

    def told(self) -> tuple[date | None, tuple[PlannedSet, ...], str | None]:
        """As the workflow wants it."""
        return self.on, tuple(PlannedSet(**one.model_dump()) for one in self.sets), self.note


class PlanAnswer(Answer):
    """A plan. GET /v1/athletes/{id}/loads tells the kilograms."""

    id: str
    athlete_id: str
    on: date
    sets: list[PlannedSetShape]
    note: str | None
    created_at: datetime

    @classmethod
    def of(cls, plan: Plan) -> PlanAnswer:
        """From the stored plan."""
        sets = [PlannedSetShape.model_construct(**_members(one)) for one in plan.sets]
        return cls(
            id=plan.id, athlete_id=plan.athlete_id, on=plan.day, sets=sets, note=plan.note, created_at=plan.created_at
        )


class PlanPage(Answer):
    """Plans, the newest first."""

    items: list[PlanAnswer]
    next: str | None


class NewDecision(Told):
    """What the coach decides against the suggested loads, and why.

    lift_cap: the day's loads of `lift` may leave the club's daily cap. load: line `set` of the day's plan gets load_kg.
    """

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {"kind": "load", "on": "2026-03-01", "set": 1, "load_kg": 72.5, "reason": "moved well all week"}
            ]
        }
    )

    kind: Literal["lift_cap", "load"]
    on: Day = Field(default=None, description="The day; today, when it is left out.")
    lift: LiftCode | None = None
    set: Annotated[Whole, Field(ge=1, le=60, description="Line of the plan, 1 the first.")] | None = None
    load_kg: Annotated[Number, Field(description="Kilograms, or the unit in units.load.")] | None = None
    units: LoadUnits = Field(default_factory=dict)
    reason: Reason

    def told(self) -> ToldDecision:
        """As the workflow wants it, the day still to be found. Raises Cannot when a member is missing."""
        needed = ("lift",) if self.kind == "lift_cap" else ("set", "load_kg")
        for name in ("lift", "set", "load_kg"):
            there = getattr(self, name) is not None
            if there != (name in needed):
                words = "does not belong to" if there else "is missing for"
                raise Cannot("request-invalid", f"`{name}` {words} the kind {self.kind}.", f"/{name}")
        return ToldDecision(self.kind, date.min, self.lift or "", self.reason, None, self.set, self.load_kg)


class KeptDecision(Answer):
    """A decision that is kept."""

    id: str
    athlete_id: str
    kind: str
    on: date
    lift: str
    plan_id: str | None
    set: int | None
    load_kg: float | None
    reason: str
    created_at: datetime

    @classmethod
    def of(cls, one: Decision) -> Self:
        """From the stored decision."""
        told = one.told
        return cls(
            id=one.id,
            athlete_id=one.athlete_id,
            kind=told.kind,
            on=told.day,
            lift=told.lift,
            plan_id=told.plan_id,
            set=told.set_number,
            load_kg=told.load_kg,
            reason=told.reason,
            created_at=one.created_at,
        )


class DecisionAnswer(KeptDecision):
    """A decision that is kept, with the caution."""

    caution: str = CAUTION


class DecisionsAnswer(Answer):
    """Decisions, the oldest first; all of them at once."""

    items: list[KeptDecision]
    next: None
    caution: str

    @classmethod
    def of(cls, found: list[Decision]) -> DecisionsAnswer:
        """From the stored decisions."""
        return cls(items=[KeptDecision.of(one) for one in found], next=None, caution=CAUTION)


class SidePlates(Answer):
    """So many plates of one mass on each side, heaviest nearest the middle."""

    kg: float
    count: int


class LoadAnswer(Answer):
    """A line of the plan in kilograms.

    load: what goes on the bar, u from what is known of the athlete (0 when the coach decided); load_kg the same as a
    plain number, null when there is nothing to go by (`reasons`). wanted: before rounding and limits. suggested_kg:
    without the coach's decision. limited: a cap or limit changed it. each_side: plates on each side of a bar of bar_kg,
    empty too when the club's plates do not make a decided load.
    """

    set: int
    lift: str
    percent: float | None
    velocity: float | None
    zone: str | None
    reps: int
    sets: int
    velocity_loss: float | None
    load: Figure
    load_kg: float | None
    suggested_kg: float | None
    wanted: Figure
    expected_velocity: Figure
    bar_kg: float
    each_side: list[SidePlates]
    limited: bool
    reasons: list[str]
    decision: KeptDecision | None


class LiftOfLoads(Answer):
    """One lift of the day: what its loads are made from."""

    lift: str
    verdict: str
    day_max: Figure
    usual_max: Figure
    cap_percent: float
    cap_lifted: KeptDecision | None


class LoadsAnswer(Answer):
    """Kilograms for the plan that counts on a day; plan_id null and no sets when there is no plan for it."""

    athlete_id: str
    athlete: str
    on: date
    plan_id: str | None
    lifts: list[LiftOfLoads]
    sets: list[LoadAnswer]
    caution: str

    @classmethod
    def of(cls, one: LoadsOfDay) -> LoadsAnswer:
        """From the workflow's answer."""
        today = one.today
        bar_kg = bar_of(one.settings, today.athlete.facts.sex).kg
        return cls(
            athlete_id=today.athlete.id,
            athlete=today.athlete.facts.name,
            on=today.on,
            plan_id=None if today.plan is None else today.plan.id,
            lifts=[_lift(lift, one) for lift in today.lifts],
            sets=[_load(load, bar_kg) for load in one.sets],
            caution=one.caution,
        )


def _members(one: PlannedSet) -> dict[str, Any]:
    names = ("lift", "percent", "velocity", "zone", "reps", "sets", "velocity_loss")
    return {name: getattr(one, name) for name in names}


def _lift(lift: LiftToday, one: LoadsOfDay) -> LiftOfLoads:
    found, decided = lift.readiness, one.caps_lifted.get(lift.lift)
    nothing = Figure(value=None, u=None, unit="kg", reason="nothing is known of this lift yet")
    return LiftOfLoads(
        lift=lift.lift,
        verdict=verdict_of(lift),
        day_max=nothing if found is None else Figure.of(found.day_max.estimate),
        usual_max=nothing if found is None else Figure.of(found.usual_max),
        cap_percent=one.settings.daily_cap_percent,
        cap_lifted=None if decided is None else KeptDecision.of(decided),
    )


def _load(one: LoadOfSet, bar_kg: float) -> LoadAnswer:
    suggested: SuggestedLoad | None = one.suggested
    decided = one.decided
    load_kg = None if suggested is None else suggested.load_kg
    reasons = [one.reason or "nothing is known of this lift yet"] if suggested is None else list(suggested.reasons)
    if decided is not None:
        load_kg = decided.told.load_kg
        reasons = [f"the coach decided: {decided.told.reason}", *reasons]
    unknown = Figure(value=None, u=None, unit="kg", reason=reasons[-1])
    wanted = unknown if suggested is None else Figure.of(suggested.wanted)
    load = unknown
    if load_kg is not None:
        u = 0.0 if suggested is None or decided is not None else suggested.wanted.u
        load = Figure(value=load_kg, u=u, unit="kg")
    no_velocity = Figure(value=None, u=None, unit="m/s", reason=reasons[-1])
    return LoadAnswer(
        set=one.number,
        **_members(one.planned),
        load=load,
        load_kg=load_kg,
        suggested_kg=None if suggested is None else suggested.load_kg,
        wanted=wanted,
        expected_velocity=no_velocity if one.velocity is None else Figure.of(one.velocity),
        bar_kg=bar_kg,
        each_side=[SidePlates(kg=kg, count=count) for kg, count in one.each_side],
        limited=suggested is not None and suggested.limited,
        reasons=reasons,
        decision=None if decided is None else KeptDecision.of(decided),
    )
