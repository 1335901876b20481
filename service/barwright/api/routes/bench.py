"""Checks of a device: the whole of it, known motions, the setting up of a string."""

from __future__ import annotations

from typing import Any, TypeVar

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ValidationError
from starlette.concurrency import run_in_threadpool

from barwright.analysis.devices.string_setup import Offsets, Pull
from barwright.analysis.quantities.estimate import Estimate
from barwright.api.bench_shapes import bench_body
from barwright.api.dependencies import PartsOf, ReaderOrSender, Sender
from barwright.api.file_forms import sent_form
from barwright.api.idempotency import RetryKey, retry_of
from barwright.api.openapi import JSON_BODY, RETRY, SENSOR_RECORDING, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.problems import InvalidMeta
from barwright.api.routes.created import created
from barwright.api.shapes.bench import (
    CheckAnswer,
    CheckMeta,
    CheckPage,
    Here,
    Measured,
    MotionAnswer,
    MotionMeta,
    MotionPage,
    StringAnswer,
    StringPage,
    StringTold,
)
from barwright.ingest.bench_body import read_bench_body
from barwright.ingest.decode import CBOR, JSON
from barwright.ingest.recording_file import RecordingFile, read_recording_file
from barwright.ingest.refusals import Refusal
from barwright.storage.bench import StoredBench
from barwright.workflows.bench_device import (
    check_device,
    check_motion,
    delete_bench,
    find_bench,
    gravity_here,
    list_benches,
    set_up,
)
from barwright.workflows.bench_job import MotionTold
from barwright.workflows.calibrate_device import device_to_calibrate
from barwright.workflows.once import Retry
from barwright.workflows.parts import Parts

router = APIRouter(prefix="/v1/devices/{device_id}", tags=["bench"])
M = TypeVar("M", bound=BaseModel)
_RECORDING = problems(*SENSOR_RECORDING, "motion-not-found")
_LIST = problems(*SIGNED_IN, "not-found", "bad-cursor", "request-invalid")
_ONE = problems(*SIGNED_IN, "not-found", "request-invalid")


def _schema(meta: type[BaseModel]) -> dict[str, Any]:
    schema = meta.model_json_schema()
    places = schema.pop("$defs", {})

    def inlined(node: Any) -> Any:
        if isinstance(node, dict):
            if "$ref" in node:
                return inlined(places[node["$ref"].rpartition("/")[2]])
            return {name: inlined(value) for name, value in node.items()}
        return [inlined(one) for one in node] if isinstance(node, list) else node

    return dict(inlined(schema))


@router.post(
    "/check",
    status_code=201,
    response_model=CheckAnswer,
    responses=_RECORDING,
    openapi_extra=bench_body(_schema(CheckMeta)),
    operation_id="check_device",
)
async def post_check(
    request: Request, caller: Sender, parts: PartsOf, device_id: str, key: RetryKey = None
) -> Response:
    """How good a sensor is, and what to change first: from a minute on a table and six still poses and more."""
    device = await run_in_threadpool(device_to_calibrate, parts, caller, device_id)
    recording, meta, retry = await _sent(request, parts, key, CheckMeta)
    clock = tuple((pair.t_us / 1e6, pair.at.timestamp()) for pair in meta.clock)
    body = await run_in_threadpool(
        check_device, parts, caller, device, recording, _gravity(meta), clock, retry, lambda s: _json(CheckAnswer.of(s))
    )
    return created(f"/v1/devices/{device_id}/check", body)


@router.get("/check", response_model=CheckPage, responses=_LIST, operation_id="list_device_checks")
def get_checks(
    request: Request, response: Response, caller: ReaderOrSender, parts: PartsOf, device_id: str,
    limit: Limit = 20, cursor: Cursor = None,
) -> Any:  # fmt: skip
    """Checks of a device, the newest first."""
    found = list_benches(parts, caller, device_id, "check", time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, _key, CheckAnswer.of)


@router.get("/check/{check_id}", responses=_ONE, operation_id="get_device_check")
def get_check(caller: ReaderOrSender, parts: PartsOf, device_id: str, check_id: str) -> CheckAnswer:
    """One check of a device."""
    return CheckAnswer.of(find_bench(parts, caller, device_id, "check", check_id))


@router.delete("/check/{check_id}", status_code=204, responses=_ONE, operation_id="delete_device_check")
def delete_check(caller: Sender, parts: PartsOf, device_id: str, check_id: str) -> None:
    """Take a check away; nothing else rests on it."""
    delete_bench(parts, caller, device_id, "check", check_id)


@router.post(
    "/known-motions",
    status_code=201,
    response_model=MotionAnswer,
    responses=_RECORDING,
    openapi_extra=bench_body(_schema(MotionMeta)),
    operation_id="check_known_motion",
)
async def post_motion(
    request: Request, caller: Sender, parts: PartsOf, device_id: str, key: RetryKey = None
) -> Response:
    """A drop, a pendulum, a lift between two heights or a spin, beside what was to be expected of it."""
    device = await run_in_threadpool(device_to_calibrate, parts, caller, device_id)
    recording, meta, retry = await _sent(request, parts, key, MotionMeta)
    length = (
        _told(meta.length_m, meta.u_length_m) if meta.motion == "pendulum" else _told(meta.height_m, meta.u_height_m)
    )
    told = MotionTold(meta.motion, length, _told(meta.turns, meta.u_turns, "1"), _told(meta.radius_m, meta.u_radius_m))
    body = await run_in_threadpool(
        check_motion, parts, caller, device, recording, _gravity(meta), told, retry, lambda s: _json(MotionAnswer.of(s))
    )
    return created(f"/v1/devices/{device_id}/known-motions", body)


@router.get("/known-motions", response_model=MotionPage, responses=_LIST, operation_id="list_known_motions")
def get_motions(
    request: Request, response: Response, caller: ReaderOrSender, parts: PartsOf, device_id: str,
    limit: Limit = 20, cursor: Cursor = None,
) -> Any:  # fmt: skip
    """Known motions of a device, the newest first."""
    found = list_benches(parts, caller, device_id, "motion", time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, _key, MotionAnswer.of)


@router.get("/known-motions/{motion_id}", responses=_ONE, operation_id="get_known_motion")
def get_motion(caller: ReaderOrSender, parts: PartsOf, device_id: str, motion_id: str) -> MotionAnswer:
    """One known motion of a device."""
    return MotionAnswer.of(find_bench(parts, caller, device_id, "motion", motion_id))


@router.post(
    "/string",
    status_code=201,
    response_model=StringAnswer,
    responses=problems(*SIGNED_IN, *RETRY, *JSON_BODY, "not-found", "kind-mismatch", "string-not-told"),
    operation_id="set_up_string",
)
def post_string(
    request: Request, caller: Sender, parts: PartsOf, device_id: str, told: StringTold, key: RetryKey = None
) -> Response:
    """Counts for a metre, direction, slip and the place of the anchor, from measured pulls of an encoder's string."""
    pulls = tuple(Pull(one.home, one.out, one.back, _length(one.length)) for one in told.pulls)
    sent = told.offsets
    offsets = None if sent is None else Offsets(_length(sent.low), _length(sent.high), _length(sent.rise))
    retry = retry_of(key, request, told.model_dump_json().encode())
    body = set_up(parts, caller, device_id, pulls, offsets, told.apply, retry, lambda s: _json(StringAnswer.of(s)))
    return created(f"/v1/devices/{device_id}/string", body)


@router.get("/string", response_model=StringPage, responses=_LIST, operation_id="list_string_setups")
def get_strings(
    request: Request, response: Response, caller: ReaderOrSender, parts: PartsOf, device_id: str,
    limit: Limit = 20, cursor: Cursor = None,
) -> Any:  # fmt: skip
    """How a string was set up, the newest first."""
    found = list_benches(parts, caller, device_id, "string", time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, _key, StringAnswer.of)


@router.get("/string/{setup_id}", responses=_ONE, operation_id="get_string_setup")
def get_string(caller: ReaderOrSender, parts: PartsOf, device_id: str, setup_id: str) -> StringAnswer:
    """How a string was set up, once."""
    return StringAnswer.of(find_bench(parts, caller, device_id, "string", setup_id))


async def _sent(
    request: Request, parts: Parts, key: str | None, shape: type[M]
) -> tuple[RecordingFile, M, Retry | None]:
    """The recording, what was told beside it, and the retry."""
    content_type = request.headers.get("content-type", "")
    if content_type.lower().startswith("multipart/form-data"):
        meta, sent = await sent_form(request, parts.limits)
        retry = retry_of(key, request, meta, sent.body)
        facts = _valid(lambda: shape.model_validate_json(meta))
        units = dict(getattr(facts, "units", {}))
        recording = await run_in_threadpool(
            read_recording_file, sent.body, sent.filename, sent.content_type, units, parts.limits
        )
        return recording, facts, retry
    if content_type.partition(";")[0].strip().lower() not in (JSON, CBOR):
        raise Refusal(
            "unknown-content-type",
            f"Send {JSON} or {CBOR} with a recording, or multipart/form-data with the parts `meta` (JSON) and `file`.",
        )
    body = await request.body()
    options = frozenset(shape.model_fields) - {"units"}
    told = await run_in_threadpool(read_bench_body, body, content_type, options, parts.limits)
    return told.recording, _valid(lambda: shape.model_validate(told.told)), retry_of(key, request, body)


def _valid(make: Any) -> Any:
    try:
        return make()
    except ValidationError as error:
        raise InvalidMeta(error) from error


def _gravity(meta: Here) -> Estimate | None:
    return gravity_here(meta.gravity_m_s2, meta.latitude_deg, meta.altitude_m)


def _told(value: float | None, u: float, unit: str = "m") -> Estimate | None:
    return None if value is None else Estimate(value, u, unit)


def _length(told: Measured) -> Estimate:
    return Estimate(told.value, told.u, "m")


def _json(answer: BaseModel) -> bytes:
    return answer.model_dump_json().encode()


def _key(stored: StoredBench) -> tuple[str, str]:
    return stored.created_at.isoformat(), stored.id
