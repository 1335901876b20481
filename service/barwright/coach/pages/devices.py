"""The club's sensors."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, PageRoute, PartsOf
from barwright.coach.frame import display_of, page
from barwright.coach.views.devices import devices_view
from barwright.workflows.look_over_devices import look_over_devices

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/devices")
def devices_page(request: Request, parts: PartsOf, coach: CoachOf) -> Response:
    """Every sensor: last seen, noise, calibration, how its recordings were."""
    view = devices_view(look_over_devices(parts, coach.caller), parts.now(), display_of(parts, coach))
    return page(request, coach, "devices.html", "devices", view)
