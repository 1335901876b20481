"""The technique block of an athlete's page, gathered."""

from __future__ import annotations

from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.technique.limits import limits_for
from barwright.analysis.technique.response import sessions_of
from barwright.coach.numbers import Display
from barwright.coach.views.technique import SessionsAround, TechniqueView, newest_with_sessions, technique_view
from barwright.workflows.parts import Parts
from barwright.workflows.review_technique import Technique, review_technique
from barwright.workflows.sign_in import SignedIn
from barwright.workflows.technique_data import gather


def technique_of(parts: Parts, coach: SignedIn, athlete_id: str, lift: str, display: Display) -> TechniqueView | None:
    """None for lifts whose technique is not judged."""
    if lift not in LIFTS or not limits_for(LIFTS[lift]):
        return None
    found = review_technique(parts, coach.caller, athlete_id, lift)
    return technique_view(found, _around(parts, coach, found), display)


def _around(parts: Parts, coach: SignedIn, found: Technique) -> SessionsAround | None:
    newest = newest_with_sessions(found.earlier)
    if newest is None:
        return None
    told = newest.prescription.told
    limit = next((one for one in limits_for(LIFTS[found.lift]) if one.code == told.fault), None)
    load = told.against_kg or found.load_kg
    if limit is None or load is None:
        return None
    data = gather(parts, coach.caller, found.athlete_id, found.lift)
    return SessionsAround(newest, tuple(sessions_of(data.reps, limit, load)), limit.unit)
