"""The client: one method per thing the service does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from barwright_client import calls
from barwright_client.answers import Athlete, Device, Json, Lift, RepPath, SetResult
from barwright_client.attempts import RetryPolicy
from barwright_client.blocks import BlockWriter, CutBy
from barwright_client.bodies import File, Form, Progress, json_body, upload_of
from barwright_client.calibrations import Calibration, Poses
from barwright_client.live_stream import StreamWriter
from barwright_client.pages import all_items
from barwright_client.progress import text_bar

if TYPE_CHECKING:
    from barwright_client.transport import HttpClient

BarAxis = str | Sequence[float]


class Client:
    """A Barwright service and one key. Use it as a context manager, or close() it.

    base_url: such as http://127.0.0.1:8400. timeout_s: for each step of each try. http: an httpx.Client of your own
    (proxies, certificates, tests); it stays yours to close. retry: see RetryPolicy.
    Every method raises the errors of `barwright_client.errors`.
    """

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout_s: float = 20.0,
        http: HttpClient | None = None,
        retry: RetryPolicy | None = None,
    ) -> None:
        from barwright_client.transport import Transport  # httpx takes a quarter of a second to load

        self._transport = Transport(base_url, key, timeout_s=timeout_s, http=http, retry=retry or RetryPolicy())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections (not those of an `http` handed in)."""
        self._transport.close()

    def create_athlete(
        self,
        name: str,
        *,
        birth_year: int | None = None,
        sex: str | None = None,
        body_mass_kg: float | None = None,
        stature_m: float | None = None,
        level: str | None = None,
    ) -> Athlete:
        """Add an athlete to the club. Names are unique in a club: Conflict when it is taken."""
        more = {
            "birth_year": birth_year,
            "sex": sex,
            "body_mass_kg": body_mass_kg,
            "stature_m": stature_m,
            "level": level,
        }
        return self._transport.send(calls.create_athlete(calls.without_none(name=name, **more)))

    def athletes(self) -> Iterator[Athlete]:
        """All athletes of the club."""
        return all_items(lambda cursor: self._transport.send(calls.list_athletes(cursor)))

    def delete_athlete(self, athlete: Athlete | str) -> None:
        """Erase an athlete (or the id of one) and everything measured of them, raw samples too."""
        self._transport.send(calls.delete_athlete(_id(athlete)))

    def export_athlete(self, athlete: Athlete | str) -> Json:
        """Everything the service holds of an athlete (or the id of one)."""
        return self._transport.send(calls.export_athlete(_id(athlete)))

    def create_device(
        self,
        name: str,
        *,
        kind: str,
        bar_axis: BarAxis | None = None,
        place: str = "shaft",
        device_class: str | None = None,
        ranges: Mapping[str, Any] | None = None,
        anchor_offset_m: float | None = None,
        anchor_height_m: float | None = None,
    ) -> Device:
        """Add a sensor. Names are unique in a club: Conflict when it is taken.

        kind: imu or encoder. bar_axis: the sensor axis along the bar to the lifter's left, "+x" or [x, y, z].
        place: shaft, or sleeve. ranges: full scale, such as {"accel": 16, "units": {"accel": "[g]"}}; without units SI.
        anchor_offset_m: how far an encoder's string leaves its housing from under the bar, at anchor_height_m.
        """
        axis = {"bar_axis": _axis(bar_axis), "anchor_offset_m": anchor_offset_m, "anchor_height_m": anchor_height_m}
        mounting = calls.without_none(place=place, **axis)
        members = {"class": device_class, "ranges": dict(ranges) if ranges else None}
        return self._transport.send(
            calls.create_device(calls.without_none(name=name, kind=kind, mounting=mounting, **members))
        )

    def devices(self) -> Iterator[Device]:
        """All devices of the club."""
        return all_items(lambda cursor: self._transport.send(calls.list_devices(cursor)))

    def calibrate(
        self,
        device: Device | str,
        poses: File | Poses,
        *,
        units: Mapping[str, str] | None = None,
        gravity_m_s2: float | None = None,
        rate_hz: float | None = None,
        file_name: str | None = None,
    ) -> Calibration:
        """Calibrate a device (or the id of one) from still poses held by hand, in any order.

        poses: a recording that holds them, best with the turns between (see `file` of record()); or a list with the
        means of each, {"accel": [x, y, z], "gyro": [x, y, z], "samples": 600}, of rate_hz. units: UCUM codes, else SI.
        gravity_m_s2: local gravity. Streams that begin later are analysed with it. Refused when poses are too alike.
        """
        told = calls.without_none(units=dict(units) if units else None, gravity_m_s2=gravity_m_s2)
        if isinstance(poses, list | tuple):
            means = calls.without_none(poses=[dict(pose) for pose in poses], rate_hz=rate_hz)
            return self._transport.send(calls.calibrate(_id(device), json_body({**told, **means})))
        return self._transport.send(calls.calibrate(_id(device), Form(told, upload_of(poses, file_name))))

    def calibrations(self, device: Device | str) -> Iterator[Calibration]:
        """All calibrations of a device (or the id of one), the newest first."""
        return all_items(lambda cursor: self._transport.send(calls.list_calibrations(_id(device), cursor)))

    def calibration(self, device: Device | str, calibration_id: str) -> Calibration:
        """One calibration of a device (or the id of one)."""
        return self._transport.send(calls.read_calibration(_id(device), calibration_id))

    def delete_calibration(self, calibration: Calibration) -> None:
        """Take a calibration away; sets analysed with it keep their results until they are analysed again."""
        self._transport.send(calls.delete_calibration(calibration.device_id, calibration.id))

    def record(
        self,
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
        progress: Progress | bool | None = None,
        wait_s: float = 60.0,
    ) -> SetResult:
        """Send a recorded set and have it analysed.

        file: a path, bytes or an open file of CSV, Parquet, or CBOR or JSON columns; or the columns themselves, as for
        StreamWriter.push().
        athlete, device: an object, or a name; unknown names are added when the key may do so (device_kind: of a device
        so added). load_kg is read in units["load"] when that is given. started_at: now, when left out. units: UCUM
        codes, such as {"accel": "[g]", "gyro": "deg/s"}, when the file does not say. progress: called with (bytes sent,
        bytes in all), or True for a text bar on stderr. wait_s: how long to wait for the analysis (see `state`).
        """
        upload = upload_of(file, file_name)
        meta = _about(lift, load_kg, athlete, device, bar_axis, device_kind, units, rate_hz, started_at)
        told = text_bar(upload.name) if progress is True else progress or None
        return self._transport.send(calls.record(Form(meta, upload, told), wait_s))

    def stream(
        self,
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
        cut_by: CutBy | None = None,
    ) -> StreamWriter:
        """Open a stream to push samples into while the set goes on; see record() for what the arguments mean."""
        meta = _about(lift, load_kg, athlete, device, bar_axis, device_kind, units, rate_hz, started_at)
        opened = self._transport.send(calls.open_stream(meta))
        return StreamWriter(self._transport, opened, BlockWriter(cut_by or CutBy()))

    def sets(
        self,
        *,
        athlete: Athlete | str | None = None,
        lift: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> Iterator[SetResult]:
        """Sets of the club, narrowed down by athlete (or the id of one), lift and start."""
        who = _id(athlete) if athlete else None
        return all_items(lambda cursor: self._transport.send(calls.list_sets(who, lift, since, until, cursor)))

    def set(self, set_id: str) -> SetResult:
        """One set with its reps."""
        return self._transport.send(calls.read_set(set_id))

    def reanalyse(self, set_id: str, *, wait_s: float = 60.0) -> SetResult:
        """Analyse a set again from its raw samples; waits up to wait_s (see the result's `state`)."""
        return self._transport.send(calls.reanalyse(set_id, wait_s))

    def path(self, set_id: str, index: int) -> RepPath:
        """The bar's path over one rep; index as in the rep."""
        return self._transport.send(calls.read_path(set_id, index))

    def limits(self) -> Json:
        """What the service accepts: sizes, rates, lengths."""
        return self._transport.send(calls.limits())

    def lifts(self) -> tuple[Lift, ...]:
        """The lifts the service knows."""
        return self._transport.send(calls.lifts()).items


def _about(
    lift: str,
    load_kg: float,
    athlete: Athlete | str,
    device: Device | str,
    bar_axis: BarAxis | None,
    device_kind: str | None,
    units: Mapping[str, str] | None,
    rate_hz: float | None,
    started_at: datetime | None,
) -> dict[str, Any]:
    who = {"athlete_id": athlete.id} if isinstance(athlete, Athlete) else {"athlete": athlete}
    what = {"device_id": device.id} if isinstance(device, Device) else {"device": device}
    more = {
        "bar_axis": _axis(bar_axis),
        "device_kind": device_kind,
        "units": dict(units) if units else None,
        "rate_hz": rate_hz,
    }
    return calls.without_none(lift=lift, load_kg=load_kg, **who, **what, **more, started_at=calls.rfc3339(started_at))


def _axis(bar_axis: BarAxis | None) -> str | list[float] | None:
    return bar_axis if bar_axis is None or isinstance(bar_axis, str) else [float(each) for each in bar_axis]


def _id(one: Athlete | Device | str) -> str:
    return one if isinstance(one, str) else one.id
