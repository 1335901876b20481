"""What can be asked about how good a device is: one function, one call. No network here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from barwright_client.answers import Device
from barwright_client.bench import DeviceCheck, KnownMotion, StringSetup
from barwright_client.bodies import File, Form, json_body, upload_of
from barwright_client.call import Call, Pages, listing, new_key, part, rfc3339, without_none
from barwright_client.calls import id_of

Clock = Sequence[tuple[int, datetime]]
"""The device's clock in microseconds beside the server's, such as a block's last t_us and its received_at."""


def check_device(
    device: Device | str,
    file: File,
    *,
    units: Mapping[str, str] | None = None,
    gravity_m_s2: float | None = None,
    latitude_deg: float | None = None,
    altitude_m: float | None = None,
    clock: Clock | None = None,
    file_name: str | None = None,
) -> Call[DeviceCheck]:
    """How good a sensor is and what to change first, from a minute on a table and six still poses and more in hands.

    file: as in record(). units: UCUM codes, else SI. gravity_m_s2, or latitude_deg with altitude_m: local gravity.
    """
    pairs = [{"t_us": int(t_us), "at": rfc3339(at)} for t_us, at in clock] if clock else None
    told = without_none(
        units=dict(units) if units else None, gravity_m_s2=gravity_m_s2, latitude_deg=latitude_deg,
        altitude_m=altitude_m, clock=pairs,
    )  # fmt: skip
    form = Form(told, upload_of(file, file_name))
    return Call("POST", _of(device, "check"), DeviceCheck.read, body=form, key=new_key(), wait_s=60.0)


def device_checks(device: Device | str) -> Pages[DeviceCheck]:
    """All checks of a device (or the id of one), the newest first."""
    return listing(_of(device, "check"), DeviceCheck.read)


def check_known_motion(
    device: Device | str,
    file: File,
    motion: str,
    *,
    units: Mapping[str, str] | None = None,
    file_name: str | None = None,
    **measured: float,
) -> Call[KnownMotion]:
    """A drop (height_m), a pendulum (length_m), a lift between two_heights (height_m) or a spin (turns, radius_m).

    measured: these with their uncertainties u_height_m and so on, and gravity_m_s2 or latitude_deg where known.
    """
    told: dict[str, Any] = without_none(motion=motion, units=dict(units) if units else None, **measured)
    form = Form(told, upload_of(file, file_name))
    return Call("POST", _of(device, "known-motions"), KnownMotion.read, body=form, key=new_key(), wait_s=30.0)


def set_up_string(
    device: Device | str,
    pulls: Sequence[Mapping[str, Any]],
    *,
    offsets: Mapping[str, Any] | None = None,
    apply: bool = False,
) -> Call[StringSetup]:
    """Counts for a metre, direction, slip and anchor of an encoder's string.

    pulls: {"home": 120, "out": 10125, "back": 120, "length": {"value": 2.0, "u": 0.002}} each. offsets: lengths of the
    string at a low and a high bar, and the rise between. apply: tell the device where its anchor sits.
    """
    told = without_none(pulls=[dict(pull) for pull in pulls], offsets=dict(offsets) if offsets else None, apply=apply)
    return Call("POST", _of(device, "string"), StringSetup.read, body=json_body(told), key=new_key())


def _of(device: Device | str, what: str) -> str:
    return f"/v1/devices/{part(id_of(device))}/{what}"
