"""The club's drills: look, add, change, forbid, take the changes back."""

from __future__ import annotations

from fastapi import APIRouter, Response

from barwright.analysis.technique.catalogue import CAUTIONS
from barwright.api.dependencies import PartsOf, ReaderOrRegistrar, Registrar
from barwright.api.idempotency import RetryOf
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.shapes.drills import DrillAnswer, DrillChanges, DrillPage, NewDrill
from barwright.workflows.edit_drills import add_drill, change_drill, read_drill, read_drills, restore_drill

router = APIRouter(prefix="/v1/drills", tags=["technique"])


@router.get("", responses=problems(*SIGNED_IN), operation_id="list_drills")
def get_list(caller: ReaderOrRegistrar, parts: PartsOf) -> DrillPage:
    """Every drill as this club has it."""
    drills = read_drills(parts, caller).drills.values()
    return DrillPage(items=[DrillAnswer.of_drill(one) for one in drills], next=None, cautions=list(CAUTIONS))


@router.post(
    "",
    status_code=201,
    response_model=DrillAnswer,
    responses=problems(*SIGNED_IN, *JSON_BODY, *RETRY, "name-taken", "not-plausible"),
    operation_id="add_drill",
)
def post(caller: Registrar, parts: PartsOf, told: NewDrill, retry: RetryOf) -> Response:
    """Add a drill of the club's own; it is tried first for the faults it names."""
    body = add_drill(
        parts, caller, told.code, told.facts(), retry, lambda d: DrillAnswer.of_drill(d).model_dump_json().encode()
    )
    return Response(body, 201, {"Location": f"/v1/drills/{told.code}"}, "application/json")


@router.get("/{code}", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="get_drill")
def get_one(caller: ReaderOrRegistrar, parts: PartsOf, code: str) -> DrillAnswer:
    """One drill."""
    return DrillAnswer.of_drill(read_drill(parts, caller, code))


@router.patch(
    "/{code}", responses=problems(*SIGNED_IN, *JSON_BODY, "not-found", "not-plausible"), operation_id="change_drill"
)
def patch(caller: Registrar, parts: PartsOf, code: str, told: DrillChanges) -> DrillAnswer:
    """Change a drill for this club, or forbid it."""
    return DrillAnswer.of_drill(change_drill(parts, caller, code, told.changes()))


@router.delete(
    "/{code}",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="restore_drill",
)
def delete(caller: Registrar, parts: PartsOf, code: str) -> None:
    """Delete a drill of the club's own, or take back its changes of a published one."""
    restore_drill(parts, caller, code)
