"""The club: people, keys, one's own sign-in."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, go_to, keep_signed_in
from barwright.coach.frame import display_of, page
from barwright.coach.views.club import KINDS, club_view
from barwright.workflows.cannot import Cannot
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
    return _club(request, parts, coach, key=issue_own_key(parts, coach.caller, KINDS[kind][1]))


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


def _club(request: Request, parts: Parts, coach: SignedIn, link: str = "", key: str = "") -> Response:
    view = club_view(
        coach.coach,
        list_coaches(parts, coach.caller),
        list_keys(parts, coach.caller),
        display_of(parts, coach),
        link=link,
        key=key,
    )
    return page(request, coach, "club.html", "club", view)
