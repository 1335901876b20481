"""Athletes: tell, list, change, export, erase."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import StreamingResponse

from barwright.access.caller import Caller
from barwright.api.dependencies import PartsOf, Reader, ReaderOrRegistrar, Registrar
from barwright.api.export_formats import ZIP, export_document, export_format
from barwright.api.idempotency import RetryOf
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, name_in, page
from barwright.api.routes.created import created
from barwright.api.shapes.athletes import AthleteAnswer, AthleteChanges, AthletePage, ErasureAnswer, NewAthlete
from barwright.workflows.athletes_and_devices import add_athlete, change_athlete, find_athlete, list_athletes
from barwright.workflows.export_zip import export_zip
from barwright.workflows.forget_athlete import export_athlete, export_training, forget_athlete
from barwright.workflows.parts import Parts

router = APIRouter(prefix="/v1/athletes", tags=["athletes"])


@router.post(
    "",
    status_code=201,
    response_model=AthleteAnswer,
    responses=problems(*SIGNED_IN, *JSON_BODY, *RETRY, "name-taken"),
    operation_id="add_athlete",
)
def post(caller: Registrar, parts: PartsOf, told: NewAthlete, retry: RetryOf) -> Response:
    """Add an athlete to the club."""
    body = add_athlete(parts, caller, told.facts(), retry, lambda a: AthleteAnswer.of(a).model_dump_json().encode())
    return created("/v1/athletes", body)


@router.get("", response_model=AthletePage, responses=problems(*SIGNED_IN, "bad-cursor"), operation_id="list_athletes")
def get_list(
    request: Request,
    response: Response,
    caller: ReaderOrRegistrar,
    parts: PartsOf,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Athletes in order of name."""
    found = list_athletes(parts, caller, name_in(cursor), limit + 1)
    return page(request, response, found, limit, lambda a: (a.facts.name,), AthleteAnswer.of)


@router.get("/{athlete_id}", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="get_athlete")
def get_one(caller: ReaderOrRegistrar, parts: PartsOf, athlete_id: str) -> AthleteAnswer:
    """One athlete."""
    return AthleteAnswer.of(find_athlete(parts, caller, athlete_id))


@router.patch(
    "/{athlete_id}",
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found", "name-taken"),
    operation_id="change_athlete",
)
def patch(caller: Registrar, parts: PartsOf, athlete_id: str, told: AthleteChanges) -> AthleteAnswer:
    """Change what is known of an athlete."""
    return AthleteAnswer.of(change_athlete(parts, caller, athlete_id, told.model_dump(exclude_unset=True)))


@router.delete(
    "/{athlete_id}",
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="erase_athlete",
)
def delete(caller: Registrar, parts: PartsOf, athlete_id: str) -> ErasureAnswer:
    """Erase an athlete: facts, streams, raw samples and results. This cannot be undone; the answer is the receipt."""
    return ErasureAnswer.of(forget_athlete(parts, caller, athlete_id))


@router.get(
    "/{athlete_id}/export",
    response_class=Response,
    responses={
        200: {
            "description": "Everything that is kept of the athlete: facts, tested maxima, sets of files of history, "
            "plans, decisions, and every stream with its blocks as they were sent and its set.",
            "content": {
                "application/json": {"schema": {"type": "object"}},
                "application/cbor": {"schema": {"type": "string", "format": "binary"}},
                "application/zip": {"schema": {"type": "string", "format": "binary"}},
            },
        },
        **problems(*SIGNED_IN, "not-found", "not-acceptable", "request-invalid"),
    },
    operation_id="export_athlete",
)
def export(request: Request, caller: Reader, parts: PartsOf, athlete_id: str) -> StreamingResponse:
    """Everything that is kept of an athlete, raw samples too: a JSON or CBOR document, or a zip of files.

    The zip has a README.txt that says what is in each file.
    """
    media_type = export_format(request.headers.get("accept", "*/*"))
    if media_type == ZIP:
        return _zip(parts, caller, athlete_id)
    athlete = AthleteAnswer.of(find_athlete(parts, caller, athlete_id))
    ending = media_type.rpartition("/")[2]
    headers = {"Content-Disposition": f'attachment; filename="{athlete.id}.{ending}"', "Vary": "Accept"}
    training = export_training(parts, caller, athlete_id)
    document = export_document(media_type, athlete, training, export_athlete(parts, caller, athlete_id))
    return StreamingResponse(document, media_type=media_type, headers=headers)


def _zip(parts: Parts, caller: Caller, athlete_id: str) -> StreamingResponse:
    headers = {"Content-Disposition": f'attachment; filename="{athlete_id}.zip"', "Vary": "Accept"}
    return StreamingResponse(export_zip(parts, caller, athlete_id), media_type=ZIP, headers=headers)
