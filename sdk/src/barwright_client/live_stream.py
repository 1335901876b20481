"""Sending one set while it is being lifted."""

from __future__ import annotations

from collections import deque
from contextlib import suppress
from types import TracebackType
from typing import TYPE_CHECKING, Self

from barwright_client import calls
from barwright_client.answers import BlockReceipt, Closed, SetResult, Stream
from barwright_client.blocks import Block, BlockWriter, Samples
from barwright_client.errors import NotAllowed, NotSignedIn, Refused, TooFast

if TYPE_CHECKING:
    from barwright_client.transport import Transport

_WAIT_S = 10.0
_BLOCK_MAY_BE_FINE = (NotSignedIn, NotAllowed, TooFast)


class StreamWriter:
    """An open stream: push samples, then close it for its result. Leaving a `with` without error closes it.

    result: the set, once closed; stays None after a `with` when the key may not read results.
    closed: what the service said on closing. receipt: its answer to the last block.

    Samples handed to push() are kept until the service has stored them: when push() or flush() raises because the
    service could not be reached, do not push the same samples again; the next push(), flush() or close() sends
    them. A block that the service refuses for its content is dropped and the refusal raised.
    """

    def __init__(self, transport: Transport, stream: Stream, writer: BlockWriter) -> None:
        self.id = stream.id
        self.set_id = stream.set_id
        self.result: SetResult | None = None
        self.closed: Closed | None = None
        self.receipt: BlockReceipt | None = None
        self._transport = transport
        self._writer = writer
        self._unsent: deque[Block] = deque()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if error is None:
            self.end(wait_s=_WAIT_S)
            with suppress(NotAllowed):
                self.close()

    @property
    def unsent(self) -> int:
        """Samples not yet stored by the service."""
        return len(self._writer) + sum(len(block.t_us) for block in self._unsent)

    def push(self, samples: Samples) -> None:
        """Take samples: columns by name, or single numbers for one sample; sends the blocks that became full.

        Names: `t_us` (whole microseconds, device clock) or `t_s`, and accel_x..z, gyro_x..z, position or velocity,
        in the units the stream was opened with.
        """
        if self.closed is not None:
            raise ValueError("the stream is closed; open a new one for the next set")
        self._unsent.extend(self._writer.add(samples))
        self._send()

    def flush(self) -> BlockReceipt | None:
        """Send everything held back; the service's last receipt, None when nothing was ever sent."""
        self._unsent.extend(self._writer.rest())
        self._send()
        return self.receipt

    def close(self, *, wait_s: float = _WAIT_S) -> SetResult:
        """Send the rest and end the set; waits up to wait_s for the analysis (see the result's `state`).

        Raises NotAllowed when the key may send but not read results; the set is ended all the same (see `closed`).
        """
        if self.result is None:
            self.end(wait_s=wait_s)
            self.result = self._transport.send(calls.read_set(self.set_id))
        return self.result

    def end(self, *, wait_s: float = 0.0) -> Closed:
        """Send the rest and end the set without reading its result."""
        if self.closed is None:
            self.flush()
            self.closed = self._transport.send(calls.close_stream(self.id, wait_s))
        return self.closed

    def _send(self) -> None:
        while self._unsent:
            try:
                self.receipt = self._transport.send(calls.send_block(self.id, self._unsent[0]))
            except _BLOCK_MAY_BE_FINE:
                raise
            except Refused:
                self._unsent.popleft()
                raise
            self._unsent.popleft()
