"""Published limits and catalogues, health, counts, and the page about problems."""

from __future__ import annotations

import logging

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response

from barwright.analysis.quantities.lifts import LIFTS
from barwright.api.dependencies import PartsOf, QueueOf
from barwright.api.openapi import problems
from barwright.api.problem_page import problem_page
from barwright.api.shapes.about import Health, LiftAnswer, LiftPage, LimitsAnswer
from barwright.workflows.check_health import check_health

log = logging.getLogger(__name__)
router = APIRouter(tags=["about"])


@router.get("/v1/limits", response_model=LimitsAnswer, operation_id="get_limits")
def get_limits(parts: PartsOf) -> dict[str, int | float]:
    """How much may be sent at once: bytes, seconds, samples, hertz."""
    return parts.limits.published()


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
def is_ready(parts: PartsOf) -> Health:
    """Blocks can be stored: the database and the folder for raw samples can be written."""
    check_health(parts)
    return Health(status="ready")


@router.get("/metrics", response_class=PlainTextResponse, operation_id="get_metrics")
def get_metrics(request: Request, queue: QueueOf) -> str:
    """Counts in the Prometheus text format."""
    counts = request.app.state.counters.all()
    lines = [
        "# HELP barwright_blocks_total Blocks acknowledged, by whether they were new.",
        "# TYPE barwright_blocks_total counter",
        f'barwright_blocks_total{{outcome="stored"}} {counts.get("blocks_stored", 0)}',
        f'barwright_blocks_total{{outcome="known"}} {counts.get("blocks_known", 0)}',
        "# HELP barwright_sets_unfinished Sets waiting for their analysis or being analysed.",
        "# TYPE barwright_sets_unfinished gauge",
        f"barwright_sets_unfinished {queue.length()}",
    ]
    return "\n".join(lines) + "\n"


@router.get("/docs/problems.md", include_in_schema=False)
def get_problems() -> Response:
    """The page every problem's `type` points to."""
    return Response(problem_page(), media_type="text/markdown; charset=utf-8")
