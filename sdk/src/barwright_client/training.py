"""What profiles, readiness, plans and loads answer, as frozen dataclasses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from barwright_client.figures import Figure, figure

Json = dict[str, Any]
Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Point:
    """The fastest made rep at one load on one day; set_id and rep None when it came with a file of history."""

    on: date
    load_kg: float
    velocity: Figure
    set_id: str | None = None
    rep: int | None = None

    @classmethod
    def read(cls, document: Json) -> Point:
        """From the service's JSON."""
        velocity = figure(document["velocity"])
        return cls(_day(document["on"]), document["load_kg"], velocity, document.get("set_id"), document.get("rep"))


@dataclass(frozen=True, slots=True)
class StrengthDay:
    """A day's maximum, and the usual maximum about then as it is seen now."""

    on: date
    day_max: Figure
    usual_max: Figure

    @classmethod
    def read(cls, document: Json) -> StrengthDay:
        """From the service's JSON."""
        return cls(_day(document["on"]), figure(document["day_max"]), figure(document["usual_max"]))


@dataclass(frozen=True, slots=True)
class Profile:
    """velocity = intercept + slope * load_kg + bend * bow of one athlete and lift; covariance (2, 2): of the first two.

    bend: how much faster 70 % of the maximum moves than the straight line, m/s. All four are None when nothing is known
    of the lift: then `reason` says so. interval_50, interval_95: of predicted_max, kg. days, loads: how many the line
    rests on. notes: what it lacks, in words. points and strength go back a year.
    """

    lift: str
    measure: str
    on: date
    intercept: Figure | None
    slope: Figure | None
    covariance: tuple[tuple[float, ...], ...] | None
    bend: Figure | None
    one_rep_velocity: Figure
    predicted_max: Figure
    interval_50: Interval | None
    interval_95: Interval | None
    days: int
    loads: int
    points: tuple[Point, ...]
    strength: tuple[StrengthDay, ...]
    prior: str
    notes: tuple[str, ...]
    reason: str | None
    caution: str

    @classmethod
    def read(cls, document: Json) -> Profile:
        """From the service's JSON."""
        line = document["line"]
        return cls(
            lift=document["lift"],
            measure=document["measure"],
            on=_day(document["on"]),
            intercept=figure(line["intercept"]) if line else None,
            slope=figure(line["slope"]) if line else None,
            covariance=tuple(tuple(row) for row in line["covariance"]) if line else None,
            bend=figure(line["bend"]) if line else None,
            one_rep_velocity=figure(document["one_rep_velocity"]),
            predicted_max=figure(document["predicted_max"]),
            interval_50=_interval(document.get("interval_50")),
            interval_95=_interval(document.get("interval_95")),
            days=document["days"],
            loads=document["loads"],
            points=tuple(Point.read(one) for one in document["points"]),
            strength=tuple(StrengthDay.read(one) for one in document.get("strength") or ()),
            prior=document.get("prior") or "",
            notes=tuple(document.get("notes") or ()),
            reason=document.get("reason"),
            caution=document["caution"],
        )


@dataclass(frozen=True, slots=True)
class Zone:
    """A velocity zone; to_m_s None: without end. from_kg, to_kg: its lightest and heaviest load, when known."""

    name: str
    code: str
    from_m_s: float
    to_m_s: float | None
    from_kg: float | None
    to_kg: float | None
    source: str

    @classmethod
    def read(cls, document: Json) -> Zone:
        """From the service's JSON."""
        return cls(**{name: document[name] for name in cls.__dataclass_fields__})


@dataclass(frozen=True, slots=True)
class Zones:
    """Zones of an athlete and lift; zone, percent and load of the velocity that was asked for, else None."""

    lift: str
    zones: tuple[Zone, ...]
    own_zones: tuple[Zone, ...]
    velocity: float | None
    zone: Zone | None
    own_zone: Zone | None
    percent: Figure | None
    load: Figure | None
    caution: str

    @classmethod
    def read(cls, document: Json) -> Zones:
        """From the service's JSON."""
        zone, own = document.get("zone"), document.get("own_zone")
        percent, load = document.get("percent"), document.get("load")
        return cls(
            lift=document["lift"],
            zones=tuple(Zone.read(one) for one in document["zones"]),
            own_zones=tuple(Zone.read(one) for one in document["own_zones"]),
            velocity=document.get("velocity"),
            zone=Zone.read(zone) if zone else None,
            own_zone=Zone.read(own) if own else None,
            percent=figure(percent) if percent else None,
            load=figure(load) if load else None,
            caution=document["caution"],
        )


@dataclass(frozen=True, slots=True)
class LiftReadiness:
    """One lift on a day. verdict: up, usual, down or not_enough_data; change: % of the usual maximum.

    probability: that the change is larger than the smallest one that matters; None without a verdict.
    """

    lift: str
    verdict: str
    day_max: Figure
    usual_max: Figure
    change: Figure
    probability: float | None
    warm_up_sets: int
    reasons: tuple[str, ...]
    interval_95: Interval | None = None

    @classmethod
    def read(cls, document: Json) -> LiftReadiness:
        """From the service's JSON."""
        return cls(
            lift=document["lift"],
            verdict=document["verdict"],
            day_max=figure(document["day_max"]),
            usual_max=figure(document["usual_max"]),
            change=figure(document["change"]),
            probability=document.get("probability"),
            warm_up_sets=document["warm_up_sets"],
            reasons=tuple(document["reasons"]),
            interval_95=_interval(document.get("interval_95")),
        )


@dataclass(frozen=True, slots=True)
class Readiness:
    """One athlete on a day; the figures are those of `lift`, the lift the verdict comes from. lifts: each by itself."""

    athlete_id: str
    athlete: str
    on: date
    verdict: str
    lift: str | None
    day_max: Figure
    usual_max: Figure
    change: Figure
    probability: float | None
    reasons: tuple[str, ...]
    lifts: tuple[LiftReadiness, ...]
    caution: str
    plan_id: str | None = None

    @classmethod
    def read(cls, document: Json) -> Readiness:
        """From the service's JSON."""
        return cls(
            athlete_id=document["athlete_id"],
            athlete=document["athlete"],
            on=_day(document["on"]),
            verdict=document["verdict"],
            lift=document.get("lift"),
            day_max=figure(document["day_max"]),
            usual_max=figure(document["usual_max"]),
            change=figure(document["change"]),
            probability=document.get("probability"),
            reasons=tuple(document["reasons"]),
            lifts=tuple(LiftReadiness.read(one) for one in document["lifts"]),
            caution=document["caution"],
            plan_id=document.get("plan_id"),
        )


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan for a day; sets as they were told."""

    id: str
    athlete_id: str
    on: date
    sets: tuple[Json, ...]
    note: str | None = None

    @classmethod
    def read(cls, document: Json) -> Plan:
        """From the service's JSON."""
        return cls(
            document["id"], document["athlete_id"], _day(document["on"]), tuple(document["sets"]), document.get("note")
        )


@dataclass(frozen=True, slots=True)
class Load:
    """A line of the plan in kilograms. load_kg None: `reasons` say why. each_side: (kg, count) on each side of bar_kg.

    suggested_kg: without the coach's decision. limited: a cap or a limit changed it.
    """

    set: int
    lift: str
    reps: int
    sets: int
    load: Figure
    load_kg: float | None
    suggested_kg: float | None
    wanted: Figure
    expected_velocity: Figure
    bar_kg: float
    each_side: tuple[tuple[float, int], ...]
    limited: bool
    reasons: tuple[str, ...]

    @classmethod
    def read(cls, document: Json) -> Load:
        """From the service's JSON."""
        plain = ("set", "lift", "reps", "sets", "load_kg", "suggested_kg", "bar_kg", "limited")
        return cls(
            **{name: document[name] for name in plain},
            load=figure(document["load"]),
            wanted=figure(document["wanted"]),
            expected_velocity=figure(document["expected_velocity"]),
            each_side=tuple((one["kg"], one["count"]) for one in document["each_side"]),
            reasons=tuple(document["reasons"]),
        )


@dataclass(frozen=True, slots=True)
class Loads:
    """Kilograms for the plan that counts on a day; plan_id None and no sets when there is none; see `caution`."""

    athlete_id: str
    athlete: str
    on: date
    plan_id: str | None
    sets: tuple[Load, ...]
    caution: str

    @classmethod
    def read(cls, document: Json) -> Loads:
        """From the service's JSON."""
        return cls(
            document["athlete_id"],
            document["athlete"],
            _day(document["on"]),
            document.get("plan_id"),
            tuple(Load.read(one) for one in document["sets"]),
            document["caution"],
        )


@dataclass(frozen=True, slots=True)
class Maximum:
    """A maximum that was tested."""

    id: str
    athlete_id: str
    lift: str
    load_kg: float
    on: date
    note: str | None = None

    @classmethod
    def read(cls, document: Json) -> Maximum:
        """From the service's JSON."""
        plain = {name: document[name] for name in ("id", "athlete_id", "lift", "load_kg")}
        return cls(**plain, on=_day(document["on"]), note=document.get("note"))


@dataclass(frozen=True, slots=True)
class Imported:
    """What was kept of a file of history. known: rows left out because they were there already."""

    sets: int
    maxima: int
    known: int
    lifts: tuple[str, ...]

    @classmethod
    def read(cls, document: Json) -> Imported:
        """From the service's JSON."""
        return cls(document["sets"], document["maxima"], document["known"], tuple(document["lifts"]))


@dataclass(frozen=True, slots=True)
class VelocityLoss:
    """Loss from the fastest to the last made rep of a set, %. stop: None without a limit or with one rep."""

    set_id: str
    loss: Figure
    limit_percent: float | None
    stop: bool | None
    chance: float | None
    words: str

    @classmethod
    def read(cls, document: Json) -> VelocityLoss:
        """From the service's JSON."""
        plain = {name: document.get(name) for name in ("limit_percent", "stop", "chance")}
        return cls(set_id=document["set_id"], loss=figure(document["loss"]), words=document["words"], **plain)


def _day(text: str) -> date:
    return date.fromisoformat(text)


def _interval(document: Json | None) -> Interval | None:
    return (document["from_kg"], document["to_kg"]) if document else None
