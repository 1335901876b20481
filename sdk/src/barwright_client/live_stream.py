"""Sending one set while it is being lifted."""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self

from barwright_client.answers import BlockReceipt, Closed, SetResult, Stream
from barwright_client.blocks import BlockWriter, Samples
from barwright_client.stream_core import WAIT_S, StreamCore

if TYPE_CHECKING:
    from barwright_client.transport import AsyncTransport, Transport


class StreamWriter(StreamCore):
    """An open stream: push samples, then close it for its result. Leaving a `with` without error closes it.

    result: the set, once closed; stays None after a `with` when the key may not read results.
    closed: what the service said on closing. receipt: its answer to the last block.

    Samples handed to push() are kept until the service has stored them: when push() or flush() raises because the
    service could not be reached, do not push the same samples again; the next push(), flush() or close() sends
    them. A block that the service refuses for its content is dropped and the refusal raised.
    """

    def __init__(self, transport: Transport, stream: Stream, writer: BlockWriter) -> None:
        super().__init__(stream, writer)
        self._transport = transport

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if error is None:
            self._transport.walk(self._leave())

    def push(self, samples: Samples) -> None:
        """Take samples: columns by name, or single numbers for one sample; sends the blocks that became full.

        Names: `t_us` (whole microseconds, device clock) or `t_s`, and accel_x..z, gyro_x..z, position or velocity,
        in the units the stream was opened with.
        """
        self._transport.walk(self._push(samples))

    def flush(self) -> BlockReceipt | None:
        """Send everything held back; the service's last receipt, None when nothing was ever sent."""
        return self._transport.walk(self._flush())

    def close(self, *, wait_s: float = WAIT_S) -> SetResult:
        """Send the rest and end the set; waits up to wait_s for the analysis (see the result's `state`).

        Raises NotAllowed when the key may send but not read results; the set is ended all the same (see `closed`).
        """
        return self._transport.walk(self._close(wait_s))

    def end(self, *, wait_s: float = 0.0) -> Closed:
        """Send the rest and end the set without reading its result."""
        return self._transport.walk(self._end(wait_s))


class AsyncStreamWriter(StreamCore):
    """StreamWriter, awaited: one at a time, as samples have an order."""

    def __init__(self, transport: AsyncTransport, stream: Stream, writer: BlockWriter) -> None:
        super().__init__(stream, writer)
        self._transport = transport

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        if error is None:
            await self._transport.walk(self._leave())

    async def push(self, samples: Samples) -> None:
        """Take samples; see StreamWriter.push()."""
        await self._transport.walk(self._push(samples))

    async def flush(self) -> BlockReceipt | None:
        """Send everything held back; the service's last receipt, None when nothing was ever sent."""
        return await self._transport.walk(self._flush())

    async def close(self, *, wait_s: float = WAIT_S) -> SetResult:
        """Send the rest and end the set; see StreamWriter.close()."""
        return await self._transport.walk(self._close(wait_s))

    async def end(self, *, wait_s: float = 0.0) -> Closed:
        """Send the rest and end the set without reading its result."""
        return await self._transport.walk(self._end(wait_s))
