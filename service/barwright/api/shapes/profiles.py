"""Load-velocity profiles, zones and velocity loss on the wire."""

from __future__ import annotations

import math
from datetime import date

from pydantic import Field

from barwright.analysis.profiles.fit import LoadVelocityProfile
from barwright.analysis.profiles.zones import VelocityZone
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.api.shapes.base import Answer
from barwright.api.shapes.readiness import Interval
from barwright.api.shapes.sets import Figure
from barwright.workflows.check_readiness import NOTHING
from barwright.workflows.read_profile import ProfileOnDay, ZonesOnDay, zone_code
from barwright.workflows.read_velocity_loss import LossInSet


class LineAnswer(Answer):
    """velocity = intercept + slope * load + bend * bow(load / maximum), m/s with load in kg, maximum: `predicted_max`.

    bow(x) = (1 - x)(x - 0.4) / 0.09 from 0.3 to 1.1, straight on beyond: bend is how much faster than the straight line
    70 % moves. covariance: of (intercept, slope), in their units. spread_m_s: sd of single reps beside their own u.
    """

    intercept: Figure
    slope: Figure
    covariance: tuple[tuple[float, float], tuple[float, float]]
    bend: Figure
    spread_m_s: float


class PointAnswer(Answer):
    """The fastest made rep at one load on one day; set_id and rep null when it came with a file of history."""

    on: date
    load_kg: float
    velocity: Figure
    among: int = Field(description="Of how many made reps it is the fastest.")
    set_id: str | None
    rep: int | None


class StrengthAnswer(Answer):
    """A day's maximum, and the usual maximum about then as it is seen now."""

    on: date
    day_max: Figure
    usual_max: Figure


class TestedMax(Answer):
    """A maximum that was tested."""

    on: date
    load_kg: float


class ProfileAnswer(Answer):
    """The profile at the end of a day. days, loads: how many the line rests on.

    points, strength and maxima go back a year; the line rests on everything. prior: what was expected before the first
    rep, and its source. notes: what the profile lacks. Nulls have their reason when nothing is known of the lift.
    """

    athlete_id: str
    athlete: str
    lift: str
    measure: str
    on: date
    line: LineAnswer | None
    one_rep_velocity: Figure
    predicted_max: Figure
    interval_50: Interval | None
    interval_95: Interval | None
    days: int
    loads: int
    points: list[PointAnswer]
    strength: list[StrengthAnswer]
    maxima: list[TestedMax]
    prior: str
    notes: list[str]
    reason: str | None
    caution: str

    @classmethod
    def of(cls, one: ProfileOnDay) -> ProfileAnswer:
        """From the workflow's answer."""
        profile = one.profile
        none = unknown("kg", NOTHING)
        return cls(
            athlete_id=one.athlete.id,
            athlete=one.athlete.facts.name,
            lift=one.lift,
            measure=one.prior.measure,
            on=one.on,
            line=None if profile is None else _line(profile),
            one_rep_velocity=Figure.of(unknown("m/s", NOTHING) if profile is None else profile.one_rep_velocity),
            predicted_max=Figure.of(none if profile is None else profile.predicted_max),
            interval_50=None if profile is None else _interval(profile.interval_50),
            interval_95=None if profile is None else _interval(profile.interval_95),
            days=0 if profile is None else profile.days,
            loads=0 if profile is None else profile.loads,
            points=[
                PointAnswer(
                    on=x.point.day,
                    load_kg=x.point.load_kg,
                    velocity=Figure(value=x.point.velocity, u=x.point.u, unit="m/s"),
                    among=x.point.among,
                    set_id=x.set_id,
                    rep=x.rep,
                )
                for x in one.points
            ],
            strength=[
                StrengthAnswer(
                    on=date.fromordinal(x.day), day_max=Figure.of(x.day_max.estimate), usual_max=Figure.of(x.usual)
                )
                for x in one.strength
            ],
            maxima=[TestedMax(on=x.day, load_kg=x.load_kg) for x in one.maxima],
            prior=one.prior.source,
            notes=[] if profile is None else list(profile.notes),
            reason=NOTHING if profile is None else None,
            caution=one.caution,
        )


class ZoneAnswer(Answer):
    """A zone; to_m_s null: without end. from_kg, to_kg: its lightest and heaviest load for this athlete, when known."""

    name: str
    code: str
    from_m_s: float
    to_m_s: float | None
    from_kg: float | None
    to_kg: float | None
    source: str

    @classmethod
    def of(cls, zone: VelocityZone) -> ZoneAnswer:
        """From the analysis."""
        return cls(
            name=zone.name,
            code=zone_code(zone.name),
            from_m_s=zone.from_m_s,
            to_m_s=None if math.isinf(zone.to_m_s) else zone.to_m_s,
            from_kg=zone.from_kg,
            to_kg=zone.to_kg,
            source=zone.source,
        )


class ZonesAnswer(Answer):
    """Zones of an athlete and lift: the club's own, else the published ones, else those of the athlete (`own_zones`).

    With `velocity`: zone and own_zone it falls in, percent of the usual maximum and load it stands for; all four are
    null without it.
    """

    athlete_id: str
    athlete: str
    lift: str
    measure: str
    on: date
    zones: list[ZoneAnswer]
    own_zones: list[ZoneAnswer]
    velocity: float | None
    zone: ZoneAnswer | None
    own_zone: ZoneAnswer | None
    percent: Figure | None
    load: Figure | None
    caution: str

    @classmethod
    def of(cls, one: ZonesOnDay) -> ZonesAnswer:
        """From the workflow's answer."""
        asked = one.asked
        return cls(
            athlete_id=one.athlete.id,
            athlete=one.athlete.facts.name,
            lift=one.lift,
            measure=one.measure,
            on=one.on,
            zones=[ZoneAnswer.of(zone) for zone in one.zones],
            own_zones=[ZoneAnswer.of(zone) for zone in one.own],
            velocity=None if asked is None else asked.velocity_m_s,
            zone=None if asked is None or asked.zone is None else ZoneAnswer.of(asked.zone),
            own_zone=None if one.own_zone is None else ZoneAnswer.of(one.own_zone),
            percent=None if asked is None else Figure.of(asked.percent or unknown("%", NOTHING)),
            load=None if asked is None else Figure.of(asked.load or unknown("kg", NOTHING)),
            caution=one.caution,
        )


class LossOfRep(Answer):
    """One made rep and how much slower it was than the fastest of the set."""

    index: int
    velocity: Figure
    loss_percent: float | None


class VelocityLossAnswer(Answer):
    """Loss from the fastest to the last made rep. stop: whether to stop, null without a limit or with one rep.

    chance: that the loss truly is at the limit or past it. limit_from: asked (with `limit`), plan, or null for none.
    """

    set_id: str
    lift: str
    measure: str
    loss: Figure
    limit_percent: float | None
    limit_from: str | None
    stop: bool | None
    chance: float | None
    words: str
    reps: list[LossOfRep]

    @classmethod
    def of(cls, one: LossInSet) -> VelocityLossAnswer:
        """From the workflow's answer."""
        top = max((v.value for _, v in one.reps if v.value is not None), default=None)
        return cls(
            set_id=one.lift_set.id,
            lift=one.lift_set.lift,
            measure=one.measure,
            loss=Figure.of(one.found.loss),
            limit_percent=one.limit_percent,
            limit_from=one.limit_from,
            stop=one.found.stop,
            chance=one.found.chance,
            words=one.found.words,
            reps=[LossOfRep(index=i, velocity=Figure.of(v), loss_percent=_loss(v, top)) for i, v in one.reps],
        )


def _line(profile: LoadVelocityProfile) -> LineAnswer:
    covariance = profile.covariance
    return LineAnswer(
        intercept=Figure(value=profile.intercept, u=math.sqrt(max(covariance[0][0], 0.0)), unit="m/s"),
        slope=Figure(value=profile.slope, u=math.sqrt(max(covariance[1][1], 0.0)), unit="m/s/kg"),
        covariance=covariance,
        bend=Figure.of(profile.bend),
        spread_m_s=profile.spread,
    )


def _interval(pair: tuple[float, float]) -> Interval:
    return Interval(from_kg=pair[0], to_kg=pair[1])


def _loss(velocity: Estimate, top: float | None) -> float | None:
    return None if velocity.value is None or not top else 100.0 * (top - velocity.value) / top
