"""Tested maxima, and an athlete's history as a file."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from barwright.api.accept import CSV
from barwright.api.dependencies import PartsOf, Reader, ReaderOrRegistrar, Registrar
from barwright.api.file_forms import sent_file_only
from barwright.api.idempotency import RetryKey, RetryOf, retry_of
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.shapes.maxima import ImportedAnswer, MaximaAnswer, MaximumAnswer, NewMaximum
from barwright.ingest.refusals import Refusal
from barwright.workflows.import_history import import_history, write_history
from barwright.workflows.tell_maxima import list_maxima, take_back_maximum, tell_maximum

router = APIRouter(prefix="/v1/athletes/{athlete_id}", tags=["history"])

_CSV_TEXT = {"schema": {"type": "string", "examples": ["date,lift,load[kg],reps\n2026-03-01,back_squat,100,3\n"]}}
_FILE = {
    "schema": {
        "type": "object",
        "required": ["file"],
        "properties": {"file": {"type": "string", "format": "binary"}},
    }
}


@router.post(
    "/maxima",
    status_code=201,
    response_model=MaximumAnswer,
    responses=problems(
        *SIGNED_IN,
        *JSON_BODY,
        *RETRY,
        "not-found",
        "already-there",
        "unknown-lift",
        "unknown-unit",
        "bad-load",
        "in-the-future",
        "not-plausible",
    ),
    operation_id="tell_maximum",
)
def post_maximum(caller: Registrar, parts: PartsOf, athlete_id: str, told: NewMaximum, retry: RetryOf) -> Response:
    """Tell a maximum that was tested and made."""
    what = (told.lift, told.load_kg, told.units.get("load"), told.on, told.note)
    body = tell_maximum(
        parts, caller, athlete_id, what, retry, lambda m: MaximumAnswer.of(m).model_dump_json().encode()
    )
    return Response(body, 201, {"Location": f"/v1/athletes/{athlete_id}/maxima"}, "application/json")


@router.get(
    "/maxima",
    responses=problems(*SIGNED_IN, "not-found", "unknown-lift", "request-invalid"),
    operation_id="list_maxima",
)
def get_maxima(
    caller: ReaderOrRegistrar,
    parts: PartsOf,
    athlete_id: str,
    lift: Annotated[str | None, Query(max_length=64, description="Only this lift.")] = None,
) -> MaximaAnswer:
    """Tested maxima of an athlete, the oldest first."""
    return MaximaAnswer.of(list_maxima(parts, caller, athlete_id, lift or None))


@router.delete(
    "/maxima/{maximum_id}",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="take_back_maximum",
)
def delete_maximum(caller: Registrar, parts: PartsOf, athlete_id: str, maximum_id: str) -> None:
    """Take a maximum back that was told by mistake."""
    take_back_maximum(parts, caller, athlete_id, maximum_id)


@router.post(
    "/history",
    status_code=201,
    response_model=ImportedAnswer,
    responses=problems(
        *SIGNED_IN,
        *RETRY,
        "not-found",
        "bad-history",
        "unknown-unit",
        "unreadable",
        "unknown-content-type",
        "unknown-encoding",
        "body-too-large",
        "decompressed-too-large",
        "truncated",
        "request-too-large",
        "request-unreadable",
        "request-invalid",
    ),
    openapi_extra={"requestBody": {"required": True, "content": {CSV: _CSV_TEXT, "multipart/form-data": _FILE}}},
    operation_id="import_history",
)
async def post_history(
    request: Request,
    caller: Registrar,
    parts: PartsOf,
    athlete_id: str,
    known: Annotated[
        Literal["refuse", "skip"],
        Query(description="What to do about rows that are there already: refuse the file, or leave them out."),
    ] = "refuse",
    key: RetryKey = None,
) -> Response:
    """Import sets and maxima of years past from CSV (docs/coach.md has the layout): every row, or none of them."""
    content_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if content_type == "multipart/form-data":
        body = (await sent_file_only(request, parts.limits)).body
    elif content_type in (CSV, "application/csv", "text/plain"):
        body = await request.body()
    else:
        raise Refusal(
            "unknown-content-type", "Send the file as text/csv, or as multipart/form-data with a part `file`."
        )
    retry = retry_of(key, request, body, known.encode())
    answer = await run_in_threadpool(
        import_history,
        parts,
        caller,
        athlete_id,
        body,
        known == "skip",
        retry,
        lambda one: ImportedAnswer.of(one).model_dump_json().encode(),
    )
    return Response(answer, 201, {"Location": f"/v1/athletes/{athlete_id}/history.csv"}, "application/json")


@router.get(
    "/history.csv",
    response_class=Response,
    responses={
        200: {"description": "Every set and tested maximum, in the layout of docs/coach.md.", "content": {CSV: {}}},
        **problems(*SIGNED_IN, "not-found", "unknown-lift", "request-invalid"),
    },
    operation_id="write_history",
)
def get_history(
    caller: Reader,
    parts: PartsOf,
    athlete_id: str,
    lift: Annotated[str | None, Query(max_length=64, description="Only this lift.")] = None,
) -> Response:
    """Every set and tested maximum of an athlete as CSV, ready to be imported elsewhere."""
    text = write_history(parts, caller, athlete_id, lift or None)
    headers = {"Content-Disposition": f'attachment; filename="{athlete_id}.csv"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)
