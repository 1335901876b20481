"""The client that is awaited: the same methods as Client."""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self, Unpack

from barwright_client import calls, stream_calls
from barwright_client.attempts import RetryPolicy
from barwright_client.blocks import BlockWriter, CutBy
from barwright_client.live_stream import AsyncStreamWriter
from barwright_client.methods import asks_async, lists_async
from barwright_client.stream_calls import About

if TYPE_CHECKING:
    from barwright_client.transport import AsyncHttpClient


class AsyncClient:
    """A Barwright service and one key, for asyncio: `async with AsyncClient(...)`.

    The methods of Client, awaited; lists are gone through by `async for`. http: an httpx.AsyncClient of your own.
    """

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout_s: float = 20.0,
        http: AsyncHttpClient | None = None,
        retry: RetryPolicy | None = None,
    ) -> None:
        from barwright_client.transport import AsyncTransport, Service

        self._transport = AsyncTransport(Service(base_url, key, timeout_s, retry or RetryPolicy()), http)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections (not those of an `http` handed in)."""
        await self._transport.close()

    create_athlete = asks_async(calls.create_athlete)
    athletes = lists_async(calls.athletes)
    delete_athlete = asks_async(calls.delete_athlete)
    export_athlete = asks_async(calls.export_athlete)

    create_device = asks_async(calls.create_device)
    devices = lists_async(calls.devices)
    calibrate = asks_async(calls.calibrate)
    calibrations = lists_async(calls.calibrations)
    calibration = asks_async(calls.calibration)
    delete_calibration = asks_async(calls.delete_calibration)

    record = asks_async(stream_calls.record)
    sets = lists_async(calls.sets)
    set = asks_async(calls.read_set)
    reanalyse = asks_async(calls.reanalyse)
    path = asks_async(calls.path)

    limits = asks_async(calls.limits)
    lifts = asks_async(calls.lifts)

    async def stream(self, *, cut_by: CutBy | None = None, **about: Unpack[About]) -> AsyncStreamWriter:
        """Open a stream to push samples into while the set goes on; see Client.stream()."""
        opened = await self._transport.send(stream_calls.open_stream(**about))
        return AsyncStreamWriter(self._transport, opened, BlockWriter(cut_by or CutBy()))
