"""A set or a rep corrected by a person."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path
from starlette.concurrency import run_in_threadpool

from barwright.api.dependencies import PartsOf, QueueOf, RegistrarOrSender
from barwright.api.openapi import JSON_BODY, SIGNED_IN, problems
from barwright.api.shapes.corrections import RepCorrectionTold, SetCorrection
from barwright.api.shapes.sets import SetAnswer
from barwright.api.waiting import Wait, wait_for
from barwright.workflows.correct_set import correct_rep, correct_set
from barwright.workflows.read_results import read_set

router = APIRouter(prefix="/v1/sets/{set_id}", tags=["sets"])


@router.patch(
    "",
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found", "unknown-lift", "unknown-unit", "bad-load"),
    operation_id="correct_set",
)
async def patch_set(
    caller: RegistrarOrSender, parts: PartsOf, queue: QueueOf, set_id: str, told: SetCorrection, wait: Wait = 30.0
) -> SetAnswer:
    """Correct the load, the lift or the athlete of a set; profiles and readiness follow at once."""
    await wait_for(await run_in_threadpool(correct_set, parts, queue, caller, set_id, told.changes()), wait)
    return SetAnswer.of(await run_in_threadpool(read_set, parts, caller, set_id))


@router.patch(
    "/reps/{index}",
    responses=problems(*SIGNED_IN, *JSON_BODY, "not-found"),
    operation_id="correct_rep",
)
def patch_rep(
    caller: RegistrarOrSender,
    parts: PartsOf,
    set_id: str,
    index: Annotated[int, Path(ge=0, le=1_000_000)],
    told: RepCorrectionTold,
) -> SetAnswer:
    """Say how a rep ended, or that it is not to count; what the analysis found stays beside it."""
    correct_rep(parts, caller, set_id, index, told.changes())
    return SetAnswer.of(read_set(parts, caller, set_id))
