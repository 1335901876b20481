"""What routes ask for: the parts, and the caller with the right scope."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import Depends, Request, Security
from fastapi.dependencies.models import Dependant
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from starlette.requests import HTTPConnection

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.api.rate_limits import count
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


def require(*any_of: Scope, device_keys: bool = False) -> Callable[..., Caller]:
    """A dependency that answers the caller when the key carries one of these scopes.

    device_keys: the route is one that a key of a single device may use.
    """

    def caller(
        request: Request,
        parts: PartsOf,
        credentials: Annotated[HTTPAuthorizationCredentials | None, Security(_bearer)],
    ) -> Caller:
        if credentials is None:
            raise Cannot("not-signed-in", "Send a key: `Authorization: Bearer bw_...`.")
        return caller_with(parts, request, credentials.credentials, *any_of, device_keys=device_keys)

    return caller


def caller_with(
    parts: Parts, connection: HTTPConnection, key: str, *any_of: Scope, device_keys: bool = False
) -> Caller:
    """The caller behind a key that carries one of these scopes, counted. Raises Cannot."""
    try:
        found = who_calls(parts.database, key, parts.now())
    except Cannot:
        address = "" if connection.client is None else connection.client.host
        count(connection.scope, parts.rates.wrong_keys, address, only_when_over=True)
        raise
    parts.uses.note(found.key_id, parts.now())
    count(connection.scope, parts.rates.requests, found.key_id)
    if not any(found.may(scope) for scope in any_of):
        wanted = " or ".join(any_of)
        raise Cannot("scope-missing", f"This key may not do this: it lacks the scope {wanted}.")
    if found.device_id is not None and not device_keys:
        raise Cannot("scope-missing", "This key is that of one device: it sends its blocks, and may do nothing else.")
    parts.callers.keep(key, found)
    return found


Sender = Annotated[Caller, Depends(require(Scope.STREAMS_WRITE))]
Reader = Annotated[Caller, Depends(require(Scope.RESULTS_READ))]
Registrar = Annotated[Caller, Depends(require(Scope.ATHLETES_WRITE))]
ReaderOrSender = Annotated[Caller, Depends(require(Scope.RESULTS_READ, Scope.STREAMS_WRITE))]
ReaderOrRegistrar = Annotated[Caller, Depends(require(Scope.RESULTS_READ, Scope.ATHLETES_WRITE))]
DeviceOrSender = Annotated[Caller, Depends(require(Scope.STREAMS_WRITE, device_keys=True))]
DeviceOrReader = Annotated[Caller, Depends(require(Scope.RESULTS_READ, Scope.STREAMS_WRITE, device_keys=True))]
RegistrarOrSender = Annotated[Caller, Depends(require(Scope.ATHLETES_WRITE, Scope.STREAMS_WRITE))]
Admin = Annotated[Caller, Depends(require(Scope.CLUB_ADMIN))]
