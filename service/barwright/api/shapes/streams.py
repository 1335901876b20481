"""Streams and blocks on the wire."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from barwright.api.shapes.base import Answer, IdText, Name, Number, Time, Told
from barwright.api.shapes.devices import BarAxis, DeviceKind
from barwright.storage.streams import Stream
from barwright.workflows.begin_stream import StreamRequest
from barwright.workflows.cannot import Cannot
from barwright.workflows.close_stream import Closed
from barwright.workflows.commit_blocks import BlockReceipt
from barwright.workflows.read_streams import ReceivedBoot, StreamState

Pairs = Annotated[
    list[tuple[int, int]], Field(description="Numbers (seq) of missing blocks as [first, last], both missing.")
]


class NewStream(Told):
    """One set to be recorded. Athlete and device each by id or by name; a name not known yet is added."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "athlete": "Imke",
                    "device": "bar 3",
                    "bar_axis": "+x",
                    "lift": "snatch",
                    "load_kg": 60,
                    "started_at": "2026-03-01T17:30:00Z",
                    "units": {"accel": "[g]", "gyro": "deg/s"},
                }
            ]
        }
    )

    athlete_id: IdText | None = None
    athlete: Name | None = None
    device_id: IdText | None = None
    device: Name | None = None
    lift: Annotated[str, Field(max_length=64, description="A code of GET /v1/lifts.")]
    load_kg: Annotated[Number, Field(ge=0, description="Kilograms, or the unit in units.load.")]
    started_at: Time | None = Field(default=None, description="When the set began; now, when it is left out.")
    units: dict[Literal["accel", "gyro", "position", "velocity", "load"], str] = Field(
        default_factory=dict,
        description="UCUM codes: accel m/s2, [g], m[g]; gyro rad/s, deg/s; position m, cm, mm; velocity m/s, cm/s, "
        "mm/s; load kg, [lb_av]. SI where none is declared.",
    )
    rate_hz: Annotated[Number, Field(gt=0)] | None = Field(default=None, description="What the device is set to.")
    bar_axis: BarAxis = None
    device_kind: DeviceKind | None = Field(default=None, description="For a device that is added by name.")
    velocity_loss: Annotated[Number, Field(gt=0, lt=100)] | None = Field(
        default=None, description="% of velocity lost within the set at which `stop_advised` is told; else the plan's."
    )

    def request(self) -> StreamRequest:
        """As the workflows want it. Raises Cannot when a thing is named twice, or not at all."""
        for name in ("athlete", "device"):
            by_id, by_name = getattr(self, f"{name}_id"), getattr(self, name)
            if by_id is None and by_name is None:
                raise Cannot(
                    "request-invalid", f"`{name}` is missing; give `{name}` (a name) or `{name}_id`.", f"/{name}"
                )
            if by_id is not None and by_name is not None:
                both = f"`{name}` and `{name}_id` are both there; give one of the two."
                raise Cannot("request-invalid", both, f"/{name}_id")
        return StreamRequest(**self.model_dump())


class ReceivedAnswer(Answer):
    """What came of one device start."""

    boot: str
    next_seq: int
    missing: Pairs
    samples: int
    duration_s: float

    @classmethod
    def of(cls, boot: ReceivedBoot) -> ReceivedAnswer:
        """From the workflow's answer."""
        return cls(
            boot=boot.boot,
            next_seq=boot.next_seq,
            missing=_pairs(boot.missing),
            samples=boot.samples,
            duration_s=boot.duration_s,
        )


class StreamAnswer(Answer):
    """A stream and the set it becomes."""

    id: str
    set_id: str
    athlete_id: str
    athlete: str
    device_id: str
    device: str
    lift: str
    load_kg: float
    started_at: datetime
    units: dict[str, str]
    rate_hz: float | None
    bar_axis: tuple[float, float, float] | None
    state: Literal["open", "closed"]
    created_at: datetime
    closed_at: datetime | None

    @classmethod
    def of(cls, stream: Stream) -> StreamAnswer:
        """From the stored stream."""
        return cls.model_validate(_members(stream))


class StreamWithBlocks(StreamAnswer):
    """A stream and what came of it. missing: over all device starts; received: each by itself."""

    missing: Pairs
    received: list[ReceivedAnswer]

    @classmethod
    def of_state(cls, state: StreamState) -> StreamWithBlocks:
        """From the workflow's answer."""
        received = [ReceivedAnswer.of(boot) for boot in state.received]
        missing = [pair for boot in received for pair in boot.missing]
        return cls.model_validate({**_members(state.stream), "missing": missing, "received": received})


class StreamPage(Answer):
    """Streams, the newest first."""

    items: list[StreamAnswer]
    next: str | None


class ReceiptAnswer(Answer):
    """stored: false when this very block was here before; it is safe either way."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {"stored": True, "next_seq": 20, "missing": [[17, 18]], "received_at": "2026-03-01T17:30:05.125Z"}
            ]
        }
    )

    stored: bool
    next_seq: int
    missing: Pairs
    received_at: datetime

    @classmethod
    def of(cls, receipt: BlockReceipt) -> ReceiptAnswer:
        """From the workflow's answer."""
        return cls(
            stored=receipt.stored,
            next_seq=receipt.next_seq,
            missing=_pairs(receipt.missing),
            received_at=receipt.received_at,
        )


class ClosedAnswer(Answer):
    """The set a closed stream becomes. missing: over all device starts; received: each by itself."""

    set_id: str
    state: Literal["open", "analysing", "analysed", "failed"]
    revision: int
    missing: Pairs
    received: list[ReceivedAnswer]

    @classmethod
    def of(cls, closed: Closed, state: str, revision: int) -> ClosedAnswer:
        """From the workflow's answer and the set as it is now."""
        received = [ReceivedAnswer.of(boot) for boot in closed.received]
        missing = [pair for boot in received for pair in boot.missing]
        return cls.model_validate(
            {"set_id": closed.set_id, "state": state, "revision": revision, "missing": missing, "received": received}
        )


def _members(stream: Stream) -> dict[str, object]:
    told = stream.told
    return {
        "id": stream.id,
        "set_id": stream.set_id,
        "athlete_id": told.athlete_id,
        "athlete": stream.athlete_name,
        "device_id": told.device_id,
        "device": stream.device_name,
        "lift": told.lift,
        "load_kg": told.load_kg,
        "started_at": told.started_at,
        "units": told.units,
        "rate_hz": told.rate_hz,
        "bar_axis": told.setup.mounting.bar_axis,
        "state": "open" if stream.closed_at is None else "closed",
        "created_at": stream.created_at,
        "closed_at": stream.closed_at,
    }


def _pairs(ranges: list[list[int]]) -> list[tuple[int, int]]:
    return [(first, last) for first, last in ranges]
