"""The load-velocity profile of one athlete and lift, its course over the months, and its zones."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.profiles.belief import Belief
from barwright.analysis.profiles.fit import LoadVelocityProfile, profile_of
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.profiles.zones import (
    OWN_PERCENT,
    VelocityZone,
    ZoneAnswer,
    club_zones,
    own_zones,
    published_zones,
    zone_of,
)
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.readiness.loads import CAUTION
from barwright.analysis.readiness.strength import StrengthDay, course_of
from barwright.storage.athletes import Athlete
from barwright.storage.club_settings import ClubSettings, ClubSettingsStore
from barwright.storage.efforts import EffortStore, SetEffort
from barwright.storage.maxima import MaximumStore, ToldMaximum
from barwright.storage.points import DayPoint, PointStore
from barwright.workflows.cannot import Cannot, unknown_lift
from barwright.workflows.days import day_asked
from barwright.workflows.parts import Parts
from barwright.workflows.refresh_profile import beliefs_before, columns_seen
from barwright.workflows.tell_maxima import athlete_of

SHOWN = timedelta(days=366)  # points and days are listed this far back; the line rests on all of them
_INF = float("inf")


@dataclass(frozen=True, slots=True)
class ShownPoint:
    """A point, and the recorded set and rep it comes from (None: from a file of history)."""

    point: DayPoint
    set_id: str | None
    rep: int | None


@dataclass(frozen=True, slots=True)
class ProfileOnDay:
    """A profile as it is at the end of a day; None when nothing is known. points, days, maxima: of the last year."""

    athlete: Athlete
    lift: str
    on: date
    profile: LoadVelocityProfile | None
    prior: LiftPrior
    points: tuple[ShownPoint, ...]
    strength: tuple[StrengthDay, ...]
    maxima: tuple[ToldMaximum, ...]
    caution: str = CAUTION


@dataclass(frozen=True, slots=True)
class ZonesOnDay:
    """zones: the club's own, else the published ones, else the athlete's; own: the athlete's through the profile.

    asked: what a velocity is among `zones`; own_zone: among `own`.
    """

    athlete: Athlete
    lift: str
    measure: str
    on: date
    zones: tuple[VelocityZone, ...]
    own: tuple[VelocityZone, ...]
    asked: ZoneAnswer | None
    own_zone: VelocityZone | None
    caution: str = CAUTION


def read_profile(parts: Parts, caller: Caller, athlete_id: str, lift: str, on: date | None) -> ProfileOnDay:
    """A profile with what it rests on. Raises Cannot."""
    with parts.database.reading() as session:
        athlete, day, belief = _asked(parts, session, caller, athlete_id, lift, on)
        first, place = day - SHOWN, (athlete_id, lift)
        store = PointStore(session, caller.club_id)
        past, points = store.past([place], day)[place], store.of([place], day, first)[place]
        maxima = MaximumStore(session, caller.club_id).of([athlete_id], day).get(place, [])
        efforts = EffortStore(session, caller.club_id).of_athlete(athlete_id, lift, first)
    seen = columns_seen(past, maxima)
    profile = None if belief is None else profile_of(belief, seen.load_kg.tolist(), prior_for(lift))
    strength = () if belief is None else course_of(lift, seen, first.toordinal()).days
    origins = _origins(efforts)
    shown = tuple(
        ShownPoint(one, *origins.get((one.day, one.load_kg), (None, None)))
        for one in points
        if one.velocity is not None
    )
    tested = tuple(one for one in maxima if one.day >= first)
    return ProfileOnDay(athlete, lift, day, profile, prior_for(lift), shown, strength, tested)


def read_zones(
    parts: Parts, caller: Caller, athlete_id: str, lift: str, on: date | None, velocity: float | None
) -> ZonesOnDay:
    """Velocity zones of an athlete and lift, and what one velocity is in them. Raises Cannot."""
    with parts.database.reading() as session:
        athlete, day, belief = _asked(parts, session, caller, athlete_id, lift, on)
        settings = ClubSettingsStore(session, caller.club_id).get()
    profile = None if belief is None else profile_of(belief, (), prior_for(lift))
    zones = zones_of(settings, lift, profile)
    own = () if profile is None else own_zones(profile)
    asked = None if velocity is None else zone_of(velocity, zones, profile)
    own_zone = None if velocity is None else zone_of(velocity, own, profile).zone
    return ZonesOnDay(athlete, lift, LIFTS[lift].key_velocity, day, zones, own, asked, own_zone)


def zones_of(settings: ClubSettings, lift: str, profile: LoadVelocityProfile | None) -> tuple[VelocityZone, ...]:
    """The club's own zones where it told some for this kind of lift, else the published ones, else the athlete's."""
    measure = LIFTS[lift].key_velocity
    told = [one for one in settings.zones or () if one.measure == measure]
    if told:
        ranges = [(one.name, one.from_m_s, _INF if one.to_m_s is None else one.to_m_s) for one in told]
        return club_zones(ranges, profile)
    published = published_zones(lift, profile)
    if published or profile is None:
        return published
    return own_zones(profile)


def zone_code(name: str) -> str:
    """A zone's name as a code: lower case, words joined by _."""
    return re.sub(r"[^a-z0-9%]+", "_", name.lower()).strip("_")


def find_zone(settings: ClubSettings, lift: str, profile: LoadVelocityProfile | None, name: str) -> VelocityZone | None:
    """The zone of that name or code; one of the athlete's own too, which need a profile."""
    own = () if profile is None else own_zones(profile)
    wanted = zone_code(name)
    return next((one for one in (*zones_of(settings, lift, profile), *own) if zone_code(one.name) == wanted), None)


def check_zone(settings: ClubSettings, lift: str, name: str, pointer: str) -> None:
    """Raises Cannot when no zone of a lift has that name."""
    names = [one.name for one in zones_of(settings, lift, None)] + [own for own, _, _ in OWN_PERCENT]
    if zone_code(name) not in map(zone_code, names):
        raise Cannot(
            "unknown-zone", f"{name[:60]!r} is not a zone of this lift; the choices are {', '.join(names)}.", pointer
        )


def _asked(
    parts: Parts, session: Session, caller: Caller, athlete_id: str, lift: str, on: date | None
) -> tuple[Athlete, date, Belief | None]:
    """The athlete, the day, and what is believed at its end."""
    if lift not in LIFTS:
        raise unknown_lift(lift, "lift")
    athlete = athlete_of(session, caller, athlete_id)
    day = day_asked(parts, ClubSettingsStore(session, caller.club_id).get(), on, "on")
    beliefs, _ = beliefs_before(session, caller.club_id, [athlete_id], day + timedelta(days=1), {athlete_id: (lift,)})
    return athlete, day, beliefs.get((athlete_id, lift))


def _origins(efforts: list[SetEffort]) -> dict[tuple[date, float], tuple[str | None, int | None]]:
    fastest: dict[tuple[date, float], SetEffort] = {}
    for one in efforts:
        if one.velocity is None:
            continue
        known = fastest.get((one.day, one.load_kg))
        if known is None or one.velocity > (known.velocity or 0.0):
            fastest[one.day, one.load_kg] = one
    return {place: (one.set_id, one.rep) for place, one in fastest.items()}
