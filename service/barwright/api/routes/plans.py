"""Plans, the loads for them, and what the coach decides against them."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from barwright.api.dependencies import PartsOf, Reader, ReaderOrRegistrar, Registrar
from barwright.api.idempotency import RetryOf
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.routes.created import created
from barwright.api.shapes.days import On
from barwright.api.shapes.plans import (
    DecisionAnswer,
    DecisionsAnswer,
    LoadsAnswer,
    NewDecision,
    NewPlan,
    PlanAnswer,
    PlanPage,
)
from barwright.workflows.plan_loads import (
    decide,
    drop_plan,
    list_decisions,
    list_plans,
    loads_of_day,
    make_plan,
    read_plan,
)

router = APIRouter(prefix="/v1/athletes/{athlete_id}", tags=["plans"])


@router.post(
    "/plans",
    status_code=201,
    response_model=PlanAnswer,
    responses=problems(
        *SIGNED_IN, *JSON_BODY, *RETRY, "not-found", "unknown-lift", "unknown-zone", "in-the-future", "not-plausible"
    ),
    operation_id="make_plan",
)
def post_plan(caller: Registrar, parts: PartsOf, athlete_id: str, told: NewPlan, retry: RetryOf) -> Response:
    """Plan a day; from now on this plan counts for it."""
    body = make_plan(
        parts, caller, athlete_id, told.told(), retry, lambda p: PlanAnswer.of(p).model_dump_json().encode()
    )
    return created(f"/v1/athletes/{athlete_id}/plans", body)


@router.get(
    "/plans",
    response_model=PlanPage,
    responses=problems(*SIGNED_IN, "not-found", "bad-cursor", "request-invalid"),
    operation_id="list_plans",
)
def get_plans(
    request: Request,
    response: Response,
    caller: ReaderOrRegistrar,
    parts: PartsOf,
    athlete_id: str,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Plans of an athlete, the newest first."""
    found = list_plans(parts, caller, athlete_id, time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, lambda p: (p.created_at.isoformat(), p.id), PlanAnswer.of)


@router.get("/plans/{plan_id}", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="get_plan")
def get_plan(caller: ReaderOrRegistrar, parts: PartsOf, athlete_id: str, plan_id: str) -> PlanAnswer:
    """One plan."""
    return PlanAnswer.of(read_plan(parts, caller, athlete_id, plan_id))


@router.delete(
    "/plans/{plan_id}",
    status_code=204,
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="drop_plan",
)
def delete_plan(caller: Registrar, parts: PartsOf, athlete_id: str, plan_id: str) -> None:
    """Take a plan away; the one made before it for the same day, if any, counts again."""
    drop_plan(parts, caller, athlete_id, plan_id)


@router.get(
    "/loads",
    responses=problems(*SIGNED_IN, "not-found", "in-the-future", "not-plausible", "request-invalid"),
    operation_id="get_loads",
)
def get_loads(caller: Reader, parts: PartsOf, athlete_id: str, on: On = None) -> LoadsAnswer:
    """Kilograms for the day's plan, rounded to the club's plates, capped; estimates, not an instruction."""
    return LoadsAnswer.of(loads_of_day(parts, caller, athlete_id, on))


@router.post(
    "/decisions",
    status_code=201,
    response_model=DecisionAnswer,
    responses=problems(
        *SIGNED_IN, *JSON_BODY, *RETRY, "not-found", "unknown-lift", "unknown-unit", "bad-load", "not-plausible"
    ),
    operation_id="decide_load",
)
def post_decision(caller: Registrar, parts: PartsOf, athlete_id: str, told: NewDecision, retry: RetryOf) -> Response:
    """Lift the daily cap for a lift, or give a line of the plan another load; with a reason, which is kept."""
    unit = told.units.get("load")
    body = decide(
        parts,
        caller,
        athlete_id,
        told.told(),
        told.on,
        unit,
        retry,
        lambda d: DecisionAnswer.of(d).model_dump_json().encode(),
    )
    return Response(body, 201, {"Location": f"/v1/athletes/{athlete_id}/decisions"}, "application/json")


@router.get("/decisions", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="list_decisions")
def get_decisions(caller: ReaderOrRegistrar, parts: PartsOf, athlete_id: str, on: On = None) -> DecisionsAnswer:
    """What the coach decided about an athlete, the oldest first; on one day, or ever."""
    return DecisionsAnswer.of(list_decisions(parts, caller, athlete_id, on))
