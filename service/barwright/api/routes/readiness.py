"""Is an athlete, or the club, ready today."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from barwright.api.dependencies import PartsOf, Reader
from barwright.api.openapi import SIGNED_IN, problems
from barwright.api.shapes.days import On
from barwright.api.shapes.readiness import ClubReadiness, ReadinessAnswer, club_as_json
from barwright.workflows.check_readiness import check_club, check_readiness

router = APIRouter(tags=["readiness"])


@router.get(
    "/v1/athletes/{athlete_id}/readiness",
    responses=problems(*SIGNED_IN, "not-found", "unknown-lift", "in-the-future", "not-plausible", "request-invalid"),
    operation_id="get_readiness",
)
def get_one(
    caller: Reader,
    parts: PartsOf,
    athlete_id: str,
    on: On = None,
    lift: Annotated[str | None, Query(max_length=64, description="Only this lift.")] = None,
) -> ReadinessAnswer:
    """One athlete today: the day's maximum, the change against the usual, and a verdict only when the odds say so."""
    return ReadinessAnswer.of(check_readiness(parts, caller, athlete_id, on, lift or None))


@router.get(
    "/v1/readiness",
    response_model=ClubReadiness,
    responses=problems(*SIGNED_IN, "in-the-future", "not-plausible", "request-invalid"),
    operation_id="get_club_readiness",
)
def get_club(caller: Reader, parts: PartsOf, on: On = None) -> Response:
    """Every athlete of the club today."""
    return Response(club_as_json(check_club(parts, caller, on)), media_type="application/json")
