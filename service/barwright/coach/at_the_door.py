"""Who is asking, and whether a form is one of ours."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import Depends, Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from barwright.access.sign_in import check_form_token, form_token
from barwright.coach.forms import Fields
from barwright.coach.rendering import html
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts
from barwright.workflows.set_queue import SetQueue
from barwright.workflows.sign_in import SESSION_LASTS, SignedIn, who_is_signed_in

COOKIE = "barwright_session"
_TITLES = {404: "Not found", 403: "Not allowed", 409: "That does not fit", 422: "Something is not right"}
_STATUS = {"not-found": 404, "name-taken": 409, "set-open": 409, "scope-missing": 403}


class NotSignedIn(Exception):  # noqa: N818 - it reads as what happened
    """The page is for coaches only."""


class StrangeForm(Exception):  # noqa: N818 - it reads as what happened
    """The form does not carry the token of this session."""


async def _parts(request: Request) -> Parts:
    parts = request.app.state.parts
    assert isinstance(parts, Parts)
    return parts


async def _queue(request: Request) -> SetQueue:
    queue = request.app.state.queue
    assert isinstance(queue, SetQueue)
    return queue


PartsOf = Annotated[Parts, Depends(_parts)]
QueueOf = Annotated[SetQueue, Depends(_queue)]


def _signed_in(request: Request, parts: PartsOf) -> SignedIn:
    token = request.cookies.get(COOKIE)
    found = None if token is None else who_is_signed_in(parts, token)
    if found is None:
        raise NotSignedIn
    return found


CoachOf = Annotated[SignedIn, Depends(_signed_in)]


async def _fields(request: Request, _coach: CoachOf) -> Fields:
    form = await request.form()
    told = [(name, value) for name, value in form.multi_items() if not isinstance(value, UploadFile)]
    fields = Fields(tuple((name, str(value)) for name, value in told))
    if not check_form_token(request.cookies.get(COOKIE, ""), fields.text("token")):
        raise StrangeForm
    return fields


FieldsOf = Annotated[Fields, Depends(_fields)]


def token_for(request: Request) -> str:
    """What the forms of a page carry."""
    return form_token(request.cookies.get(COOKIE, ""))


def keep_signed_in(request: Request, answer: Response, token: str) -> Response:
    """Puts the session's token into the browser; scripts cannot read it."""
    answer.set_cookie(
        COOKIE,
        token,
        max_age=int(SESSION_LASTS.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return answer


def go_to(path: str) -> Response:
    """Sends the browser on with GET; htmx follows too."""
    return RedirectResponse(path, 303)


def _to_the_door(request: Request) -> Response:
    here = request.url.path if request.method == "GET" else "/"
    door = "/sign-in" if here == "/" else f"/sign-in?next={quote(here)}"
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"HX-Redirect": door})
    return go_to(door)


class PageRoute(APIRoute):
    """A route whose errors are pages in plain words."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The handler of FastAPI with errors as pages around it."""
        handle = super().get_route_handler()

        async def page(request: Request) -> Response:
            try:
                return await handle(request)
            except NotSignedIn:
                return _to_the_door(request)
            except StrangeForm:
                return wrong(request, 403, "This form is too old", "Go back, load the page again, and send it again.")
            except Cannot as error:
                status = _STATUS.get(error.code, 422)
                return wrong(request, status, _TITLES[status], error.detail)
            except RequestValidationError:
                return wrong(request, 422, "This address is not right", "A part of it is missing or has no such form.")
            except StorageUnavailableError:
                return wrong(
                    request, 503, "Nothing can be read or kept just now", "Nothing was half kept. Try again soon."
                )
            except HTTPException as error:
                return wrong(request, error.status_code, "That did not work", str(error.detail))

        return page


def wrong(request: Request, status: int, title: str, detail: str) -> Response:
    """A page that says what was wrong; with the tabs for somebody who has a session, or had one."""
    who = {"club": ""} if COOKIE in request.cookies else None
    return html(request, "wrong.html", {"title": title, "detail": detail, "who": who}, status)
