"""The door: passphrase, one-time link, out again."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from barwright.coach.at_the_door import COOKIE, CoachOf, FieldsOf, PageRoute, PartsOf, go_to, keep_signed_in
from barwright.coach.attempts import MOST_OF_ADDRESS, WITHIN, Attempts
from barwright.coach.rendering import html
from barwright.workflows.sign_in import sign_in_with_link, sign_in_with_passphrase, sign_out

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_WRONG = "Name and passphrase do not belong together. Look for a capital letter or a missing word, and try again."
_TOO_OFTEN = "That was wrong too often. Wait ten minutes, or use a one-time link."
_OVER = "This link is over: it was used already, or a day has passed. Sign in below, or ask for a new link."
_ELSEWHERE = "The form came from another place. Load this page again and sign in here."


@router.get("/sign-in")
def door(request: Request, next: str = "/") -> Response:  # noqa: A002 - the name in the address
    """The form."""
    return _door(request, next)


@router.post("/sign-in")
def come_in(
    request: Request,
    parts: PartsOf,
    name: Annotated[str, Form()] = "",
    passphrase: Annotated[str, Form()] = "",
    next: Annotated[str, Form()] = "/",  # noqa: A002
) -> Response:
    """By name and passphrase."""
    if not _from_here(request):
        return _door(request, next, name, _ELSEWHERE, 403)
    now, attempts = parts.now(), request.app.state.attempts
    assert isinstance(attempts, Attempts)
    address = "" if request.client is None else request.client.host
    wait_s = attempts.wait_s(name, now, address)
    if wait_s:
        answer = _door(request, next, name, _TOO_OFTEN, 429)
        answer.headers["Retry-After"] = str(wait_s)
        answer.headers["RateLimit-Policy"] = f'"sign-in";q={MOST_OF_ADDRESS};w={int(WITHIN.total_seconds())}'
        answer.headers["RateLimit"] = f'"sign-in";r=0;t={wait_s}'
        return answer
    token = sign_in_with_passphrase(parts, name, passphrase)
    if token is None:
        attempts.note_wrong(name, now, address)
        return _door(request, next, name, _WRONG, 401)
    attempts.forget(name)
    return keep_signed_in(request, go_to(_inside(next)), token)


@router.get("/sign-in/{link}")
def link_page(request: Request, link: str) -> Response:
    """A button to come in with; programs that look at links beforehand press none."""
    return html(request, "link.html", {})


@router.post("/sign-in/{link}")
def come_in_by_link(request: Request, parts: PartsOf, link: str) -> Response:
    """By a link that works once."""
    token = sign_in_with_link(parts, link) if _from_here(request) else None
    if token is None:
        return _door(request, "/", said=_OVER, status=410)
    return keep_signed_in(request, go_to("/"), token)


@router.post("/sign-out")
def go_out(request: Request, parts: PartsOf, _coach: CoachOf, _fields: FieldsOf) -> Response:
    """Ends the session."""
    sign_out(parts, request.cookies[COOKIE])
    answer = go_to("/sign-in")
    answer.delete_cookie(COOKIE)
    return answer


def _door(request: Request, wanted: str, name: str = "", said: str = "", status: int = 200) -> Response:
    return html(request, "sign_in.html", {"next": _inside(wanted), "name": name, "said": said}, status)


def _inside(path: str) -> str:
    """Only ways within this service: nobody is led elsewhere by an address somebody made up."""
    good = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if good else "/"


def _from_here(request: Request) -> bool:
    """Browsers say where a form came from; before there is a session, that is what tells ours from others."""
    told = request.headers.get("sec-fetch-site")
    if told is not None:
        return told in ("same-origin", "none")
    origin = request.headers.get("origin")
    return origin is None or origin.split("://")[-1] == request.headers.get("host")
