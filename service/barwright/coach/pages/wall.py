"""The wall: one platform live, for a tablet at two metres."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, PageRoute, PartsOf
from barwright.coach.frame import display_of, page
from barwright.coach.views.wall import platforms_view, wall_view
from barwright.workflows.watch_platform import platforms, watch_platform

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/wall")
def platforms_page(request: Request, parts: PartsOf, coach: CoachOf) -> Response:
    """Which platform."""
    view = platforms_view(platforms(parts, coach.caller), parts.now(), display_of(parts, coach))
    return page(request, coach, "wall_choose.html", "wall", view)


@router.get("/wall/{device_id}")
def wall_page(request: Request, parts: PartsOf, coach: CoachOf, device_id: str) -> Response:
    """One platform now; the page follows by itself."""
    view = wall_view(watch_platform(parts, coach.caller, device_id), display_of(parts, coach))
    return page(request, coach, "wall.html", "wall", view)
