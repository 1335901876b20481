"""Each call of the service as data: what to send and how to read the answer. No network here."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, TypeVar
from urllib.parse import quote

from barwright_client.answers import (
    Athlete,
    BlockReceipt,
    Closed,
    Device,
    Json,
    Lift,
    RepPath,
    SetResult,
    Stream,
    read_page,
)
from barwright_client.blocks import Block
from barwright_client.bodies import Body, Form, cbor_body, json_body
from barwright_client.calibrations import Calibration
from barwright_client.errors import Broken
from barwright_client.pages import Page
from barwright_client.replies import Reply

T = TypeVar("T", covariant=True)


@dataclass(frozen=True, slots=True)
class Call(Generic[T]):
    """One logical call. key: its Idempotency-Key, the same on every try. wait_s: extra time the answer may take."""

    method: str
    path: str
    read: Callable[[Any], T]
    params: Mapping[str, str] = field(default_factory=dict)
    body: Body | None = None
    key: str | None = None
    wait_s: float = 0.0

    def headers(self) -> dict[str, str]:
        """Everything but who is calling."""
        keyed = {"Idempotency-Key": self.key} if self.key else {}
        return {"Accept": "application/json", **keyed, **(self.body.headers() if self.body else {})}

    def read_answer(self, reply: Reply) -> T:
        """The answer of a 2xx reply. Raises Broken when it is not what the contract says."""
        where = f"the answer to {self.method} {self.path}"
        request_id = reply.header("x-request-id")
        try:
            document = json.loads(reply.body) if reply.body else None
        except ValueError as error:
            raise Broken(f"{where} is not JSON: {error}", status=reply.status, request_id=request_id) from error
        try:
            return self.read(document)
        except KeyError as error:
            raise Broken(f"{where} lacks {error}", status=reply.status, request_id=request_id) from error
        except (TypeError, ValueError, AttributeError) as error:
            raise Broken(f"{where} cannot be read: {error}", status=reply.status, request_id=request_id) from error


def new_key() -> str:
    """A fresh Idempotency-Key: a string in quotes, as draft-ietf-httpapi-idempotency-key-header has it."""
    return f'"{uuid.uuid4()}"'


def create_athlete(document: Json) -> Call[Athlete]:
    """POST /v1/athletes."""
    return Call("POST", "/v1/athletes", Athlete.read, body=json_body(document), key=new_key())


def list_athletes(cursor: str | None) -> Call[Page[Athlete]]:
    """GET /v1/athletes, one page."""
    return Call("GET", "/v1/athletes", read_page(Athlete.read), _query(cursor=cursor))


def delete_athlete(athlete_id: str) -> Call[None]:
    """DELETE /v1/athletes/{id}: erases all, raw samples too."""
    return Call("DELETE", f"/v1/athletes/{_part(athlete_id)}", _nothing)


def export_athlete(athlete_id: str) -> Call[Json]:
    """GET /v1/athletes/{id}/export."""
    return Call("GET", f"/v1/athletes/{_part(athlete_id)}/export", _document)


def create_device(document: Json) -> Call[Device]:
    """POST /v1/devices."""
    return Call("POST", "/v1/devices", Device.read, body=json_body(document), key=new_key())


def list_devices(cursor: str | None) -> Call[Page[Device]]:
    """GET /v1/devices, one page."""
    return Call("GET", "/v1/devices", read_page(Device.read), _query(cursor=cursor))


def calibrate(device_id: str, body: Body) -> Call[Calibration]:
    """POST /v1/devices/{id}/calibration."""
    path = _calibrations(device_id)
    return Call("POST", path, Calibration.read, body=body, key=new_key(), wait_s=60.0)


def list_calibrations(device_id: str, cursor: str | None) -> Call[Page[Calibration]]:
    """GET /v1/devices/{id}/calibration, one page."""
    return Call("GET", _calibrations(device_id), read_page(Calibration.read), _query(cursor=cursor))


def read_calibration(device_id: str, calibration_id: str) -> Call[Calibration]:
    """GET /v1/devices/{id}/calibration/{id}."""
    return Call("GET", f"{_calibrations(device_id)}/{_part(calibration_id)}", Calibration.read)


def delete_calibration(device_id: str, calibration_id: str) -> Call[None]:
    """DELETE /v1/devices/{id}/calibration/{id}."""
    return Call("DELETE", f"{_calibrations(device_id)}/{_part(calibration_id)}", _nothing)


def open_stream(document: Json) -> Call[Stream]:
    """POST /v1/streams."""
    return Call("POST", "/v1/streams", Stream.read, body=json_body(document), key=new_key())


def send_block(stream_id: str, block: Block) -> Call[BlockReceipt]:
    """POST /v1/streams/{id}/blocks. Needs no key: (boot, seq) names the block."""
    return Call("POST", f"/v1/streams/{_part(stream_id)}/blocks", BlockReceipt.read, body=cbor_body(block.document()))


def close_stream(stream_id: str, wait_s: float) -> Call[Closed]:
    """POST /v1/streams/{id}/close, answered when analysed or after wait_s."""
    path = f"/v1/streams/{_part(stream_id)}/close"
    return Call("POST", path, Closed.read, _query(wait=f"{wait_s:g}"), wait_s=wait_s)


def record(form: Form, wait_s: float) -> Call[SetResult]:
    """POST /v1/recordings."""
    params = _query(wait=f"{wait_s:g}")
    return Call("POST", "/v1/recordings", SetResult.read, params, body=form, key=new_key(), wait_s=wait_s)


def list_sets(
    athlete_id: str | None, lift: str | None, since: datetime | None, until: datetime | None, cursor: str | None
) -> Call[Page[SetResult]]:
    """GET /v1/sets, one page."""
    params = _query(athlete_id=athlete_id, lift=lift, **{"from": rfc3339(since), "to": rfc3339(until)}, cursor=cursor)
    return Call("GET", "/v1/sets", read_page(SetResult.read), params)


def read_set(set_id: str) -> Call[SetResult]:
    """GET /v1/sets/{id}."""
    return Call("GET", f"/v1/sets/{_part(set_id)}", SetResult.read)


def reanalyse(set_id: str, wait_s: float) -> Call[SetResult]:
    """POST /v1/sets/{id}/reanalyse."""
    path = f"/v1/sets/{_part(set_id)}/reanalyse"
    return Call("POST", path, SetResult.read, _query(wait=f"{wait_s:g}"), wait_s=wait_s)


def read_path(set_id: str, index: int) -> Call[RepPath]:
    """GET /v1/sets/{id}/reps/{index}/path."""
    return Call("GET", f"/v1/sets/{_part(set_id)}/reps/{index}/path", RepPath.read)


def limits() -> Call[Json]:
    """GET /v1/limits."""
    return Call("GET", "/v1/limits", _document)


def lifts() -> Call[Page[Lift]]:
    """GET /v1/lifts."""
    return Call("GET", "/v1/lifts", read_page(Lift.read))


def rfc3339(at: datetime | None) -> str | None:
    """A time for the wire. Raises ValueError for one without a time zone."""
    if at is None:
        return None
    if at.tzinfo is None:
        raise ValueError(f"{at.isoformat()} has no time zone; use for example datetime.now(timezone.utc)")
    return at.isoformat()


def without_none(**members: Any) -> Json:
    """The members that are given."""
    return {name: value for name, value in members.items() if value is not None}


def _query(**params: str | None) -> dict[str, str]:
    return {name: value for name, value in params.items() if value is not None}


def _calibrations(device_id: str) -> str:
    return f"/v1/devices/{_part(device_id)}/calibration"


def _part(name: str) -> str:
    return quote(name, safe="")


def _nothing(document: Any) -> None:
    return None


def _document(document: Any) -> Json:
    if not isinstance(document, dict):
        raise TypeError(f"expected an object, found {type(document).__name__}")
    return document
