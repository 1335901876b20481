"""A whole set in one request."""

from __future__ import annotations

from typing import TypeVar

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ValidationError
from starlette.concurrency import run_in_threadpool

from barwright.api.dependencies import PartsOf, QueueOf, Sender
from barwright.api.file_forms import sent_file_and_perhaps_meta, sent_form
from barwright.api.idempotency import RetryKey, retry_of
from barwright.api.openapi import RETRY, SIGNED_IN, problems
from barwright.api.problems import InvalidMeta
from barwright.api.raw_shapes import preview_body, recording_body
from barwright.api.shapes.recordings import FileMeta, NewRecording, PreviewAnswer
from barwright.api.shapes.sets import SetAnswer
from barwright.api.waiting import Wait, wait_for
from barwright.ingest.refusals import REFUSALS, Refusal
from barwright.workflows.close_stream import analysis_of
from barwright.workflows.read_results import read_set
from barwright.workflows.record_file import preview_file, record_file

MetaT = TypeVar("MetaT", bound=BaseModel)
router = APIRouter(prefix="/v1/recordings", tags=["recordings"])


@router.post(
    "",
    status_code=201,
    response_model=SetAnswer,
    responses={
        202: {"description": "Stored; the analysis was not done within `wait`.", "model": SetAnswer},
        **problems(
            *SIGNED_IN,
            *RETRY,
            *(code for code in REFUSALS if code != "block-too-large"),
            "request-too-large",
            "request-unreadable",
            "request-invalid",
            "not-found",
            "unknown-lift",
            "bad-load",
            "in-the-future",
            "kind-mismatch",
            "stream-too-long",
        ),
    },
    openapi_extra=recording_body(NewRecording.model_json_schema(ref_template="#/components/schemas/{model}")),
    operation_id="send_recording",
)
async def post(
    request: Request, caller: Sender, parts: PartsOf, queue: QueueOf, key: RetryKey = None, wait: Wait = 60.0
) -> Response:
    """Send a whole set: `meta` as for a stream, and a file. The answer is the analysed set."""
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise Refusal("unknown-content-type", "Send multipart/form-data with the parts `meta` (JSON) and `file`.")
    meta, sent_file = await sent_form(request, parts.limits)
    retry = retry_of(key, request, meta, sent_file.body)
    told = _told(NewRecording, meta)
    layout = told.layout(parts.limits)
    set_id = await run_in_threadpool(record_file, parts, caller, told.request(), sent_file, retry, layout)
    await wait_for(await run_in_threadpool(analysis_of, parts, queue, caller, set_id), wait)
    found = await run_in_threadpool(read_set, parts, caller, set_id)
    status = 202 if found.state == "analysing" else 201
    body = SetAnswer.of(found).model_dump_json().encode()
    return Response(body, status, {"Location": f"/v1/sets/{set_id}"}, "application/json")


@router.post(
    "/preview",
    responses=problems(
        *SIGNED_IN, "unknown-content-type", "request-too-large", "request-unreadable", "request-invalid",
        "unknown-unit", "unknown-member", "bad-member", "rate-out-of-limits",
    ),
    openapi_extra=preview_body(FileMeta.model_json_schema(ref_template="#/components/schemas/{model}")),
    operation_id="preview_recording",
)  # fmt: skip
async def post_preview(request: Request, caller: Sender, parts: PartsOf) -> PreviewAnswer:
    """How a file would be understood, column by column; nothing is kept. A file that would be refused says why."""
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise Refusal(
            "unknown-content-type", "Send multipart/form-data with the part `file`, and perhaps `meta` (JSON)."
        )
    meta, sent_file = await sent_file_and_perhaps_meta(request, parts.limits)
    layout = _told(FileMeta, meta).layout(parts.limits)
    found = await run_in_threadpool(preview_file, parts, sent_file, layout)
    return PreviewAnswer.of(found, "/v1/recordings")


def _told(kind: type[MetaT], meta: bytes) -> MetaT:
    try:
        return kind.model_validate_json(meta)
    except ValidationError as error:
        raise InvalidMeta(error) from error
