"""Sets, reps and paths."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from barwright.api.dependencies import PartsOf, QueueOf, Reader, Sender
from barwright.api.openapi import SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.path_formats import path_answer
from barwright.api.raw_shapes import PATH_ANSWER
from barwright.api.shapes.sets import SetAnswer, SetPage
from barwright.api.shapes.times import MomentQuery
from barwright.api.waiting import Wait, wait_for
from barwright.storage.sets import SetFilter
from barwright.workflows.close_stream import analyse_again
from barwright.workflows.read_results import list_sets, read_path, read_set

router = APIRouter(prefix="/v1/sets", tags=["sets"])


@router.get(
    "", response_model=SetPage, responses=problems(*SIGNED_IN, "bad-cursor", "unknown-lift"), operation_id="list_sets"
)
def get_list(
    request: Request,
    response: Response,
    caller: Reader,
    parts: PartsOf,
    athlete_id: Annotated[str | None, Query(max_length=64, description="Only sets of this athlete.")] = None,
    lift: Annotated[str | None, Query(max_length=64, description="A code of GET /v1/lifts.")] = None,
    from_at: Annotated[MomentQuery, Query(alias="from", description="Started then or later.")] = None,
    to_at: Annotated[MomentQuery, Query(alias="to", description="Started before then.")] = None,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Sets, the latest first. A filter that is empty asks for all."""
    asked = SetFilter(athlete_id or None, lift or None, from_at, to_at)
    found = list_sets(parts, caller, asked, time_and_id_in(cursor), limit + 1)
    told = page(request, response, found, limit, lambda s: (s.started_at.isoformat(), s.id), SetAnswer.of)
    # Written as it is: the framework would go through hundreds of reps twice more.
    body = SetPage.model_construct(**told).model_dump_json()
    return Response(body, media_type="application/json", headers=dict(response.headers))


@router.get("/{set_id}", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="get_set")
def get_one(caller: Reader, parts: PartsOf, set_id: str) -> SetAnswer:
    """One set with its quality and reps."""
    return SetAnswer.of(read_set(parts, caller, set_id))


@router.get(
    "/{set_id}/reps/{index}/path",
    response_class=Response,
    responses={
        200: PATH_ANSWER,
        **problems(*SIGNED_IN, "not-found", "not-acceptable", "request-invalid"),
    },
    operation_id="get_path",
)
def get_path(
    request: Request, caller: Reader, parts: PartsOf, set_id: str, index: Annotated[int, Path(ge=0, le=1_000_000)]
) -> Response:
    """The bar's path over one rep as JSON, CBOR or CSV, whichever Accept asks for."""
    return path_answer(request.headers.get("accept", "*/*"), set_id, index, read_path(parts, caller, set_id, index))


@router.post(
    "/{set_id}/reanalyse",
    responses=problems(*SIGNED_IN, "not-found", "set-open", "raw-gone", "request-invalid"),
    operation_id="reanalyse_set",
)
async def post_reanalyse(caller: Sender, parts: PartsOf, queue: QueueOf, set_id: str, wait: Wait = 0.0) -> SetAnswer:
    """Analyse a set again from its raw samples; only its revision rises, unless the method or calibration has changed.

    The device's last calibration before the set is used, or else the first one after it.
    """
    await wait_for(await run_in_threadpool(analyse_again, parts, queue, caller, set_id), wait)
    return SetAnswer.of(await run_in_threadpool(read_set, parts, caller, set_id))
