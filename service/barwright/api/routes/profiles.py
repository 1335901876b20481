"""Load-velocity profiles, zones, velocity loss, and maxima from repetitions."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from barwright.api.dependencies import PartsOf, Reader
from barwright.api.openapi import SIGNED_IN, problems
from barwright.api.shapes.days import On
from barwright.api.shapes.maxima import RepMaxima
from barwright.api.shapes.profiles import ProfileAnswer, VelocityLossAnswer, ZonesAnswer
from barwright.workflows.read_profile import read_profile, read_zones
from barwright.workflows.read_velocity_loss import loss_in_set, rep_max_of

router = APIRouter(tags=["profiles"])

_PROBLEMS = problems(*SIGNED_IN, "not-found", "unknown-lift", "in-the-future", "not-plausible", "request-invalid")


@router.get("/v1/athletes/{athlete_id}/profiles/{lift}", responses=_PROBLEMS, operation_id="get_profile")
def get_profile(caller: Reader, parts: PartsOf, athlete_id: str, lift: str, on: On = None) -> ProfileAnswer:
    """The load-velocity line of an athlete and lift, the maximum it predicts, and what it rests on."""
    return ProfileAnswer.of(read_profile(parts, caller, athlete_id, lift, on))


@router.get("/v1/athletes/{athlete_id}/zones/{lift}", responses=_PROBLEMS, operation_id="get_zones")
def get_zones(
    caller: Reader,
    parts: PartsOf,
    athlete_id: str,
    lift: str,
    velocity: Annotated[float | None, Query(gt=0, le=6, allow_inf_nan=False, description="m/s")] = None,
    on: On = None,
) -> ZonesAnswer:
    """Velocity zones in m/s and in kg for this athlete; with `velocity` the zone, % and kg it stands for."""
    return ZonesAnswer.of(read_zones(parts, caller, athlete_id, lift, on, velocity))


@router.get(
    "/v1/sets/{set_id}/velocity_loss",
    responses=problems(*SIGNED_IN, "not-found", "not-plausible", "request-invalid"),
    operation_id="get_velocity_loss",
)
def get_velocity_loss(
    caller: Reader,
    parts: PartsOf,
    set_id: str,
    limit: Annotated[
        float | None,
        Query(gt=0, lt=100, allow_inf_nan=False, description="Percent at which to stop; left out: the plan's."),
    ] = None,
) -> VelocityLossAnswer:
    """How much slower the last made rep of a set was than its fastest, and whether that is a reason to stop."""
    return VelocityLossAnswer.of(loss_in_set(parts, caller, set_id, limit))


@router.get(
    "/v1/rep_max",
    responses=problems(*SIGNED_IN, "unknown-lift", "unknown-unit", "bad-load", "not-plausible", "request-invalid"),
    operation_id="get_rep_max",
)
def get_rep_max(
    caller: Reader,
    load: Annotated[float, Query(allow_inf_nan=False, description="Kilograms, or `unit`.")],
    reps: Annotated[int, Query(ge=1, le=10, description="Repetitions to failure.")],
    unit: Annotated[str | None, Query(max_length=20, description="kg or [lb_av].")] = None,
    lift: Annotated[str | None, Query(max_length=64, description="A code of GET /v1/lifts.")] = None,
) -> RepMaxima:
    """The maximum from repetitions to failure by five published formulas, for athletes without velocities."""
    return RepMaxima.of(rep_max_of(load, unit or None, reps, lift or None))
