"""What every page of a signed-in coach has around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from barwright.coach.at_the_door import token_for
from barwright.coach.numbers import Display
from barwright.coach.rendering import html
from barwright.storage.club_settings import ClubSettings
from barwright.workflows.change_club import read_club
from barwright.workflows.parts import Parts
from barwright.workflows.sign_in import SignedIn


@dataclass(frozen=True, slots=True)
class Who:
    """Who is signed in, as the header names them."""

    name: str
    club: str


def display_of(parts: Parts, signed_in: SignedIn) -> Display:
    """Kilograms or pounds, and the club's clock."""
    return display_of_settings(signed_in, read_club(parts, signed_in.caller).settings)


def display_of_settings(signed_in: SignedIn, settings: ClubSettings) -> Display:
    """The same, where the settings are known already."""
    return Display(signed_in.coach.weight_unit, ZoneInfo(settings.time_zone))


def page(
    request: Request, signed_in: SignedIn, template: str, nav: str, view: Any, status: int = 200, **more: Any
) -> Response:
    """A page with its view as `view`."""
    who = Who(signed_in.coach.name, signed_in.coach.club_name)
    return html(request, template, {"who": who, "nav": nav, "token": token_for(request), "view": view, **more}, status)
