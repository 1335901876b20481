"""Devices that only stream: blocks in, sets open and close by themselves."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Request
from pydantic import Field
from starlette.concurrency import run_in_threadpool

from barwright.api.dependencies import DeviceOrSender, PartsOf, QueueOf, Sender
from barwright.api.metrics import Metrics
from barwright.api.openapi import JSON_BODY, SIGNED_IN, problems
from barwright.api.raw_shapes import BLOCK_BODY
from barwright.api.shapes.base import Answer, IdText, Number, Told
from barwright.ingest.refusals import REFUSALS
from barwright.storage.feeds import NextSet
from barwright.workflows.device_feed import Feeds, receive_feed_block, tell_next
from barwright.workflows.receive_block import SentBlock

router = APIRouter(prefix="/v1/devices", tags=["live"])
_BLOCK_REFUSALS = [code for code in REFUSALS if code not in ("bad-row", "unit-unclear")]


async def _feeds(request: Request) -> Feeds:
    feeds = request.app.state.feeds
    assert isinstance(feeds, Feeds)
    return feeds


class NewNext(Told):
    """Who lifts what next on a device, and in which units it measures."""

    athlete_id: IdText
    lift: Annotated[str, Field(max_length=64, description="A code of GET /v1/lifts.")]
    load_kg: Annotated[Number, Field(ge=0)]
    velocity_loss: Annotated[Number, Field(gt=0, lt=100)] | None = None
    units: dict[Literal["accel", "gyro", "position", "velocity"], str] = Field(
        default_factory=dict, description="UCUM codes, as for a stream; SI where none is declared."
    )


class NextAnswer(Answer):
    """What is lifted next on a device."""

    device_id: str
    athlete_id: str
    lift: str
    load_kg: float
    velocity_loss: float | None


class FeedReceiptAnswer(Answer):
    """stored: false when the block was here before. stream_id, set_id: null while the bar lies still."""

    stored: bool
    stream_id: str | None
    set_id: str | None
    received_at: datetime


@router.put(
    "/{device_id}/next",
    responses=problems(
        *SIGNED_IN, *JSON_BODY, "not-found", "unknown-lift", "bad-load", "unknown-unit", "unknown-member"
    ),
    operation_id="tell_next_set",
)
def put_next(caller: Sender, parts: PartsOf, device_id: str, told: NewNext) -> NextAnswer:
    """Say who lifts what next on a device that only streams; it holds until it is said anew."""
    wanted = NextSet(told.athlete_id, told.lift, told.load_kg, told.velocity_loss)
    kept = tell_next(parts, caller, device_id, wanted, {str(group): code for group, code in told.units.items()})
    return NextAnswer(
        device_id=device_id, athlete_id=kept.athlete_id, lift=kept.lift, load_kg=kept.load_kg,
        velocity_loss=kept.velocity_loss,
    )  # fmt: skip


@router.post(
    "/{device_id}/blocks",
    responses=problems(*SIGNED_IN, *_BLOCK_REFUSALS, "request-too-large", "not-found", "stream-too-long"),
    openapi_extra=BLOCK_BODY,
    operation_id="send_feed_block",
)
async def post_block(
    request: Request,
    caller: DeviceOrSender,
    parts: PartsOf,
    queue: QueueOf,
    feeds: Annotated[Feeds, Depends(_feeds)],
    device_id: str,
) -> FeedReceiptAnswer:
    """Send one block of a device that knows nothing of sets; a set opens when the bar moves, and closes after 20 s."""
    metrics: Metrics = request.app.state.metrics
    headers = request.headers
    sent = SentBlock(await request.body(), headers.get("content-type", ""), headers.get("content-encoding"))
    receipt = await run_in_threadpool(receive_feed_block, parts, queue, feeds, caller, device_id, sent)
    metrics.block(receipt.stored, len(sent.body))
    return FeedReceiptAnswer(
        stored=receipt.stored, stream_id=receipt.stream_id, set_id=receipt.set_id, received_at=receipt.received_at
    )
