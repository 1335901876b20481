"""The week's plan of one athlete: a grid, a form for each day, and copies."""

from __future__ import annotations

from datetime import date, timedelta

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.analysis.profiles.zones import CONTINUUM, OWN_PERCENT
from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, go_to
from barwright.coach.forms import Fields, as_number
from barwright.coach.frame import display_of_settings, page
from barwright.coach.views.plan import day_form, monday_of, plan_view
from barwright.storage.club_settings import ClubSettings
from barwright.storage.plans import PlannedSet
from barwright.workflows.athletes_and_devices import list_athletes
from barwright.workflows.cannot import Cannot
from barwright.workflows.change_club import read_club
from barwright.workflows.club_loads import week_ahead
from barwright.workflows.days import today_of
from barwright.workflows.parts import Parts
from barwright.workflows.plan_loads import make_plan
from barwright.workflows.sign_in import SignedIn

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/plan")
def plan_page(request: Request, parts: PartsOf, coach: CoachOf, athlete: str = "", week: str = "") -> Response:
    """One athlete's week; the first athlete and this week where none is told."""
    athletes = [(one.id, one.facts.name) for one in list_athletes(parts, coach.caller, None, 2000)]
    if not athletes and not athlete:
        return page(request, coach, "plan_empty.html", "plan", None)
    today = today_of(parts, read_club(parts, coach.caller).settings)
    monday = monday_of(_day(week) if week else today)
    found = week_ahead(parts, coach.caller, athlete or athletes[0][0], monday)
    view = plan_view(found, monday, athletes, display_of_settings(coach, found.settings))
    return page(request, coach, "plan.html", "plan", view)


@router.get("/plan/{athlete_id}/{day}")
def day_page(request: Request, parts: PartsOf, coach: CoachOf, athlete_id: str, day: str) -> Response:
    """The form of one day."""
    on = _day(day)
    found = week_ahead(parts, coach.caller, athlete_id, monday_of(on))
    plan = found.days[on.weekday()].today.plan
    sets, note = (plan.sets, plan.note) if plan is not None else ((), None)
    view = day_form(athlete_id, found.athlete.facts.name, on, sets, note, _zone_names(found.settings))
    return page(request, coach, "plan_day.html", "plan", view)


@router.post("/plan/{athlete_id}/copy")
def copy_last_week(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """The week before, day by day, in the place of this one."""
    monday = monday_of(fields.day("week"))
    before = week_ahead(parts, coach.caller, athlete_id, monday - timedelta(days=7))
    planned = [(one.today.on + timedelta(days=7), one.today.plan) for one in before.days if one.today.plan is not None]
    if not any(plan.sets for _, plan in planned):
        raise Cannot("request-invalid", "Nothing was planned for the week before, so there is nothing to copy.")
    for day, plan in planned:
        _keep(parts, coach, athlete_id, day, plan.sets, plan.note)
    return go_to(f"/plan?athlete={athlete_id}&week={monday.isoformat()}")


@router.post("/plan/{athlete_id}/give")
def give_week(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """This week for others too; kilograms come from each one's own maximum."""
    monday = monday_of(fields.day("week"))
    others = fields.all("to")
    if not others:
        raise Cannot("request-invalid", "Choose at least one athlete to give the week to.", "/to")
    week = week_ahead(parts, coach.caller, athlete_id, monday)
    for other in others:
        for one in week.days:
            if one.today.plan is not None:
                _keep(parts, coach, other, one.today.on, one.today.plan.sets, one.today.plan.note)
    return go_to(f"/plan?athlete={others[0]}&week={monday.isoformat()}")


@router.post("/plan/{athlete_id}/{day}")
def keep_day(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str, day: str) -> Response:
    """Keeps the day; lines without a target are left out."""
    on = _day(day)
    _keep(parts, coach, athlete_id, on, _sets(fields), fields.text("note", 300) or None)
    return go_to(f"/plan?athlete={athlete_id}&week={monday_of(on).isoformat()}")


def _keep(
    parts: Parts, coach: SignedIn, athlete_id: str, day: date, sets: tuple[PlannedSet, ...], note: str | None
) -> None:
    make_plan(parts, coach.caller, athlete_id, (day, sets, note), None, lambda _: b"")


def _zone_names(settings: ClubSettings) -> list[str]:
    """The club's own, an athlete's own, and the published ones, each once."""
    told = [one.name for one in settings.zones or ()] + [name for name, _, _ in (*OWN_PERCENT, *CONTINUUM)]
    return list(dict.fromkeys(told))


def _sets(fields: Fields) -> tuple[PlannedSet, ...]:
    columns = [fields.all(name) for name in ("lift", "kind", "value", "reps", "sets", "loss")]
    if len({len(column) for column in columns}) != 1:
        raise Cannot("request-invalid", "A line of the form is not whole; load the page again.")
    return tuple(_set(number, *line) for number, line in enumerate(zip(*columns, strict=True), 1) if line[2])


def _set(number: int, lift: str, kind: str, value: str, reps: str, sets: str, loss: str) -> PlannedSet:
    counts = [_within(number, what, text or "1", 1, 50) for what, text in (("reps", reps), ("sets", sets))]
    limit = _within(number, "stop at", loss, 1, 90) if loss else None
    percent = _within(number, "the target", value, 1, 130) if kind == "percent" else None
    velocity = _within(number, "the target", value, 0.05, 4) if kind == "velocity" else None
    zone = value if kind == "zone" else None
    return PlannedSet(lift, percent, velocity, zone, int(counts[0]), int(counts[1]), limit)


def _within(number: int, what: str, text: str, low: float, high: float) -> float:
    value = as_number(text)
    if value is None or not low <= value <= high:
        raise Cannot(
            "request-invalid", f"Line {number}: {what} is {text!r}; a number from {low:g} to {high:g} is right."
        )
    return value


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Cannot("request-invalid", f"{text!r} is no day; write it as 2026-03-01.") from error
