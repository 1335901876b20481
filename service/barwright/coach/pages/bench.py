"""One sensor: how good it is."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, PageRoute, PartsOf
from barwright.coach.frame import display_of, page
from barwright.coach.views.bench import bench_view
from barwright.storage.bench import BenchKind
from barwright.workflows.athletes_and_devices import find_device
from barwright.workflows.bench_device import list_benches

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_TRIED = 6


@router.get("/devices/{device_id}")
def bench_page(request: Request, parts: PartsOf, coach: CoachOf, device_id: str) -> Response:
    """The newest check of one sensor, and the known motions it was tried on."""
    device = find_device(parts, coach.caller, device_id)
    checks = list_benches(parts, coach.caller, device_id, "check", None, 1)
    kind: BenchKind = "motion" if device.facts.kind == "imu" else "string"
    others = list_benches(parts, coach.caller, device_id, kind, None, _TRIED)
    view = bench_view(device, checks, others, display_of(parts, coach))
    return page(request, coach, "bench.html", "devices", view)
