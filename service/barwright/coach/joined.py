"""All pages, for the app to take in."""

from __future__ import annotations

from fastapi import FastAPI, Request
from starlette.exceptions import HTTPException
from starlette.responses import Response

from barwright.coach.at_the_door import wrong
from barwright.coach.attempts import Attempts
from barwright.coach.pages import (
    athletes,
    bench,
    club,
    devices,
    live,
    plan,
    review,
    sets,
    sign_in,
    static_files,
    today,
    wall,
)

PAGES = (static_files, sign_in, today, live, athletes, plan, review, sets, wall, devices, bench, club)
_NOT_PAGES = ("/v1/", "/healthz", "/metrics", "/openapi.json", "/docs")


def install(app: FastAPI) -> None:
    """Every page, and a page for addresses that lead nowhere when a browser asks; the API keeps its problems."""
    app.state.attempts = Attempts()
    for one in PAGES:
        app.include_router(one.router)
    as_problem = app.exception_handlers[HTTPException]

    async def as_page(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        wants_html = "text/html" in request.headers.get("accept", "")
        if error.status_code == 404 and wants_html and not request.url.path.startswith(_NOT_PAGES):
            return wrong(request, 404, "There is no such page", "The address leads nowhere; perhaps a letter is lost.")
        answer = as_problem(request, error)
        assert not isinstance(answer, Response)
        made = await answer
        assert isinstance(made, Response)
        return made

    app.add_exception_handler(HTTPException, as_page)
