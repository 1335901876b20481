"""Today: who is expected, how they are, what goes on the bar."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, go_to
from barwright.coach.frame import display_of_settings, page
from barwright.coach.planned import load_today
from barwright.coach.views.today import PlannedRow, planned_row, today_view
from barwright.storage.plans import ToldDecision
from barwright.workflows.cannot import not_found
from barwright.workflows.change_club import equipment_of
from barwright.workflows.club_loads import loads_of_club
from barwright.workflows.parts import Parts
from barwright.workflows.plan_loads import LoadOfSet, LoadsOfDay, decide, loads_of_day
from barwright.workflows.sign_in import SignedIn

router = APIRouter(route_class=PageRoute, include_in_schema=False)
REASONS = ("Looked slow", "Looked fast", "Technique first", "Pain or stiffness", "Short of time", "Other")


@dataclass(frozen=True, slots=True)
class ChangeView:
    """The form for one load. number: the load as it stands, in the coach's unit."""

    athlete_id: str
    name: str
    set: PlannedRow
    number: str
    unit: str
    reasons: tuple[str, ...]


@router.get("/")
def today_page(request: Request, parts: PartsOf, coach: CoachOf) -> Response:
    """Everybody who is expected today."""
    club = loads_of_club(parts, coach.caller, None)
    display = display_of_settings(coach, club.settings)
    loads = {
        one.athlete.id: tuple(
            load_today(each, equipment_of(club.settings, one.athlete.facts.sex)) for each in club.loads[one.athlete.id]
        )
        for one in club.today.items
    }
    view = today_view(club.today, loads, club.waiting, display)
    return page(request, coach, "today.html", "today", view)


@router.get("/today/{athlete_id}/sets/{number}")
def change_page(request: Request, parts: PartsOf, coach: CoachOf, athlete_id: str, number: int) -> Response:
    """The form to change one load."""
    return page(request, coach, "change_load.html", "today", _change_view(parts, coach, athlete_id, number))


@router.post("/today/{athlete_id}/sets/{number}")
def change_load(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str, number: int) -> Response:
    """Keeps the coach's own load and the reason."""
    day = loads_of_day(parts, coach.caller, athlete_id, None)
    display = display_of_settings(coach, day.settings)
    told = fields.number("load", "The load", 1, 1400)
    chosen, words = fields.text("reason", 60), fields.text("words", 200)
    reason = words if chosen in ("", "Other") and words else f"{chosen}: {words}" if words else chosen or "Other"
    load_kg = display.to_kg(told)
    lift = _set_of(day, number).planned.lift
    decision = ToldDecision("load", day.today.on, lift, reason, set_number=number, load_kg=load_kg)
    decide(parts, coach.caller, athlete_id, decision, day.today.on, None, None, lambda _: b"")
    return go_to(f"/#a-{athlete_id}")


def _change_view(parts: Parts, coach: SignedIn, athlete_id: str, number: int) -> ChangeView:
    day = loads_of_day(parts, coach.caller, athlete_id, None)
    display = display_of_settings(coach, day.settings)
    load = load_today(_set_of(day, number), equipment_of(day.settings, day.today.athlete.facts.sex))
    return ChangeView(
        athlete_id=athlete_id,
        name=day.today.athlete.facts.name,
        set=planned_row(athlete_id, load, display),
        number="" if load.load_kg is None else display.weight_number(load.load_kg),
        unit=display.unit,
        reasons=REASONS,
    )


def _set_of(day: LoadsOfDay, number: int) -> LoadOfSet:
    found = next((one for one in day.sets if one.number == number), None)
    if found is None:
        raise not_found("planned set", str(number))
    return found
