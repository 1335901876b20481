"""The caller's club: its clock, bars and plates, limits and zones."""

from __future__ import annotations

from fastapi import APIRouter

from barwright.api.dependencies import Admin, PartsOf, ReaderOrRegistrar
from barwright.api.openapi import JSON_BODY, SIGNED_IN, problems
from barwright.api.shapes.club import ClubAnswer, ClubChanges
from barwright.workflows.change_club import change_club, read_club

router = APIRouter(prefix="/v1/club", tags=["club"])


@router.get("", responses=problems(*SIGNED_IN), operation_id="get_club")
def get_club(caller: ReaderOrRegistrar, parts: PartsOf) -> ClubAnswer:
    """The club of the key."""
    return ClubAnswer.of(read_club(parts, caller))


@router.put("", responses=problems(*SIGNED_IN, *JSON_BODY, "not-plausible"), operation_id="set_club")
def put(caller: Admin, parts: PartsOf, told: ClubChanges) -> ClubAnswer:
    """Tell all settings of the club; what is left out goes back to what it is without being told."""
    return ClubAnswer.of(change_club(parts, caller, told.changes(), anew=True))


@router.patch("", responses=problems(*SIGNED_IN, *JSON_BODY, "not-plausible"), operation_id="change_club")
def patch(caller: Admin, parts: PartsOf, told: ClubChanges) -> ClubAnswer:
    """Change some settings of the club; what is left out stays."""
    return ClubAnswer.of(change_club(parts, caller, told.changes(), anew=False))
