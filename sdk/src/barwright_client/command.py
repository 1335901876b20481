"""The command barwright-client: send, preview, watch, readiness, zones, export, check, and the bench of devices.

Exit codes: 0 good, 2 bad use, 1 anything else; errors are one plain line on stderr.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from barwright_client import bench_commands
from barwright_client.errors import ClientError
from barwright_client.events import Event
from barwright_client.file_check import check_file

if TYPE_CHECKING:
    from barwright_client.answers import Athlete
    from barwright_client.client import Client
    from barwright_client.training import Readiness

GOOD, ELSE, BAD_USE = 0, 1, 2
URL, KEY = "BARWRIGHT_URL", "BARWRIGHT_KEY"
_VERDICTS = {
    "up": "better than usual", "usual": "as usual", "down": "below usual", "not_enough_data": "not known yet",
}  # fmt: skip


class Trouble(Exception):  # noqa: N818 - one plain line for stderr
    """What went wrong, and the exit code."""

    def __init__(self, line: str, code: int = ELSE) -> None:
        super().__init__(line)
        self.code = code


def main(arguments: Sequence[str] | None = None, make: Callable[[str, str], Client] | None = None) -> int:
    """Runs one command. make: another way to a client than its address and key."""
    told = _parser().parse_args(arguments)
    try:
        return int(told.run(told, make) or GOOD)
    except Trouble as trouble:
        print(f"barwright-client: {trouble}", file=sys.stderr)
        return trouble.code
    except OSError as error:
        said = f"{error.filename}: {(error.strerror or '').lower()}" if error.filename else str(error)
        print(f"barwright-client: {said}", file=sys.stderr)
        return ELSE
    except (ClientError, ValueError) as error:
        print(f"barwright-client: {error}", file=sys.stderr)
        return ELSE
    except KeyboardInterrupt:
        return ELSE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="barwright-client", description="Talks to a Barwright service.")
    parser.add_argument("--url", default=os.environ.get(URL) or "http://127.0.0.1:8400", help=f"default: ${URL}")
    parser.add_argument("--key", default=os.environ.get(KEY) or "", help=f"default: ${KEY}, which nobody else sees")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    send = commands.add_parser("send", help="send recordings and print their reps")
    send.add_argument("files", nargs="+", metavar="FILE")
    send.add_argument("--lift", required=True)
    send.add_argument("--load-kg", type=float, required=True, metavar="N")
    send.add_argument("--athlete", required=True, metavar="NAME")
    send.add_argument("--device", required=True, metavar="NAME")
    send.add_argument("--bar-axis", metavar="AXIS", help="sensor axis to the lifter's left: +x, -z, ...")
    _file_options(send)
    send.set_defaults(run=_send)

    preview = commands.add_parser("preview", help="how the service would understand files, column by column")
    preview.add_argument("files", nargs="+", metavar="FILE")
    _file_options(preview)
    preview.set_defaults(run=_preview)

    watch = commands.add_parser("watch", help="print reps as they are lifted, until interrupted")
    watch.add_argument(
        "stream", nargs="?", metavar="STREAM", help="one stream, until it is closed; else the whole club"
    )
    watch.add_argument("--json", action="store_true", help="one JSON object a line")
    watch.set_defaults(run=_watch)

    readiness = commands.add_parser("readiness", help="today's verdict for everybody, or one athlete")
    readiness.add_argument("athlete", nargs="?", metavar="NAME")
    readiness.set_defaults(run=_readiness)

    zones = commands.add_parser("zones", help="velocity zones of an athlete and lift")
    zones.add_argument("athlete", metavar="NAME")
    zones.add_argument("lift", metavar="LIFT")
    zones.add_argument("--velocity", type=float, metavar="M/S", help="say which zone it falls in")
    zones.set_defaults(run=_zones)

    export = commands.add_parser("export", help="everything the service holds of an athlete, as JSON")
    export.add_argument("athlete", metavar="NAME")
    export.add_argument("-o", "--out", metavar="FILE", help="default: stdout")
    export.set_defaults(run=_export)

    check = commands.add_parser("check", help="look at CSV files without a service: would they be any good")
    check.add_argument("files", nargs="+", metavar="FILE")
    check.set_defaults(run=_check)
    bench_commands.add_to(commands, _client)
    return parser


def _file_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("--units", metavar="LIST", default="", help="for example accel=[g],gyro=deg/s,time=ms")
    command.add_argument(
        "--columns", metavar="LIST", help="names for a file's columns, such as t_ms,accel_x,...; nothing leaves one out"
    )
    command.add_argument("--rate-hz", type=float, metavar="N", help="of the samples, when the file has no clock")
    command.add_argument("--scale", metavar="LIST", default="", help="what one count is: accel=0.000488,gyro=0.061")


Make = Callable[[str, str], "Client"] | None


def _client(told: argparse.Namespace, make: Make) -> Client:
    if make is not None:
        return make(told.url, told.key)
    if not told.key:
        raise Trouble(f"a key is needed: set {KEY}, or give --key", BAD_USE)
    from barwright_client.client import Client

    return Client(told.url, told.key)


def _send(told: argparse.Namespace, make: Make) -> int:
    code = GOOD
    with _client(told, make) as client:
        for file in told.files:
            done = client.record(
                file, lift=told.lift, load_kg=told.load_kg, athlete=told.athlete, device=told.device,
                bar_axis=told.bar_axis, progress=sys.stderr.isatty(), **_of_file(told),
            )  # fmt: skip
            verdict = done.quality.verdict if done.quality else "not known"
            print(f"{file}: {done.state}, {done.id}, samples {verdict}" + (f"; {done.reason}" if done.reason else ""))
            for rep in done.reps:
                print(f"  {rep.index + 1} {rep.outcome:7} {_fastest(rep.measures)}")
            code = code if done.state == "analysed" else ELSE
    return code


def _preview(told: argparse.Namespace, make: Make) -> int:
    worst = GOOD
    with _client(told, make) as client:
        for file in told.files:
            found = client.preview(file, **_of_file(told))
            print(f"{file}: " + "\n".join(found.words()))
            worst = worst if found.taken else ELSE
    return worst


def _of_file(told: argparse.Namespace) -> dict[str, Any]:
    """What the options tell of a file, as arguments of record() and preview()."""
    return {
        "rate_hz": told.rate_hz,
        "units": dict(_pairs("--units", told.units)) or None,
        "columns": None if told.columns is None else [name.strip() for name in told.columns.split(",")],
        "scale": {group: _number(size) for group, size in _pairs("--scale", told.scale)} or None,
    }


def _watch(told: argparse.Namespace, make: Make) -> None:
    with _client(told, make) as client:
        for event in client.events(told.stream):
            line = json.dumps({"id": event.id, "event": event.kind, **event.data}) if told.json else words_of(event)
            print(line, flush=True)


def words_of(event: Event) -> str:
    """One line about an event."""
    data = event.data
    who = f"{data.get('athlete', '')} {data.get('lift', '')} {data.get('load_kg', 0):g} kg".strip()
    rep = event.rep
    if rep is not None:
        sure = "so far" if event.provisional else "final"
        return f"{who}: rep {rep.index + 1} {rep.outcome}, {_fastest(rep.measures)} ({sure})"
    if event.kind == "stop_advised":
        return f"{who}: stop; {data['words']}"
    if event.kind == "set_closed":
        return f"{who}: set closed, {data['made']} made, samples {data['verdict']} ({data['set_id']})"
    if event.kind == "rep_corrected":
        return f"{who}: rep {data['rep']['index'] + 1} was none after all"
    if event.kind == "gap":
        return f"events are missing here ({data.get('reason')}, {data.get('lost') or 'some'} lost)"
    return f"{who}: {event.kind.replace('_', ' ')} ({event.stream_id})"


def _readiness(told: argparse.Namespace, make: Make) -> None:
    with _client(told, make) as client:
        who = None if told.athlete is None else _athlete(client, told.athlete)
        found = client.club_readiness() if who is None else (client.readiness(who),)
        for one in found:
            print("; ".join([f"{one.athlete}: {day_words(one)}", *one.reasons]))
        if found:
            print(found[0].caution)


def day_words(one: Readiness) -> str:
    """The verdict, the lift it comes from and its maximum: today's, else the usual one."""
    words = _VERDICTS.get(one.verdict, one.verdict) + (f" ({one.lift.replace('_', ' ')})" if one.lift else "")
    if one.day_max and one.verdict != "not_enough_data":
        return f"{words}, maximum today {one.day_max}"
    return f"{words}, usual maximum {one.usual_max}" if one.usual_max else words


def _zones(told: argparse.Namespace, make: Make) -> None:
    with _client(told, make) as client:
        found = client.zones(_athlete(client, told.athlete), told.lift, velocity=told.velocity)
        for zone in found.zones:
            fast = (
                f"from {zone.from_m_s:.2f} m/s"
                if zone.to_m_s is None
                else f"{zone.from_m_s:.2f} to {zone.to_m_s:.2f} m/s"
            )
            known = zone.from_kg is not None and zone.to_kg is not None
            print(f"{zone.name}: {fast}" + (f", {zone.from_kg:.0f} to {zone.to_kg:.0f} kg" if known else ""))
        if told.velocity is not None:
            print(f"{told.velocity:g} m/s: {found.zone.name if found.zone else 'in none of them'}")
        if any(zone.from_kg is not None for zone in found.zones):
            print(found.caution)


def _export(told: argparse.Namespace, make: Make) -> None:
    with _client(told, make) as client:
        text = json.dumps(client.export_athlete(_athlete(client, told.athlete)), indent=1, ensure_ascii=False)
    if told.out is None:
        print(text)
    else:
        Path(told.out).write_text(text, encoding="utf-8")


def _check(told: argparse.Namespace, make: Make) -> int:
    worst = GOOD
    for file in told.files:
        found = check_file(file)
        print(f"{file}: {found.verdict}")
        for word in found.words:
            print(f"  {word}")
        worst = max(worst, ELSE if found.verdict == "unusable" else GOOD)
    return worst


def _athlete(client: Client, name: str) -> Athlete:
    names = {}
    for one in client.athletes():
        if name in (one.name, one.id):
            return one
        names[one.name.lower()] = one.name
    near = get_close_matches(name.lower(), names, 1)
    raise Trouble(f"the club has no athlete {name!r}" + (f"; was {names[near[0]]!r} meant?" if near else ""))


def _fastest(measures: Mapping[str, object]) -> str:
    for name in ("peak_velocity", "mean_velocity"):
        if name in measures:
            return f"{name.replace('_', ' ')} {measures[name]}"
    return "no velocity"


def _pairs(option: str, text: str) -> list[tuple[str, str]]:
    return [_pair(option, one) for one in text.split(",") if one]


def _pair(option: str, text: str) -> tuple[str, str]:
    group, there, said = text.partition("=")
    if not there:
        example = "accel=[g],gyro=deg/s" if option == "--units" else "accel=0.000488,gyro=0.061"
        raise Trouble(f"{option} has {text!r}; write for example {example}", BAD_USE)
    return group.strip(), said.strip()


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError as error:
        raise Trouble(f"--scale has {text!r}; write for example accel=0.000488", BAD_USE) from error
