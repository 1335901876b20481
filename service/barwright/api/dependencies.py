"""What routes ask for: the parts, and the caller with the right scope."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import Depends, Request, Security
from fastapi.dependencies.models import Dependant
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.workflows.cannot import Cannot
from barwright.workflows.manage_keys import who_calls
from barwright.workflows.parts import Parts
from barwright.workflows.set_queue import SetQueue

_bearer = HTTPBearer(
    auto_error=False,
    scheme_name="key",
    description="A club's key, from `barwright new-key`: `Authorization: Bearer bw_...`",
)


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


async def only_known_queries(request: Request) -> None:
    """Refuses a parameter the route does not know: a misspelt filter must not look like no filter."""
    if not request.query_params:
        return
    known = _queries_of(request.scope["route"].dependant)
    for name in request.query_params:
        if name not in known:
            choices = f"the route knows {', '.join(known)}" if known else "the route has none"
            raise Cannot("request-invalid", f"`{name}` is not a parameter that is known here; {choices}.", name)


def _queries_of(asks: Dependant) -> list[str]:
    """Names of query parameters of a route and of what it depends on."""
    own = [one.alias for one in asks.query_params]
    return own + [name for one in asks.dependencies for name in _queries_of(one) if name not in own]


def require(*any_of: Scope) -> Callable[..., Caller]:
    """A dependency that answers the caller when the key carries one of these scopes."""

    def caller(
        parts: PartsOf, credentials: Annotated[HTTPAuthorizationCredentials | None, Security(_bearer)]
    ) -> Caller:
        if credentials is None:
            raise Cannot("not-signed-in", "Send a key: `Authorization: Bearer bw_...`.")
        return caller_with(parts, credentials.credentials, *any_of)

    return caller


def caller_with(parts: Parts, key: str, *any_of: Scope) -> Caller:
    """The caller behind a key that carries one of these scopes. Raises Cannot."""
    found = who_calls(parts.database, key)
    if found is None:
        raise Cannot("key-not-known", "This key is not known; look for a letter lost in copying, or make a new key.")
    if not any(found.may(scope) for scope in any_of):
        wanted = " or ".join(any_of)
        raise Cannot("scope-missing", f"This key may not do this: it lacks the scope {wanted}.")
    return found


Sender = Annotated[Caller, Depends(require(Scope.STREAMS_WRITE))]
Reader = Annotated[Caller, Depends(require(Scope.RESULTS_READ))]
Registrar = Annotated[Caller, Depends(require(Scope.ATHLETES_WRITE))]
ReaderOrSender = Annotated[Caller, Depends(require(Scope.RESULTS_READ, Scope.STREAMS_WRITE))]
ReaderOrRegistrar = Annotated[Caller, Depends(require(Scope.RESULTS_READ, Scope.ATHLETES_WRITE))]
RegistrarOrSender = Annotated[Caller, Depends(require(Scope.ATHLETES_WRITE, Scope.STREAMS_WRITE))]
Admin = Annotated[Caller, Depends(require(Scope.CLUB_ADMIN))]
