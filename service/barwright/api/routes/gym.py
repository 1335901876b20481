"""One cheap call for a screen beside the platform."""

from __future__ import annotations

from fastapi import APIRouter, Response

from barwright.api.conditional import NOT_MODIFIED, IfNoneMatch, etag_of, is_current
from barwright.api.dependencies import PartsOf, Reader
from barwright.api.openapi import SIGNED_IN, problems
from barwright.api.shapes.gym import GymAnswer
from barwright.workflows.gym_screen import gym_screen, screen_facts

router = APIRouter(prefix="/v1/athletes", tags=["live"])


@router.get(
    "/{athlete_id}/gym",
    response_model=GymAnswer,
    responses={**NOT_MODIFIED, **problems(*SIGNED_IN, "not-found", "request-invalid")},
    operation_id="get_gym_screen",
)
def get_gym(
    caller: Reader, parts: PartsOf, response: Response, athlete_id: str, if_none_match: IfNoneMatch = None
) -> GymAnswer | Response:
    """Last reps with their zones, whether to stop, and the next set's load; send the ETag back to poll for little."""
    known = screen_facts(parts, caller, athlete_id)
    tag = etag_of(known.mark)
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    if is_current(tag, if_none_match):
        return Response(status_code=304, headers=headers)
    response.headers.update(headers)
    return GymAnswer.of(athlete_id, gym_screen(parts, caller, athlete_id, known))
