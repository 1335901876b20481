"""What can be asked of the service about people, devices and sets: one function, one call. No network here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from barwright_client.answers import Athlete, Device, Json, Lift, RepPath, SetResult, read_page
from barwright_client.bodies import File, Form, json_body, upload_of
from barwright_client.calibrations import Calibration, Poses
from barwright_client.call import (
    Call,
    Pages,
    document_of,
    listing,
    new_key,
    nothing,
    part,
    query,
    rfc3339,
    without_none,
)
from barwright_client.gym import GymScreen
from barwright_client.replies import Reply

BarAxis = str | Sequence[float]


def create_athlete(
    name: str,
    *,
    birth_year: int | None = None,
    sex: str | None = None,
    body_mass_kg: float | None = None,
    stature_m: float | None = None,
    level: str | None = None,
    consent_on: date | None = None,
    guardian_note: str | None = None,
) -> Call[Athlete]:
    """Add an athlete to the club. Names are unique in a club: Conflict when it is taken.

    consent_on: the day athlete or guardian agreed to what is kept. guardian_note: who decides for a minor.
    """
    told = without_none(
        name=name,
        birth_year=birth_year,
        sex=sex,
        body_mass_kg=body_mass_kg,
        stature_m=stature_m,
        level=level,
        consent_on=consent_on.isoformat() if consent_on else None,
        guardian_note=guardian_note,
    )
    return Call("POST", "/v1/athletes", Athlete.read, body=json_body(told), key=new_key())


def athletes() -> Pages[Athlete]:
    """All athletes of the club."""
    return listing("/v1/athletes", Athlete.read)


def delete_athlete(athlete: Athlete | str) -> Call[Json]:
    """Erase an athlete (or the id of one) and everything measured of them, raw samples too; answers the receipt."""
    return Call("DELETE", f"/v1/athletes/{part(id_of(athlete))}", document_of)


def export_athlete(athlete: Athlete | str) -> Call[Json]:
    """Everything the service holds of an athlete (or the id of one)."""
    return Call("GET", f"/v1/athletes/{part(id_of(athlete))}/export", document_of)


class ZipCall(Call[bytes]):
    """A call that is answered with a zip."""

    def headers(self) -> dict[str, str]:
        """Everything but who is calling."""
        return {"Accept": "application/zip"}

    def read_answer(self, reply: Reply) -> bytes:
        """The bytes."""
        return reply.body


def export_athlete_zip(athlete: Athlete | str) -> Call[bytes]:
    """The same as a zip of CSV and JSON files, with a README.txt that says what is in each."""
    return ZipCall("GET", f"/v1/athletes/{part(id_of(athlete))}/export", bytes, wait_s=60.0)


def create_device(
    name: str,
    *,
    kind: str,
    bar_axis: BarAxis | None = None,
    place: str = "shaft",
    device_class: str | None = None,
    ranges: Mapping[str, Any] | None = None,
    anchor_offset_m: float | None = None,
    anchor_height_m: float | None = None,
) -> Call[Device]:
    """Add a sensor. Names are unique in a club: Conflict when it is taken.

    kind: imu or encoder. bar_axis: the sensor axis along the bar to the lifter's left, "+x" or [x, y, z].
    place: shaft, or sleeve. ranges: full scale, such as {"accel": 16, "units": {"accel": "[g]"}}; without units SI.
    anchor_offset_m: how far an encoder's string leaves its housing from under the bar, at anchor_height_m.
    """
    anchor = {"anchor_offset_m": anchor_offset_m, "anchor_height_m": anchor_height_m}
    mounting = without_none(place=place, bar_axis=axis_of(bar_axis), **anchor)
    members = {"class": device_class, "ranges": dict(ranges) if ranges else None}
    told = without_none(name=name, kind=kind, mounting=mounting, **members)
    return Call("POST", "/v1/devices", Device.read, body=json_body(told), key=new_key())


def devices() -> Pages[Device]:
    """All devices of the club."""
    return listing("/v1/devices", Device.read)


def calibrate(
    device: Device | str,
    poses: File | Poses,
    *,
    units: Mapping[str, str] | None = None,
    gravity_m_s2: float | None = None,
    rate_hz: float | None = None,
    file_name: str | None = None,
) -> Call[Calibration]:
    """Calibrate a device (or the id of one) from still poses held by hand, in any order.

    poses: a recording that holds them, best with the turns between (see `file` of record()); or a list with the
    means of each, {"accel": [x, y, z], "gyro": [x, y, z], "samples": 600}, of rate_hz. units: UCUM codes, else SI.
    gravity_m_s2: local gravity. Streams that begin later are analysed with it. Refused when poses are too alike.
    """
    told = without_none(units=dict(units) if units else None, gravity_m_s2=gravity_m_s2)
    if isinstance(poses, list | tuple):
        means = without_none(poses=[dict(pose) for pose in poses], rate_hz=rate_hz)
        return _calibrate(device, json_body({**told, **means}))
    return _calibrate(device, Form(told, upload_of(poses, file_name)))


def calibrations(device: Device | str) -> Pages[Calibration]:
    """All calibrations of a device (or the id of one), the newest first."""
    return listing(_calibrations(id_of(device)), Calibration.read)


def calibration(device: Device | str, calibration_id: str) -> Call[Calibration]:
    """One calibration of a device (or the id of one)."""
    return Call("GET", f"{_calibrations(id_of(device))}/{part(calibration_id)}", Calibration.read)


def delete_calibration(calibration: Calibration) -> Call[None]:
    """Take a calibration away; sets analysed with it keep their results until they are analysed again."""
    return Call("DELETE", f"{_calibrations(calibration.device_id)}/{part(calibration.id)}", nothing)


def sets(
    *,
    athlete: Athlete | str | None = None,
    lift: str | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
) -> Pages[SetResult]:
    """Sets of the club, narrowed down by athlete (or the id of one), lift and start."""
    who = id_of(athlete) if athlete else None
    span = {"from": rfc3339(since), "to": rfc3339(until)}
    return listing("/v1/sets", SetResult.read, athlete_id=who, lift=lift, **span)


def read_set(set_id: str) -> Call[SetResult]:
    """One set with its reps."""
    return Call("GET", f"/v1/sets/{part(set_id)}", SetResult.read)


def reanalyse(set_id: str, *, wait_s: float = 60.0) -> Call[SetResult]:
    """Analyse a set again from its raw samples; waits up to wait_s (see the result's `state`)."""
    path = f"/v1/sets/{part(set_id)}/reanalyse"
    return Call("POST", path, SetResult.read, query(wait=f"{wait_s:g}"), wait_s=wait_s)


def path(set_id: str, index: int) -> Call[RepPath]:
    """The bar's path over one rep; index as in the rep."""
    return Call("GET", f"/v1/sets/{part(set_id)}/reps/{index}/path", RepPath.read)


def gym(athlete: Athlete | str) -> Call[GymScreen]:
    """What a screen beside the platform shows: last reps with zones, whether to stop, the next set's load."""
    return Call("GET", f"/v1/athletes/{part(id_of(athlete))}/gym", GymScreen.read)


def limits() -> Call[Json]:
    """What the service accepts: sizes, rates, lengths."""
    return Call("GET", "/v1/limits", document_of)


def lifts() -> Call[tuple[Lift, ...]]:
    """The lifts the service knows."""
    return Call("GET", "/v1/lifts", lambda document: read_page(Lift.read)(document).items)


def axis_of(bar_axis: BarAxis | None) -> str | list[float] | None:
    """A bar axis for the wire."""
    return bar_axis if bar_axis is None or isinstance(bar_axis, str) else [float(each) for each in bar_axis]


def id_of(one: Athlete | Device | str) -> str:
    """The id of a thing that may be given by its id."""
    return one if isinstance(one, str) else one.id


def _calibrate(device: Device | str, body: Any) -> Call[Calibration]:
    path = _calibrations(id_of(device))
    return Call("POST", path, Calibration.read, body=body, key=new_key(), wait_s=60.0)


def _calibrations(device_id: str) -> str:
    return f"/v1/devices/{part(device_id)}/calibration"
