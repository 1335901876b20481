"""Calls that send samples: a whole recording, or the blocks of a stream. No network here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Required, TypedDict, Unpack

from barwright_client.answers import Athlete, BlockReceipt, Closed, Device, SetResult, Stream
from barwright_client.blocks import Block
from barwright_client.bodies import File, Form, Progress, cbor_body, json_body, upload_of
from barwright_client.call import Call, new_key, part, query, rfc3339, without_none
from barwright_client.calls import BarAxis, axis_of
from barwright_client.previews import Preview
from barwright_client.progress import text_bar


def record(
    file: File,
    *,
    lift: str,
    load_kg: float,
    athlete: Athlete | str,
    device: Device | str,
    bar_axis: BarAxis | None = None,
    device_kind: str | None = None,
    units: Mapping[str, str] | None = None,
    rate_hz: float | None = None,
    started_at: datetime | None = None,
    file_name: str | None = None,
    columns: Sequence[str] | None = None,
    scale: Mapping[str, float] | None = None,
    progress: Progress | bool | None = None,
    wait_s: float = 60.0,
) -> Call[SetResult]:
    """Send a recorded set and have it analysed.

    file: a path, bytes or an open file of CSV, Parquet, NDJSON, SenML, int16, or CBOR or JSON columns; or the columns
    themselves, as for push() of a stream.
    athlete, device: an object, or a name; unknown names are added when the key may do so (device_kind: of a device
    so added). load_kg is read in units["load"] when that is given. started_at: now, when left out. units: UCUM
    codes, such as {"accel": "[g]", "gyro": "deg/s"}, when the file does not say. columns: names for the file's columns
    where its header does not name them, "" to leave one out. scale: what one count is, such as {"accel": 0.000488}, in
    the unit of its group. progress: called with (bytes sent, bytes in all), or True for a text bar on stderr. wait_s:
    how long to wait for the analysis (see `state`).
    """
    upload = upload_of(file, file_name)
    meta = about_of(
        lift=lift, load_kg=load_kg, athlete=athlete, device=device, bar_axis=bar_axis, device_kind=device_kind,
        units=units, rate_hz=rate_hz, started_at=started_at,
    )  # fmt: skip
    meta |= _of_file(columns, scale)
    form = Form(meta, upload, text_bar(upload.name) if progress is True else progress or None)
    params = query(wait=f"{wait_s:g}")
    return Call("POST", "/v1/recordings", SetResult.read, params, body=form, key=new_key(), wait_s=wait_s)


def preview(
    file: File,
    *,
    units: Mapping[str, str] | None = None,
    columns: Sequence[str] | None = None,
    scale: Mapping[str, float] | None = None,
    rate_hz: float | None = None,
    file_name: str | None = None,
) -> Call[Preview]:
    """How the service would understand a file, column by column, before it is sent; nothing is kept.

    See record() for file, units (also "time": s, ms, us or ns), columns and scale. rate_hz: of a file without a clock.
    A file that would be refused is no error here: `problem` says why.
    """
    told = without_none(units=dict(units) if units else None, rate_hz=rate_hz) | _of_file(columns, scale)
    return Call("POST", "/v1/recordings/preview", Preview.read, body=Form(told, upload_of(file, file_name)))


class About(TypedDict, total=False):
    """What is told of a stream; see record() for what each means."""

    lift: Required[str]
    load_kg: Required[float]
    athlete: Required[Athlete | str]
    device: Required[Device | str]
    bar_axis: BarAxis | None
    device_kind: str | None
    units: Mapping[str, str] | None
    rate_hz: float | None
    started_at: datetime | None
    velocity_loss: float | None


def open_stream(**about: Unpack[About]) -> Call[Stream]:
    """Open a stream for one set."""
    return Call("POST", "/v1/streams", Stream.read, body=json_body(about_of(**about)), key=new_key())


def send_block(stream_id: str, block: Block) -> Call[BlockReceipt]:
    """Send one block. Needs no key: (boot, seq) names the block."""
    return Call("POST", f"/v1/streams/{part(stream_id)}/blocks", BlockReceipt.read, body=cbor_body(block.document()))


def close_stream(stream_id: str, wait_s: float = 0.0) -> Call[Closed]:
    """End a stream, answered when its set is analysed or after wait_s."""
    path = f"/v1/streams/{part(stream_id)}/close"
    return Call("POST", path, Closed.read, query(wait=f"{wait_s:g}"), wait_s=wait_s)


def events_path(stream: Any) -> str:
    """Where the events of a stream come from, given as its id or a thing that has one; None: of the whole club."""
    if stream is None:
        return "/v1/events"
    return f"/v1/streams/{part(stream if isinstance(stream, str) else stream.id)}/events"


def _of_file(columns: Sequence[str] | None, scale: Mapping[str, float] | None) -> dict[str, Any]:
    return without_none(columns=list(columns) if columns is not None else None, scale=dict(scale) if scale else None)


def about_of(**about: Unpack[About]) -> dict[str, Any]:
    """What is told of a stream, as it goes on the wire."""
    told: dict[str, Any] = dict(about)
    for name, kind in (("athlete", Athlete), ("device", Device)):
        if isinstance(told.get(name), kind):
            told[f"{name}_id"] = told.pop(name).id
    units = told.get("units")
    told |= {
        "bar_axis": axis_of(told.get("bar_axis")),
        "units": dict(units) if units else None,
        "started_at": rfc3339(told.get("started_at")),
    }
    return without_none(**told)
