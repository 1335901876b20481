"""Commands of the tinkerer's bench: check-device, known-motion, string."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from barwright_client.errors import ClientError

if TYPE_CHECKING:
    from barwright_client.client import Client

MOTIONS = ("drop", "pendulum", "two_heights", "spin")
MEASURES = ("height_m", "length_m", "turns", "radius_m")


def add_to(commands: Any, client_of: Callable[[argparse.Namespace, Any], Client]) -> None:
    """Adds the commands to a parser's; client_of: makes the client."""
    check = commands.add_parser("check-device", help="how good a sensor is, from a minute on a table and still poses")
    _about(check)
    check.set_defaults(run=lambda told, make: _check(client_of(told, make), told))

    motion = commands.add_parser("known-motion", help="a drop, pendulum, lift or spin beside what was to be expected")
    motion.add_argument("motion", choices=MOTIONS)
    _about(motion)
    for name in MEASURES:
        option = name.replace("_", "-")
        motion.add_argument(f"--{option}", type=float, metavar="N", dest=name)
        motion.add_argument(f"--u-{option}", type=float, metavar="N", dest=f"u_{name}", help="its uncertainty")
    motion.set_defaults(run=lambda told, make: _motion(client_of(told, make), told))

    string = commands.add_parser("string", help="set up an encoder's string from measured pulls")
    string.add_argument("--device", required=True, metavar="NAME")
    string.add_argument(
        "--pull", action="append", required=True, metavar="HOME,OUT,BACK,LENGTH_M", help="once for every measured pull"
    )
    string.add_argument("--u-m", type=float, default=0.002, metavar="N", help="uncertainty of a length, m")
    string.add_argument("--offsets", metavar="LOW,HIGH,RISE", help="string at a low and a high bar and the rise, m")
    string.add_argument("--apply", action="store_true", help="tell the device where its anchor sits")
    string.set_defaults(run=lambda told, make: _string(client_of(told, make), told))


def _about(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", metavar="FILE")
    command.add_argument("--device", required=True, metavar="NAME")
    command.add_argument("--units", metavar="LIST", default="", help="for example accel=[g],gyro=deg/s")
    command.add_argument("--gravity", type=float, metavar="M/S2", dest="gravity_m_s2")
    command.add_argument("--latitude", type=float, metavar="DEG", dest="latitude_deg")
    command.add_argument("--altitude", type=float, metavar="M", dest="altitude_m")


def _check(client: Client, told: argparse.Namespace) -> None:
    with client:
        found = client.check_device(_device(client, told.device), told.file, units=_units(told.units), **_here(told))
        for line in found.words:
            print(line)
        print()
        for one in found.expected:
            print(f"{one.lift:12} as it is ±{one.as_is.u or 0:.4f} m/s, calibrated {_pm(one.calibrated.u)}")


def _motion(client: Client, told: argparse.Namespace) -> int:
    names = [*MEASURES, *(f"u_{name}" for name in MEASURES)]
    measured: dict[str, Any] = {name: getattr(told, name) for name in names if getattr(told, name) is not None}
    with client:
        found = client.check_known_motion(
            _device(client, told.device), told.file, told.motion, units=_units(told.units), **_here(told), **measured
        )
    for line in found.words:
        print(line)
    return 0 if all(one.verdict == "agrees" for one in found.figures) else 1


def _string(client: Client, told: argparse.Namespace) -> None:
    pulls = []
    for text in told.pull:
        home, out, back, length = _numbers(text, 4, "--pull HOME,OUT,BACK,LENGTH_M")
        pulls.append({"home": home, "out": out, "back": back, "length": {"value": length, "u": told.u_m}})
    offsets = None
    if told.offsets is not None:
        lengths = _numbers(told.offsets, 3, "--offsets LOW,HIGH,RISE")
        offsets = {
            name: {"value": value, "u": told.u_m} for name, value in zip(("low", "high", "rise"), lengths, strict=True)
        }
    with client:
        found = client.set_up_string(_device(client, told.device), pulls, offsets=offsets, apply=told.apply)
    for line in found.words:
        print(line)
    print(f"m_per_count {found.m_per_count.value:.9g}")


def _device(client: Client, name: str) -> str:
    for one in client.devices():
        if name in (one.name, one.id):
            return one.id
    raise ClientError(f"the club has no device {name!r}")


def _here(told: argparse.Namespace) -> dict[str, Any]:
    names = ("gravity_m_s2", "latitude_deg", "altitude_m")
    return {name: getattr(told, name) for name in names if getattr(told, name) is not None}


def _units(text: str) -> dict[str, str] | None:
    return dict(one.split("=", 1) for one in text.split(",") if "=" in one) or None


def _numbers(text: str, count: int, want: str) -> list[float]:
    parts = text.split(",")
    if len(parts) != count:
        raise ValueError(f"{text!r} has {len(parts)} numbers; write {want}")
    return [float(one) for one in parts]


def _pm(u: float | None) -> str:
    return "not known" if u is None else f"±{u:.4f} m/s"
