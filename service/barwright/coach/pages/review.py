"""The review list: look, tick off."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from barwright.analysis.reps.results import RepPath
from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, go_to
from barwright.coach.frame import display_of, page
from barwright.coach.views.review import review_view
from barwright.workflows.parts import Parts
from barwright.workflows.read_results import read_path
from barwright.workflows.remote_athletes import remote_names
from barwright.workflows.review_list import Waiting, look_at, review_list
from barwright.workflows.sign_in import SignedIn

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_DRAWN_SETS, _DRAWN_REPS = 12, 3


@router.get("/review")
def review_page(request: Request, parts: PartsOf, coach: CoachOf, of: str = "remote") -> Response:
    """Remote lifts nobody has looked at; of=all: everybody's."""
    everybody = of == "all"
    waiting = review_list(parts, coach.caller, everybody)
    names = remote_names(parts, coach.caller)
    view = review_view(waiting, _paths(parts, coach, waiting), everybody, names, display_of(parts, coach))
    return page(request, coach, "review.html", "review", view)


@router.post("/review")
def looked_at(parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """Ticks sets off."""
    look_at(parts, coach.caller, [one for one in fields.all("set") if one])
    return go_to("/review?of=all" if fields.text("of") == "all" else "/review")


def _paths(parts: Parts, coach: SignedIn, waiting: list[Waiting]) -> dict[tuple[str, int], RepPath]:
    out = {}
    for one in waiting[:_DRAWN_SETS]:
        quality = one.lift_set.quality
        if quality is None or not quality.horizontal:
            continue
        for rep in one.lift_set.reps[:_DRAWN_REPS]:
            out[one.lift_set.id, rep.index] = read_path(parts, coach.caller, one.lift_set.id, rep.index).path
    return out
