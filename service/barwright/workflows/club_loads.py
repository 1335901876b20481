"""Loads for everybody who is to lift on a day, and for one athlete's week to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.storage.athletes import Athlete
from barwright.storage.club_decisions import decisions_of_club
from barwright.storage.club_settings import ClubSettings, ClubSettingsStore
from barwright.storage.plans import Decision
from barwright.storage.waiting import waiting_by_athlete
from barwright.workflows.check_readiness import AthleteToday, ClubToday, club_on, days_of
from barwright.workflows.days import day_asked, today_of
from barwright.workflows.parts import Parts
from barwright.workflows.plan_loads import LoadOfSet, loads_for
from barwright.workflows.refresh_profile import refresh_profile
from barwright.workflows.tell_maxima import athlete_of


@dataclass(frozen=True, slots=True)
class ClubLoads:
    """The club's day; by athlete id the loads of the plan, and how many remote sets wait to be looked at."""

    today: ClubToday
    settings: ClubSettings
    loads: dict[str, tuple[LoadOfSet, ...]]
    waiting: dict[str, int]


@dataclass(frozen=True, slots=True)
class DayAhead:
    """One day of a week with the loads of its plan, as far as they can be told now."""

    today: AthleteToday
    loads: tuple[LoadOfSet, ...]


@dataclass(frozen=True, slots=True)
class WeekAhead:
    """Seven days from a Monday; now: today in the club's time zone."""

    athlete: Athlete
    now: date
    days: tuple[DayAhead, ...]
    settings: ClubSettings


def loads_of_club(parts: Parts, caller: Caller, on: date | None) -> ClubLoads:
    """The whole club on a day until today; the number of queries does not depend on how many athletes there are."""
    with parts.database.reading() as session:
        settings = ClubSettingsStore(session, caller.club_id).get()
        day = day_asked(parts, settings, on, "on")
        today, missing = club_on(parts, session, caller.club_id, settings, day)
        decisions = decisions_of_club(session, caller.club_id, day)
        waiting = waiting_by_athlete(session, caller.club_id)
    if missing:
        refresh_profile(parts, caller.club_id, missing, day)
    loads = {one.athlete.id: _loads(one, settings, decisions.get(one.athlete.id, [])) for one in today.items}
    return ClubLoads(today, settings, loads, waiting)


def week_ahead(parts: Parts, caller: Caller, athlete_id: str, monday: date) -> WeekAhead:
    """One athlete's week; days to come are told from the usual maximum as it is expected then. Raises Cannot."""
    with parts.database.reading() as session:
        athlete = athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        days = [_day_ahead(session, caller, settings, athlete, monday + timedelta(days=n)) for n in range(7)]
    return WeekAhead(athlete, today_of(parts, settings), tuple(days), settings)


def _day_ahead(session: Session, caller: Caller, settings: ClubSettings, athlete: Athlete, day: date) -> DayAhead:
    (found,), _ = days_of(session, caller.club_id, settings, [athlete], day)
    decisions = decisions_of_club(session, caller.club_id, day).get(athlete.id, [])
    return DayAhead(found, _loads(found, settings, decisions))


def _loads(one: AthleteToday, settings: ClubSettings, decisions: Sequence[Decision]) -> tuple[LoadOfSet, ...]:
    caps = {each.told.lift: each for each in decisions if each.told.kind == "lift_cap"}
    return loads_for(one, settings, list(decisions), caps)
