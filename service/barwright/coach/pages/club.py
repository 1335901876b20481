"""The club: people, keys, one's own sign-in."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, go_to, keep_signed_in
from barwright.coach.forms import Fields, as_number
from barwright.coach.frame import display_of_settings, page
from barwright.coach.views.club import KINDS, club_view
from barwright.storage.club_settings import Bar, Plates
from barwright.storage.keys import NewKeyFacts
from barwright.workflows.cannot import Cannot
from barwright.workflows.change_club import change_club, read_club
from barwright.workflows.manage_keys import end_key, issue_own_key, list_keys
from barwright.workflows.parts import Parts
from barwright.workflows.sign_in import (
    SignedIn,
    choose_passphrase,
    choose_weight_unit,
    invite_coach,
    list_coaches,
    remove_coach,
)

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/club")
def club_page(request: Request, parts: PartsOf, coach: CoachOf) -> Response:
    """The page."""
    return _club(request, parts, coach)


@router.post("/club/equipment")
def keep_equipment(parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """Bars, plates, limits and the clock."""
    matters = fields.number_or_none("matters", "A change that matters, in percent,", 0, 20)
    changes = {
        "time_zone": fields.text("time_zone", 60),
        "bars": _bars(fields),
        "plates": _plates(fields),
        "collars_kg": fields.number("collars", "The collars", 0, 10),
        "step_kg": fields.number("step", "The step", 0.1, 10),
        "daily_cap_percent": fields.number("cap", "The cap of a day, in percent,", 0, 20),
        "smallest_change_percent": matters,
    }
    change_club(parts, coach.caller, changes, anew=False)
    return go_to("/club#equipment")


@router.post("/club/coaches")
def add_coach(request: Request, parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """A link for a coach, new or known; it is shown this once."""
    token = invite_coach(parts, coach, fields.text("name"))
    link = f"{request.url.scheme}://{request.headers.get('host', '')}/sign-in/{token}"
    return _club(request, parts, coach, link=link)


@router.post("/club/coaches/{coach_id}/remove")
def drop_coach(parts: PartsOf, coach: CoachOf, _fields: FieldsOf, coach_id: str) -> Response:
    """Takes a coach away."""
    remove_coach(parts, coach, coach_id)
    return go_to("/club#people")


@router.post("/club/keys")
def add_key(request: Request, parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """A new key; it is shown this once."""
    kind = fields.text("kind")
    if kind not in KINDS:
        raise Cannot("request-invalid", "Choose what the key is for.", "/kind")
    made = issue_own_key(parts, coach.caller, NewKeyFacts(KINDS[kind][1], label=KINDS[kind][0]))
    return _club(request, parts, coach, key=made.shown)


@router.post("/club/keys/{key_id}/end")
def drop_key(parts: PartsOf, coach: CoachOf, _fields: FieldsOf, key_id: str) -> Response:
    """The key opens nothing any more."""
    end_key(parts, coach.caller, key_id)
    return go_to("/club#keys")


@router.post("/club/unit")
def choose_unit(parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """Kilograms or pounds."""
    choose_weight_unit(parts, coach, fields.text("unit"))
    return go_to("/club#you")


@router.post("/club/passphrase")
def new_passphrase(request: Request, parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """A new passphrase; every other device is signed out."""
    token = choose_passphrase(parts, coach, fields.text("passphrase"))
    return keep_signed_in(request, go_to("/club#you"), token)


def _bars(fields: Fields) -> tuple[Bar, ...]:
    out = []
    for kg, sex in zip(fields.all("bar_kg"), fields.all("bar_sex"), strict=False):
        if kg:
            out.append(Bar(_kg(kg, "A bar"), sex or None))
    if not out:
        raise Cannot("request-invalid", "The club needs at least one bar.", "/bar_kg")
    return tuple(out)


def _plates(fields: Fields) -> tuple[Plates, ...]:
    out = []
    for kg, count in zip(fields.all("plate_kg"), fields.all("plate_count"), strict=False):
        if kg:
            number = as_number(count or "0")
            if number is None or not 0 <= number <= 100 or number != int(number):
                raise Cannot(
                    "request-invalid", f"{count!r} plates of {kg} kg; a whole number is right.", "/plate_count"
                )
            out.append(Plates(_kg(kg, "A plate"), int(number)))
    return tuple(out)


def _kg(text: str, what: str) -> float:
    value = as_number(text)
    if value is None or not 0.1 <= value <= 50:
        raise Cannot("request-invalid", f"{what} has {text!r} kg; a number from 0.1 to 50 is right.")
    return value


def _club(request: Request, parts: Parts, coach: SignedIn, link: str = "", key: str = "") -> Response:
    settings = read_club(parts, coach.caller).settings
    view = club_view(
        coach.coach,
        list_coaches(parts, coach.caller),
        list_keys(parts, coach.caller),
        display_of_settings(coach, settings),
        settings,
        link=link,
        key=key,
    )
    return page(request, coach, "club.html", "club", view)
