"""Technique of one lift, two lifts laid over each other, drills given, and the list for review."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from barwright.api.dependencies import PartsOf, Reader, Registrar
from barwright.api.idempotency import RetryOf
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.routes.created import created
from barwright.api.shapes.drills import NewPrescriptionTold, PrescriptionAnswer, PrescriptionEnd, PrescriptionPage
from barwright.api.shapes.technique import (
    ComparisonAnswer,
    LookedAt,
    Remote,
    RemoteAnswer,
    ReviewPage,
    TechniqueAnswer,
    WaitingAnswer,
)
from barwright.workflows.compare_lifts import compare_lifts
from barwright.workflows.prescribe import end_prescription, list_prescriptions, prescribe, read_prescription
from barwright.workflows.review_list import is_remote, look_at, review_list, set_remote
from barwright.workflows.review_technique import review_technique

router = APIRouter(prefix="/v1", tags=["technique"])
WANTED = "`best`, `last`, a day such as 2026-11-02, or SET:REP."


@router.get(
    "/athletes/{athlete_id}/technique/{lift}",
    responses=problems(*SIGNED_IN, "not-found", "unknown-lift", "request-invalid"),
    operation_id="get_technique",
)
def get_technique(caller: Reader, parts: PartsOf, athlete_id: str, lift: str) -> TechniqueAnswer:
    """Phases, faults the earliest first, one main drill and a primer with their loads, and what earlier drills did."""
    return TechniqueAnswer.of(review_technique(parts, caller, athlete_id, lift))


@router.get(
    "/athletes/{athlete_id}/technique/{lift}/compare",
    responses=problems(*SIGNED_IN, "not-found", "unknown-lift", "request-invalid"),
    operation_id="compare_lifts",
)
def get_comparison(
    caller: Reader,
    parts: PartsOf,
    athlete_id: str,
    lift: str,
    first: Annotated[str, Query(max_length=80, description=WANTED)] = "best",
    second: Annotated[str, Query(max_length=80, description=WANTED)] = "last",
    band: Annotated[int, Query(ge=2, le=50, description="How many good lifts the band is of, at most.")] = 10,
) -> ComparisonAnswer:
    """Two lifts aligned at lift-off, the change of every figure, and the band of the last good lifts."""
    return ComparisonAnswer.of(compare_lifts(parts, caller, athlete_id, lift, first, second, band))


@router.post(
    "/athletes/{athlete_id}/prescriptions",
    status_code=201,
    response_model=PrescriptionAnswer,
    responses=problems(
        *SIGNED_IN, *JSON_BODY, *RETRY, "not-found", "unknown-lift", "not-plausible", "in-the-future",
        "nothing-advised", "drill-forbidden", "reason-needed",
    ),
    operation_id="give_drill",
)  # fmt: skip
def post_prescription(
    caller: Registrar, parts: PartsOf, athlete_id: str, told: NewPrescriptionTold, retry: RetryOf
) -> Response:
    """Give a drill to an athlete. Another than the advised one needs a reason, which is kept."""
    body = prescribe(
        parts, caller, athlete_id, told.told(), retry, lambda p: PrescriptionAnswer.of(p).model_dump_json().encode()
    )
    return created(f"/v1/athletes/{athlete_id}/prescriptions", body)


@router.get(
    "/athletes/{athlete_id}/prescriptions",
    response_model=PrescriptionPage,
    responses=problems(*SIGNED_IN, "not-found", "bad-cursor", "request-invalid"),
    operation_id="list_given_drills",
)
def get_prescriptions(
    request: Request,
    response: Response,
    caller: Reader,
    parts: PartsOf,
    athlete_id: str,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Drills given to an athlete with what became of each: helped, no change seen, got worse or too early."""
    found = list_prescriptions(parts, caller, athlete_id, time_and_id_in(cursor), limit + 1)
    return page(
        request,
        response,
        found,
        limit,
        lambda p: (p.prescription.created_at.isoformat(), p.prescription.id),
        PrescriptionAnswer.of,
    )


@router.get(
    "/athletes/{athlete_id}/prescriptions/{prescription_id}",
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="get_given_drill",
)
def get_prescription(caller: Reader, parts: PartsOf, athlete_id: str, prescription_id: str) -> PrescriptionAnswer:
    """One drill that was given, and what became of it."""
    return PrescriptionAnswer.of(read_prescription(parts, caller, athlete_id, prescription_id))


@router.post(
    "/athletes/{athlete_id}/prescriptions/{prescription_id}/end",
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found", "not-plausible", "in-the-future"),
    operation_id="end_given_drill",
)
def post_end(
    caller: Registrar, parts: PartsOf, athlete_id: str, prescription_id: str, told: PrescriptionEnd
) -> PrescriptionAnswer:
    """The drill is done no longer."""
    return PrescriptionAnswer.of(end_prescription(parts, caller, athlete_id, prescription_id, told.ended_on))


@router.get("/review", responses=problems(*SIGNED_IN, "request-invalid"), operation_id="list_review")
def get_review(
    caller: Reader,
    parts: PartsOf,
    everybody: Annotated[bool, Query(description="Sets of athletes who are not remote, too.")] = False,
) -> ReviewPage:
    """Sets of remote athletes nobody has looked at yet, the most worrying first; at most the latest hundred."""
    return ReviewPage(items=[WaitingAnswer.of(one) for one in review_list(parts, caller, everybody)], next=None)


@router.post(
    "/review/looked",
    status_code=204,
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found"),
    operation_id="mark_looked_at",
)
def post_looked(caller: Registrar, parts: PartsOf, told: LookedAt) -> None:
    """Mark sets as looked at: all of them, or none when one is not known."""
    look_at(parts, caller, told.set_ids)


@router.get(
    "/athletes/{athlete_id}/remote",
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="get_remote",
)
def get_remote(caller: Reader, parts: PartsOf, athlete_id: str) -> RemoteAnswer:
    """Whether an athlete's sets are put up for review."""
    return RemoteAnswer(athlete_id=athlete_id, remote=is_remote(parts, caller, athlete_id))


@router.put(
    "/athletes/{athlete_id}/remote",
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found"),
    operation_id="set_remote",
)
def put_remote(caller: Registrar, parts: PartsOf, athlete_id: str, told: Remote) -> RemoteAnswer:
    """Say whether an athlete trains where the coach cannot stand beside: then their sets are put up for review."""
    set_remote(parts, caller, athlete_id, told.remote)
    return RemoteAnswer(athlete_id=athlete_id, remote=told.remote)
