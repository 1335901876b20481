"""Calibrations of a device: make, list, look, take away."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool

from barwright.api.calibration_shapes import calibration_body
from barwright.api.dependencies import PartsOf, ReaderOrSender, Sender
from barwright.api.file_forms import sent_form
from barwright.api.idempotency import RetryKey, retry_of
from barwright.api.openapi import SENSOR_RECORDING, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.problems import InvalidMeta
from barwright.api.routes.created import created
from barwright.api.shapes.calibration import CalibrationAnswer, CalibrationMeta, CalibrationPage
from barwright.ingest.calibration_body import read_calibration_body, read_calibration_file
from barwright.ingest.decode import CBOR, JSON
from barwright.ingest.refusals import Refusal
from barwright.workflows.calibrate_device import (
    calibrate_device,
    delete_calibration,
    device_to_calibrate,
    find_calibration,
    list_calibrations,
)

router = APIRouter(prefix="/v1/devices/{device_id}/calibration", tags=["calibration"])


@router.post(
    "",
    status_code=201,
    response_model=CalibrationAnswer,
    responses=problems(*SENSOR_RECORDING, "poses-too-alike"),
    openapi_extra=calibration_body(CalibrationMeta.model_json_schema(ref_template="#/components/schemas/{model}")),
    operation_id="calibrate_device",
)
async def post(request: Request, caller: Sender, parts: PartsOf, device_id: str, key: RetryKey = None) -> Response:
    """Calibrate a sensor from still poses held by hand, in any order. Used for streams that begin from now on."""
    device = await run_in_threadpool(device_to_calibrate, parts, caller, device_id)
    content_type = request.headers.get("content-type", "")
    if content_type.lower().startswith("multipart/form-data"):
        meta, sent = await sent_form(request, parts.limits)
        retry = retry_of(key, request, meta, sent.body)
        facts = _meta(meta)
        told = await run_in_threadpool(
            read_calibration_file,
            sent.body,
            sent.filename,
            sent.content_type,
            facts.units,
            facts.gravity_m_s2,
            parts.limits,
        )
    else:
        if content_type.partition(";")[0].strip().lower() not in (JSON, CBOR):
            raise Refusal(
                "unknown-content-type",
                f"Send {JSON} or {CBOR} with a recording or with `poses`, or multipart/form-data with the parts `meta` "
                "(JSON) and `file`.",
            )
        body = await request.body()
        retry = retry_of(key, request, body)
        told = await run_in_threadpool(read_calibration_body, body, content_type, parts.limits)
    answer = await run_in_threadpool(
        calibrate_device,
        parts,
        caller,
        device,
        told,
        retry,
        lambda c: CalibrationAnswer.of(c).model_dump_json().encode(),
    )
    return created(f"/v1/devices/{device_id}/calibration", answer)


@router.get(
    "",
    response_model=CalibrationPage,
    responses=problems(*SIGNED_IN, "not-found", "bad-cursor", "request-invalid"),
    operation_id="list_calibrations",
)
def get_list(
    request: Request,
    response: Response,
    caller: ReaderOrSender,
    parts: PartsOf,
    device_id: str,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Calibrations of a device, the newest first."""
    found = list_calibrations(parts, caller, device_id, time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, lambda c: (c.created_at.isoformat(), c.id), CalibrationAnswer.of)


@router.get(
    "/{calibration_id}",
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="get_calibration",
)
def get_one(caller: ReaderOrSender, parts: PartsOf, device_id: str, calibration_id: str) -> CalibrationAnswer:
    """One calibration."""
    return CalibrationAnswer.of(find_calibration(parts, caller, device_id, calibration_id))


@router.delete(
    "/{calibration_id}",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="delete_calibration",
)
def delete(caller: Sender, parts: PartsOf, device_id: str, calibration_id: str) -> None:
    """Take a calibration away; sets analysed with it keep their results until they are analysed again."""
    delete_calibration(parts, caller, device_id, calibration_id)


def _meta(meta: bytes) -> CalibrationMeta:
    try:
        return CalibrationMeta.model_validate_json(meta)
    except ValidationError as error:
        raise InvalidMeta(error) from error
