"""Readiness on the wire."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import Literal
from weakref import WeakKeyDictionary

from pydantic import Field

from barwright.analysis.readiness.today import Readiness
from barwright.api.shapes.base import Answer
from barwright.api.shapes.sets import Figure
from barwright.workflows.check_readiness import NOTHING, AthleteToday, ClubToday, LiftToday

VerdictWord = Literal["up", "usual", "down", "not_enough_data"]


class Interval(Answer):
    """From and to, in kilograms."""

    from_kg: float
    to_kg: float


class LiftReadiness(Answer):
    """One lift on the day.

    change: of the day's maximum against the usual, in %; probability: that it is larger than smallest_change_percent in
    its direction. velocity_change: m/s against what is expected for exactly the loads that were lifted, negative is
    slower. warm_up_sets: loads of the day with a velocity. interval_50, interval_95: of the day's maximum.
    """

    lift: str
    verdict: VerdictWord
    day_max: Figure
    interval_50: Interval | None
    interval_95: Interval | None
    usual_max: Figure
    change: Figure
    probability: float | None
    smallest_change_percent: float | None
    velocity_change: Figure
    warm_up_sets: int
    reasons: list[str]


class ReadinessAnswer(Answer):
    """One athlete on a day. The figures beside `verdict` are those of `lift`, the lift it comes from.

    Of several lifts down goes before up, up before usual; `lifts` has each by itself. With nothing lifted or planned on
    the day it lists the lifts of the last six weeks.
    """

    athlete_id: str
    athlete: str
    on: date
    verdict: VerdictWord
    lift: str | None
    day_max: Figure
    usual_max: Figure
    change: Figure
    probability: float | None = Field(description="0-1; null without a verdict")
    reasons: list[str]
    plan_id: str | None
    lifts: list[LiftReadiness]
    caution: str

    @classmethod
    def of(cls, one: AthleteToday) -> ReadinessAnswer:
        """From the workflow's answer."""
        lifts = [_lift(lift) for lift in one.lifts]
        main = next((x for x in lifts if one.main is not None and x.lift == one.main.lift), _nothing(None))
        return cls(
            athlete_id=one.athlete.id,
            athlete=one.athlete.facts.name,
            on=one.on,
            verdict=main.verdict,
            lift=None if one.main is None else one.main.lift,
            day_max=main.day_max,
            usual_max=main.usual_max,
            change=main.change,
            probability=main.probability,
            reasons=main.reasons,
            plan_id=None if one.plan is None else one.plan.id,
            lifts=lifts,
            caution=one.caution,
        )


class ClubReadiness(Answer):
    """Every athlete of the club on a day, in order of name; all of them at once."""

    on: date
    items: list[ReadinessAnswer]
    next: None
    caution: str

    @classmethod
    def of(cls, one: ClubToday) -> ClubReadiness:
        """From the workflow's answer."""
        return cls(on=one.on, items=[ReadinessAnswer.of(x) for x in one.items], next=None, caution=one.caution)


_WRITTEN: WeakKeyDictionary[AthleteToday, bytes] = WeakKeyDictionary()  # gone with what the workflow remembers
_NOBODY = b'"items":[]'


def club_as_json(one: ClubToday) -> bytes:
    """A ClubReadiness; of an athlete who is told again nothing is written again."""
    nobody = ClubReadiness(on=one.on, items=[], next=None, caution=one.caution).model_dump_json().encode()
    before, _, after = nobody.partition(_NOBODY)
    return before + b'"items":[' + b",".join(map(_written, one.items)) + b"]" + after


def _written(one: AthleteToday) -> bytes:
    written = _WRITTEN.get(one)
    if written is None:
        written = _WRITTEN[one] = ReadinessAnswer.of(one).model_dump_json().encode()
    return written


def _lift(one: LiftToday) -> LiftReadiness:
    return _nothing(one.lift) if one.readiness is None else _told(one.lift, one.readiness)


@lru_cache(maxsize=10_000)  # frozen, and of the same always the same: before the first set of a day nothing changes
def _told(lift: str, found: Readiness) -> LiftReadiness:
    fifty, ninety_five = found.day_max.interval_50, found.day_max.interval_95
    return LiftReadiness(
        lift=lift,
        verdict=found.verdict.value,
        day_max=Figure.of(found.day_max.estimate),
        interval_50=Interval(from_kg=fifty[0], to_kg=fifty[1]),
        interval_95=Interval(from_kg=ninety_five[0], to_kg=ninety_five[1]),
        usual_max=Figure.of(found.usual_max),
        change=Figure.of(found.change),
        probability=found.probability,
        smallest_change_percent=found.smallest_percent,
        velocity_change=Figure.of(found.velocity_change),
        warm_up_sets=found.sets,
        reasons=list(found.reasons),
    )


def _nothing(lift: str | None) -> LiftReadiness:
    why = (
        NOTHING if lift is not None else "nothing was lifted in the last six weeks, and nothing is planned for the day"
    )
    none = Figure(value=None, u=None, unit="kg", reason=why)
    return LiftReadiness(
        lift=lift or "",
        verdict="not_enough_data",
        day_max=none,
        interval_50=None,
        interval_95=None,
        usual_max=none,
        change=Figure(value=None, u=None, unit="%", reason=why),
        probability=None,
        smallest_change_percent=None,
        velocity_change=Figure(value=None, u=None, unit="m/s", reason=why),
        warm_up_sets=0,
        reasons=[why],
    )
