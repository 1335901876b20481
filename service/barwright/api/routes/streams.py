"""Streams: begin, send blocks, look, close."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool

from barwright.api.dependencies import DeviceOrReader, DeviceOrSender, PartsOf, QueueOf, ReaderOrSender
from barwright.api.idempotency import RetryOf
from barwright.api.metrics import Metrics
from barwright.api.openapi import JSON_BODY, RETRY, SIGNED_IN, problems
from barwright.api.paging import Cursor, Limit, page, time_and_id_in
from barwright.api.raw_shapes import BLOCK_BODY
from barwright.api.routes.created import created
from barwright.api.shapes.streams import (
    ClosedAnswer,
    NewStream,
    ReceiptAnswer,
    StreamAnswer,
    StreamPage,
    StreamWithBlocks,
)
from barwright.api.waiting import Wait, wait_for
from barwright.ingest.refusals import REFUSALS
from barwright.workflows.begin_stream import begin_stream
from barwright.workflows.close_stream import close_stream
from barwright.workflows.read_results import read_set
from barwright.workflows.read_streams import list_streams, read_stream
from barwright.workflows.receive_block import SentBlock, receive_block

router = APIRouter(prefix="/v1/streams", tags=["streams"])

_BLOCK_REFUSALS = [code for code in REFUSALS if code not in ("bad-row", "unit-unclear")]


@router.post(
    "",
    status_code=201,
    response_model=StreamAnswer,
    responses=problems(
        *SIGNED_IN,
        *JSON_BODY,
        *RETRY,
        "not-found",
        "unknown-lift",
        "bad-load",
        "in-the-future",
        "kind-mismatch",
        "bad-bar-axis",
        "unknown-unit",
        "rate-out-of-limits",
    ),
    operation_id="begin_stream",
)
def post(caller: DeviceOrSender, parts: PartsOf, told: NewStream, retry: RetryOf) -> Response:
    """Begin a stream; its id is where the blocks go."""
    body = begin_stream(parts, caller, told.request(), retry, lambda s: StreamAnswer.of(s).model_dump_json().encode())
    return created("/v1/streams", body)


@router.get("", response_model=StreamPage, responses=problems(*SIGNED_IN, "bad-cursor"), operation_id="list_streams")
def get_list(
    request: Request,
    response: Response,
    caller: ReaderOrSender,
    parts: PartsOf,
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Any:
    """Streams, the newest first."""
    found = list_streams(parts, caller, time_and_id_in(cursor), limit + 1)
    return page(request, response, found, limit, lambda s: (s.created_at.isoformat(), s.id), StreamAnswer.of)


@router.get("/{stream_id}", responses=problems(*SIGNED_IN, "not-found", "request-invalid"), operation_id="get_stream")
def get_one(caller: DeviceOrReader, parts: PartsOf, stream_id: str) -> StreamWithBlocks:
    """One stream: what came of it and what is missing."""
    return StreamWithBlocks.of_state(read_stream(parts, caller, stream_id))


@router.post(
    "/{stream_id}/blocks",
    responses=problems(*SIGNED_IN, *_BLOCK_REFUSALS, "request-too-large", "not-found", "stream-too-long"),
    openapi_extra=BLOCK_BODY,
    operation_id="send_block",
)
async def post_block(
    request: Request, caller: DeviceOrSender, parts: PartsOf, queue: QueueOf, stream_id: str
) -> ReceiptAnswer:
    """Send one block. It is stored whole, known already, or refused whole; sending it again is always safe."""
    metrics: Metrics = request.app.state.metrics
    headers = request.headers
    sent = SentBlock(await request.body(), headers.get("content-type", ""), headers.get("content-encoding"))
    receipt = await run_in_threadpool(receive_block, parts, queue, caller, stream_id, sent)
    metrics.block(receipt.stored, len(sent.body))
    return ReceiptAnswer.of(receipt)


@router.post(
    "/{stream_id}/close",
    responses=problems(*SIGNED_IN, "not-found", "request-invalid"),
    operation_id="close_stream",
)
async def post_close(
    caller: DeviceOrSender, parts: PartsOf, queue: QueueOf, stream_id: str, wait: Wait = 0.0
) -> ClosedAnswer:
    """Close a stream and have its set analysed. Blocks that come later are still taken, and the set analysed anew."""
    closed = await run_in_threadpool(close_stream, parts, queue, caller, stream_id)
    await wait_for(closed.analysis, wait)
    found = await run_in_threadpool(read_set, parts, caller, closed.set_id)
    return ClosedAnswer.of(closed, found.state, found.revision)
