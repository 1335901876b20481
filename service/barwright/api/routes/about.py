"""Published limits and catalogues, health, counts, and the page about problems."""

from __future__ import annotations

import logging

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response

from barwright.access.keys import same_text
from barwright.analysis.quantities.lifts import LIFTS
from barwright.api.dependencies import PartsOf, QueueOf
from barwright.api.metrics import CONTENT_TYPE, Metrics
from barwright.api.openapi import problems
from barwright.api.problem_page import problem_page
from barwright.api.shapes.about import Health, LiftAnswer, LiftPage, LimitsAnswer
from barwright.workflows.cannot import Cannot
from barwright.workflows.check_health import check_health

log = logging.getLogger(__name__)
router = APIRouter(tags=["about"])


@router.get("/v1/limits", response_model=LimitsAnswer, operation_id="get_limits")
def get_limits(parts: PartsOf) -> dict[str, int | float]:
    """How much may be sent at once, and how often: bytes, seconds, samples, hertz, requests."""
    return {**parts.limits.published(), **parts.rates.limits.published()}


@router.get("/v1/lifts", operation_id="list_lifts")
def get_lifts() -> LiftPage:
    """Every lift this service knows."""
    lifts = [
        LiftAnswer(
            code=lift.code,
            title=lift.title,
            pattern=lift.pattern.value,
            start=lift.start,
            key_velocity=lift.key_velocity,
        )
        for lift in LIFTS.values()
    ]
    return LiftPage(items=lifts, next=None)


@router.get("/healthz/live", operation_id="is_live")
def is_live() -> Health:
    """The process answers."""
    return Health(status="live")


@router.get("/healthz/ready", responses=problems("not-ready", "storage-full"), operation_id="is_ready")
def is_ready(parts: PartsOf, queue: QueueOf) -> Health:
    """Blocks can be stored and sets be analysed: all that is needed can be written, there is room, the queue lives."""
    check_health(parts, queue)
    return Health(status="ready")


@router.get(
    "/metrics",
    response_class=PlainTextResponse,
    responses=problems("not-signed-in"),
    operation_id="get_metrics",
)
def get_metrics(request: Request) -> Response:
    """Figures for operators, in the text format of Prometheus. With BARWRIGHT_METRICS_TOKEN only for who sends it."""
    state = request.app.state
    wanted = f"Bearer {state.metrics_token}"
    if state.metrics_token and not same_text(request.headers.get("authorization", ""), wanted):
        raise Cannot("not-signed-in", "Send the token of the operator: `Authorization: Bearer ...`.")
    metrics: Metrics = state.metrics
    return Response(metrics.text(), media_type=CONTENT_TYPE)


@router.get("/docs/problems.md", include_in_schema=False)
def get_problems() -> Response:
    """The page every problem's `type` points to."""
    return Response(problem_page(), media_type="text/markdown; charset=utf-8")
