"""One WebSocket of a sender: credit, acknowledgements, events. The messages are told in docs/live.md."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Coroutine
from contextlib import suppress
from typing import Any

from fastapi import WebSocket
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocketDisconnect, WebSocketState

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.api.block_door import receipt_json
from barwright.api.event_text import data_of, events_from
from barwright.api.metrics import Metrics
from barwright.api.problems import problem_document, problem_of
from barwright.api.shapes.streams import ReceivedAnswer
from barwright.api.waiting import LONGEST_WAIT_S, wait_for
from barwright.ingest.decode import CBOR, JSON
from barwright.ingest.refusals import Refusal
from barwright.live.hub import Closed
from barwright.storage.live_events import LiveEvent
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows.cannot import Cannot, scope_missing
from barwright.workflows.close_stream import close_stream
from barwright.workflows.commit_blocks import BlockReceipt
from barwright.workflows.parts import Parts
from barwright.workflows.read_results import read_set
from barwright.workflows.read_streams import read_stream
from barwright.workflows.receive_block import AT_ONCE_BYTES, SentBlock, read_block, receive_block
from barwright.workflows.set_queue import SetQueue

CREDIT = 16  # blocks a sender may have on their way; each is held in memory until it is stored
GOING_AWAY, TRY_AGAIN = 1012, 1013

Message = str | bytes
Storing = BlockReceipt | Refusal | Cannot | StorageUnavailableError | asyncio.Future[BlockReceipt]


class LiveSocket:
    """Serves an accepted connection until either side ends it."""

    def __init__(
        self,
        socket: WebSocket,
        parts: Parts,
        queue: SetQueue,
        caller: Caller,
        stream_id: str,
        metrics: Metrics,
    ) -> None:
        self._socket = socket
        self._parts = parts
        self._queue = queue
        self._caller = caller
        self._stream_id = stream_id
        self._metrics = metrics
        self._inbox: asyncio.Queue[Message] = asyncio.Queue()
        self._unanswered = 0
        self._storing: asyncio.Queue[tuple[int, int, Storing]] = asyncio.Queue()
        self._turn = asyncio.Lock()
        self._watching: asyncio.Task[None] | None = None

    async def run(self) -> None:
        """Says hello, then takes blocks until the sender hangs up, closes the stream, or breaks the rules."""
        state = await run_in_threadpool(read_stream, self._parts, self._caller, self._stream_id)
        received = [ReceivedAnswer.of(boot).model_dump(mode="json") for boot in state.received]
        hello = {"stream_id": self._stream_id, "set_id": state.stream.set_id, "credit": CREDIT, "received": received}
        await self._send("hello", **hello)
        tasks = {
            asyncio.create_task(one) for one in (self._read(), self._work(), self._acknowledge(), self._until_the_end())
        }
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            watching = {self._watching} if self._watching is not None else set()
            for task in tasks | watching:
                task.cancel()
            await asyncio.gather(*tasks, *watching, return_exceptions=True)

    async def _read(self) -> None:
        """From the network to the inbox. More than the credit allows ends the connection: nothing grows here."""
        while True:
            message = await self._socket.receive()
            if message["type"] == "websocket.disconnect":
                raise WebSocketDisconnect(message.get("code", 1000))
            text, binary = message.get("text"), message.get("bytes")
            self._unanswered += 1
            if self._unanswered > CREDIT + 1:  # an order may come behind as many blocks
                detail = f"More than {CREDIT} blocks were sent without waiting for an acknowledgement."
                await self._send("refused", problem=problem_document("too-much-in-flight", detail, self._path))
                await self._end(TRY_AGAIN)
                return
            self._inbox.put_nowait(text if text is not None else binary or b"")

    async def _work(self) -> None:
        number = 0
        while True:
            message = await self._inbox.get()
            order = _order_in(message)
            if order is None:
                await self._take(number, message)
                number += 1
                continue
            self._unanswered -= 1
            if order.get("type") == "watch":
                await self._watch(order)
            elif order.get("type") == "close":
                await self._storing.join()
                await self._close(order)
                return
            else:
                detail = "`type` has to be watch or close; a block has no `type`."
                await self._send("refused", problem=problem_document("bad-member", detail, self._path))

    async def _take(self, number: int, message: Message) -> None:
        """One block on its way into the database; the next may follow at once. number: on this connection, from 0."""
        body, kind = (message.encode(), JSON) if isinstance(message, str) else (message, CBOR)
        self._storing.put_nowait((number, len(body), await self._begin(SentBlock(body, kind, None))))

    async def _begin(self, sent: SentBlock) -> Storing:
        try:
            form = self._parts.forms.get(self._caller.club_id, self._stream_id)
            if self._parts.writer is None or form is None or len(sent.body) > AT_ONCE_BYTES:
                return await run_in_threadpool(
                    receive_block, self._parts, self._queue, self._caller, self._stream_id, sent
                )
            return self._parts.writer.store_soon(read_block(self._parts, self._caller, form, sent))
        except (Refusal, Cannot, StorageUnavailableError) as error:
            return error

    async def _acknowledge(self) -> None:
        """Answers blocks in the order in which they came."""
        while True:
            number, size, storing = await self._storing.get()
            try:
                receipt = await receipt_of(storing)
            except (Refusal, Cannot, StorageUnavailableError) as error:
                again = isinstance(error, StorageUnavailableError)
                await self._send("refused", block=number, again=again, problem=problem_of(error, self._path))
            else:
                self._metrics.block(receipt.stored, size)
                await self._send_text(f'{{"type":"ack","block":{number},{receipt_json(receipt)[1:]}')
            self._unanswered -= 1
            self._storing.task_done()

    async def _watch(self, order: dict[str, Any]) -> None:
        if not self._caller.may(Scope.RESULTS_READ):
            refused = scope_missing(Scope.RESULTS_READ, "watch events")
            await self._send("refused", problem=problem_of(refused, self._path))
            return
        last_id = order.get("last_event_id", 0)
        if self._watching is None and type(last_id) is int:
            self._watching = asyncio.create_task(self._pass_on(last_id))

    async def _pass_on(self, last_id: int) -> None:
        async for event in events_from(self._parts, self._caller, self._stream_id, last_id):
            if isinstance(event, LiveEvent):
                await self._send("event", id=event.id, event=event.kind, data=data_of(event))
            elif event is not None:
                await self._send("event", id=None, event="gap", data=event)

    async def _close(self, order: dict[str, Any]) -> None:
        wait = order.get("wait", 0)
        wait_s = min(max(float(wait), 0.0), LONGEST_WAIT_S) if isinstance(wait, int | float) else 0.0
        closed = await run_in_threadpool(close_stream, self._parts, self._queue, self._caller, self._stream_id)
        await wait_for(closed.analysis, wait_s)
        found = await run_in_threadpool(read_set, self._parts, self._caller, closed.set_id)
        await self._send("closed", set_id=found.id, state=found.state, revision=found.revision)
        await self._end(1000)

    async def _until_the_end(self) -> None:
        """Waits for the service to stop, without hearing any event."""
        listener = self._parts.hub.listen(self._caller.club_id, "")
        try:
            while True:
                await listener.next(3600.0)
        except Closed:
            await self._end(GOING_AWAY)
        finally:
            self._parts.hub.leave(listener)

    async def _send(self, kind: str, **members: Any) -> None:
        await self._send_text(
            json.dumps({"type": kind, **members}, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        )

    async def _send_text(self, text: str) -> None:
        async with self._turn:
            await self._quietly(self._socket.send_text(text))

    async def _end(self, code: int) -> None:
        async with self._turn:
            if self._socket.application_state is WebSocketState.CONNECTED:
                await self._quietly(self._socket.close(code))

    async def _quietly(self, sending: Coroutine[Any, Any, None]) -> None:
        with suppress(RuntimeError):  # the other side has gone meanwhile; the reader finds out
            await sending

    @property
    def _path(self) -> str:
        return str(self._socket.url.path)


async def receipt_of(storing: Storing) -> BlockReceipt:
    """What became of a block. Raises what it was refused with."""
    if isinstance(storing, BlockReceipt):
        return storing
    if isinstance(storing, Exception):
        raise storing
    return await storing


def _order_in(message: Message) -> dict[str, Any] | None:
    """A message that is no block: a small JSON object with `type`."""
    if not isinstance(message, str) or len(message) > 1000 or '"type"' not in message:
        return None
    try:
        order = json.loads(message)
    except (ValueError, RecursionError):  # a thousand brackets are enough for the second
        return None
    return order if isinstance(order, dict) and "type" in order else None
