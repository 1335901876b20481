"""What both stream writers do, as steps: which calls in which order, and what is kept until it is stored."""

from __future__ import annotations

from collections import deque
from contextlib import suppress
from typing import Any

from barwright_client.answers import BlockReceipt, Closed, SetResult, Stream
from barwright_client.blocks import Block, BlockWriter, Samples
from barwright_client.call import Call, Steps
from barwright_client.calls import read_set
from barwright_client.errors import NotAllowed, NotSignedIn, Refused, TooFast
from barwright_client.stream_calls import close_stream, send_block

WAIT_S = 10.0
_BLOCK_MAY_BE_FINE = (NotSignedIn, NotAllowed, TooFast)


class StreamCore:
    """An open stream without a network.

    result: the set, once closed; stays None after a `with` when the key may not read results.
    closed: what the service said on closing. receipt: its answer to the last block.
    """

    def __init__(self, stream: Stream, writer: BlockWriter) -> None:
        self.id = stream.id
        self.set_id = stream.set_id
        self.result: SetResult | None = None
        self.closed: Closed | None = None
        self.receipt: BlockReceipt | None = None
        self._writer = writer
        self._unsent: deque[Block] = deque()

    @property
    def unsent(self) -> int:
        """Samples not yet stored by the service."""
        return len(self._writer) + sum(len(block.t_us) for block in self._unsent)

    def _push(self, samples: Samples) -> Steps[None]:
        if self.closed is not None:
            raise ValueError("the stream is closed; open a new one for the next set")
        self._unsent.extend(self._writer.add(samples))
        yield from self._send()

    def _flush(self) -> Steps[BlockReceipt | None]:
        self._unsent.extend(self._writer.rest())
        yield from self._send()
        return self.receipt

    def _close(self, wait_s: float) -> Steps[SetResult]:
        if self.result is None:
            yield from self._end(wait_s)
            self.result = yield read_set(self.set_id)
        return self.result

    def _end(self, wait_s: float) -> Steps[Closed]:
        if self.closed is None:
            yield from self._flush()
            self.closed = yield close_stream(self.id, wait_s)
        return self.closed

    def _leave(self) -> Steps[None]:
        yield from self._end(WAIT_S)
        with suppress(NotAllowed):  # a key that only sends; the set is ended all the same
            yield from self._close(0.0)

    def _send(self) -> Steps[None]:
        while self._unsent:
            call: Call[Any] = send_block(self.id, self._unsent[0])
            try:
                self.receipt = yield call
            except _BLOCK_MAY_BE_FINE:
                raise
            except Refused:
                self._unsent.popleft()
                raise
            self._unsent.popleft()
