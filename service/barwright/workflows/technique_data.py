"""What technique works with, gathered for one athlete: reps seen, facts that cap loads, the club's drills."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS, Lift
from barwright.analysis.readiness.today import Verdict
from barwright.analysis.technique.catalogue import Catalogue, published, with_club
from barwright.analysis.technique.drills import Lifter
from barwright.analysis.technique.seen import SeenRep
from barwright.storage.athletes import Athlete
from barwright.storage.club_settings import ClubSettings, ClubSettingsStore
from barwright.storage.prescriptions import ClubDrillStore, Prescription, PrescriptionStore
from barwright.storage.sets import SetFilter, SetStore, StoredSet
from barwright.workflows.cannot import unknown_lift
from barwright.workflows.check_readiness import check_readiness, verdict_of
from barwright.workflows.days import today_of
from barwright.workflows.parts import Parts
from barwright.workflows.plan_loads import youngest_age
from barwright.workflows.tell_maxima import athlete_of

MOST_SETS = 400
MADE_U = 0.03  # of a made load that stands in for a maximum: it may well be more (common practice, no source)
MAXIMA = {"snatch": ("snatch",), "clean": ("clean", "clean_and_jerk"), "jerk": ("jerk", "clean_and_jerk")}


@dataclass(frozen=True, slots=True)
class TechniqueData:
    """reps: of one lift, any order. prescriptions: for it, the oldest first. today: in the club's time zone."""

    athlete: Athlete
    lift: Lift
    sets: tuple[StoredSet, ...]
    reps: tuple[SeenRep, ...]
    prescriptions: tuple[Prescription, ...]
    catalogue: Catalogue
    settings: ClubSettings
    today: date


def gather(parts: Parts, caller: Caller, athlete_id: str, lift: str) -> TechniqueData:
    """Everything of one lift of one athlete. Raises Cannot."""
    if lift not in LIFTS:
        raise unknown_lift(lift, "lift")
    with parts.database.reading() as session:
        athlete = athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        sets = SetStore(session, caller.club_id).page(SetFilter(athlete_id, lift), None, MOST_SETS)
        given = PrescriptionStore(session, caller.club_id).of_athlete(athlete_id, lift)
        catalogue = club_catalogue(session, caller)
    reps = tuple(rep for one in sets for rep in seen_reps(one))
    return TechniqueData(
        athlete, LIFTS[lift], tuple(sets), reps, tuple(given), catalogue, settings, today_of(parts, settings)
    )


def club_catalogue(session: Session, caller: Caller) -> Catalogue:
    """The published drills with the club's own."""
    return with_club(published(), ClubDrillStore(session, caller.club_id).all())


def seen_reps(one: StoredSet) -> list[SeenRep]:
    """The reps of a set that was analysed, those left out that are not to count."""
    if one.state != "analysed" or one.quality is None:
        return []
    known = one.quality.forward_known
    return [
        SeenRep(
            one.id,
            rep.index,
            one.started_at,
            one.load_kg,
            rep.outcome,
            {**rep.measures, **rep.path_measures},
            known,
        )
        for rep in one.reps
        if not rep.excluded
    ]


def lifter_of(parts: Parts, caller: Caller, data: TechniqueData, of: set[str]) -> Lifter:
    """What caps the loads of drills: level, age, the day's form, and the maximum of each lift in `of` today."""
    facts, maxima, low = data.athlete.facts, {}, False
    sources = set()
    for lift in sorted(of):
        found, source, down = _maximum(parts, caller, data.athlete.id, lift)
        low = low or down
        if found is not None:
            maxima[lift] = found
            sources.add(source)
    return Lifter(
        None if facts.level is None else facts.level.strip().lower(),
        youngest_age(data.athlete, data.today),
        low,
        maxima,
        " and ".join(sorted(sources)),
    )


def _maximum(parts: Parts, caller: Caller, athlete_id: str, lift: str) -> tuple[Estimate | None, str, bool]:
    """Today's maximum of a lift, where it comes from, and whether the day is a low one."""
    for code in MAXIMA.get(lift, (lift,)):
        (today,) = check_readiness(parts, caller, athlete_id, None, code).lifts
        if today.readiness is not None:
            estimate = today.readiness.day_max.estimate
            title = LIFTS[code].title.lower()
            return estimate, f"today's maximum of the {title}", verdict_of(today) is Verdict.DOWN
    for code in MAXIMA.get(lift, (lift,)):
        heaviest = _heaviest_made(parts, caller, athlete_id, code)
        if heaviest is not None:
            return Estimate(heaviest, MADE_U * heaviest, "kg"), "the heaviest load that was made", False
    return None, "", False


def _heaviest_made(parts: Parts, caller: Caller, athlete_id: str, lift: str) -> float | None:
    with parts.database.reading() as session:
        sets = SetStore(session, caller.club_id).page(SetFilter(athlete_id, lift), None, MOST_SETS)
    made = [one.load_kg for one in sets for rep in one.reps if rep.outcome == "made" and not rep.excluded]
    return max(made, default=None)


def first_moment(day: date) -> datetime:
    """The first moment of a day in UTC."""
    return datetime.combine(day, time(), UTC)
