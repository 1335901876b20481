"""A function that makes a call, as a method of Client or of AsyncClient: the two differ here and nowhere else."""

from __future__ import annotations

import inspect
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from functools import wraps
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, Protocol, TypeVar

from barwright_client.call import Call, Pages
from barwright_client.pages import all_items, all_items_async

if TYPE_CHECKING:
    from barwright_client.transport import AsyncTransport, Transport

P = ParamSpec("P")
T = TypeVar("T")


class Sends(Protocol):
    """What has a transport that blocks."""

    _transport: Transport


class SendsAsync(Protocol):
    """What has a transport that is awaited."""

    _transport: AsyncTransport


def asks(make: Callable[P, Call[T]]) -> Callable[Concatenate[Sends, P], T]:
    """A method of Client that makes this call."""

    @wraps(make)
    def method(client: Sends, /, *args: P.args, **kwargs: P.kwargs) -> T:
        return client._transport.send(make(*args, **kwargs))

    _sign(method, make)
    return method


def lists(make: Callable[P, Pages[T]]) -> Callable[Concatenate[Sends, P], Iterator[T]]:
    """A method of Client that goes through this list."""

    @wraps(make)
    def method(client: Sends, /, *args: P.args, **kwargs: P.kwargs) -> Iterator[T]:
        pages = make(*args, **kwargs)
        return all_items(lambda cursor: client._transport.send(pages.at(cursor)))

    _sign(method, make)
    return method


def asks_async(make: Callable[P, Call[T]]) -> Callable[Concatenate[SendsAsync, P], Awaitable[T]]:
    """A method of AsyncClient that makes this call."""

    @wraps(make)
    async def method(client: SendsAsync, /, *args: P.args, **kwargs: P.kwargs) -> T:
        return await client._transport.send(make(*args, **kwargs))

    _sign(method, make)
    return method


def lists_async(make: Callable[P, Pages[T]]) -> Callable[Concatenate[SendsAsync, P], AsyncIterator[T]]:
    """A method of AsyncClient that goes through this list."""

    @wraps(make)
    def method(client: SendsAsync, /, *args: P.args, **kwargs: P.kwargs) -> AsyncIterator[T]:
        pages = make(*args, **kwargs)
        return all_items_async(lambda cursor: client._transport.send(pages.at(cursor)))

    _sign(method, make)
    return method


def _sign(method: Any, make: Callable[..., Any]) -> None:
    """help() and editors see the arguments of the call, behind `self`."""
    told = inspect.signature(make)
    itself = inspect.Parameter("self", inspect.Parameter.POSITIONAL_ONLY)
    method.__signature__ = told.replace(parameters=[itself, *told.parameters.values()])
