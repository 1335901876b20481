"""Devices: tell, list, change."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from barwright.api.dependencies import PartsOf, ReaderOrSender, Sender
from barwright.api.idempotency import RetryOf
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, name_in, page
from barwright.api.routes.created import created
from barwright.api.shapes.devices import DeviceAnswer, DeviceChanges, DevicePage, NewDevice
from barwright.workflows.athletes_and_devices import add_device, change_device, find_device, list_devices

router = APIRouter(prefix="/v1/devices", tags=["devices"])


@router.post(
    "",
    status_code=201,
    response_model=DeviceAnswer,
    responses=problems(*SIGNED_IN, *JSON_BODY, *RETRY, "name-taken", "bad-bar-axis", "unknown-unit", "bad-member"),
    operation_id="add_device",
)
def post(caller: Sender, parts: PartsOf, told: NewDevice, retry: RetryOf) -> Response:
    """Add a device to the club."""
    body = add_device(parts, caller, told.facts(), retry, lambda d: DeviceAnswer.of(d).model_dump_json().encode())
    return created("/v1/devices", body)


@router.get("", response_model=DevicePage, responses=problems(*SIGNED_IN, "bad-cursor"), operation_id="list_devices")
def get_list(
    request: Request,
    response: Response,
    caller: ReaderOrSender,
    parts: PartsOf,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Devices in order of name."""
    found = list_devices(parts, caller, name_in(cursor), limit + 1)
    return page(request, response, found, limit, lambda d: (d.facts.name,), DeviceAnswer.of)


@router.get("/{device_id}", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="get_device")
def get_one(caller: ReaderOrSender, parts: PartsOf, device_id: str) -> DeviceAnswer:
    """One device."""
    return DeviceAnswer.of(find_device(parts, caller, device_id))


@router.patch(
    "/{device_id}",
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found", "name-taken", "bad-bar-axis", "unknown-unit", "bad-member"),
    operation_id="change_device",
)
def patch(caller: Sender, parts: PartsOf, device_id: str, told: DeviceChanges) -> DeviceAnswer:
    """Change a device; streams that already began keep it as it was."""
    return DeviceAnswer.of(change_device(parts, caller, device_id, *told.changes()))
