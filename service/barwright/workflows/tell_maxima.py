"""Maxima that were tested: tell, list, take back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.quantities.lifts import LIFTS
from barwright.storage.athletes import Athlete, AthleteStore
from barwright.storage.audit import note_deed
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.maxima import Maximum, MaximumStore, ToldMaximum
from barwright.workflows.cannot import Cannot, not_found, unknown_lift
from barwright.workflows.days import day_asked
from barwright.workflows.loads_told import load_in_kg
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts
from barwright.workflows.refresh_profile import refresh_profile


def athlete_of(session: Session, caller: Caller, athlete_id: str) -> Athlete:
    """The caller's athlete. Raises Cannot when the club has none with this id."""
    found = AthleteStore(session, caller.club_id).get(athlete_id)
    if found is None:
        raise not_found("athlete", athlete_id)
    return found


def tell_maximum(
    parts: Parts,
    caller: Caller,
    athlete_id: str,
    told: tuple[str, float, str | None, date | None, str | None],
    retry: Retry | None,
    answer: Callable[[Maximum], bytes],
) -> bytes:
    """Keeps a tested maximum; told: lift, load, unit (UCUM, None: kg), day (None: today), note. Raises Cannot."""
    lift, load, unit, on, note = told
    if lift not in LIFTS:
        raise unknown_lift(lift)
    load_kg = load_in_kg(load, unit)

    def keep(session: Session) -> Maximum:
        athlete_of(session, caller, athlete_id)
        day = day_asked(parts, ClubSettingsStore(session, caller.club_id).get(), on, "/on")
        store = MaximumStore(session, caller.club_id)
        if any((one.told.day, one.told.load_kg) == (day, load_kg) for one in store.of_athlete(athlete_id, lift)):
            raise Cannot("already-there", f"A {lift} of {load_kg:g} kg on {day} was told before.", "/load_kg")
        kept = store.add(athlete_id, [ToldMaximum(lift, day, load_kg, note)], "told", parts.now())[0]
        told = {"maximum_id": kept.id, "lift": lift, "on": day.isoformat(), "load_kg": load_kg}
        note_deed(session, caller, "maximum.told", athlete_id, parts.now(), told)
        return kept

    body = create_once(parts, caller, retry, keep, answer)
    refresh_profile(parts, caller.club_id, [athlete_id])
    return body


def list_maxima(parts: Parts, caller: Caller, athlete_id: str, lift: str | None) -> list[Maximum]:
    """Tested maxima of an athlete, the oldest first."""
    if lift is not None and lift not in LIFTS:
        raise unknown_lift(lift, "lift")
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        return MaximumStore(session, caller.club_id).of_athlete(athlete_id, lift)


def take_back_maximum(parts: Parts, caller: Caller, athlete_id: str, maximum_id: str) -> None:
    """It is as if it had never been told."""
    with parts.database.writing(caller.club_id) as session:
        athlete_of(session, caller, athlete_id)
        if not MaximumStore(session, caller.club_id).delete(athlete_id, maximum_id):
            raise not_found("maximum", maximum_id)
        note_deed(session, caller, "maximum.taken_back", athlete_id, parts.now(), {"maximum_id": maximum_id})
    refresh_profile(parts, caller.club_id, [athlete_id])
