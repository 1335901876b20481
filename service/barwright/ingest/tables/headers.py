"""What the headers of a recording file say: sensor, time, channels and units."""

from __future__ import annotations

import re
from dataclasses import dataclass

from barwright.ingest.block import BESIDE_IMU, ENCODER_CHANNELS, IMU_CHANNELS
from barwright.ingest.declared_units import SI, check_unit, group_of, read_as_si
from barwright.ingest.refusals import Refusal, pointer_to

TIMES = {"t_s": ("s", 1e6), "t_ms": ("ms", 1e3), "t_us": ("us", 1.0)}  # unit, microseconds in one
_HEADER = re.compile(r"\s*([^\[\]]*?)\s*(?:\[(.*)\])?\s*", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Headers:
    """kind: imu or encoder. time: position and name of the time column. channels: name to position in the file."""

    kind: str
    time: tuple[int, str]
    channels: dict[str, int]
    units: dict[str, str]
    notes: tuple[str, ...]


def read_headers(headers: list[str], declared: dict[str, str]) -> Headers:
    """The plan for reading a file. declared: units by group, checked before; a suffix in a header must agree."""
    found: dict[str, tuple[int, str | None]] = {}
    others: list[str] = []
    for position, header in enumerate(headers):
        name, suffix = _split(header)
        if name not in (*TIMES, *IMU_CHANNELS, *ENCODER_CHANNELS):
            others += [header.strip()[:40]] if header.strip() else []
        elif name in found:
            raise Refusal(
                "repeated-column", f"The column `{name}` is there twice; keep one of them.", pointer_to(header)
            )
        else:
            found[name] = (position, suffix)
    kind, channels, left = _channels(found, headers)
    units = _units(channels, found, headers, declared)
    time = _time(found, headers)
    notes = [f"Columns left out: {', '.join(others[:20])}." for _ in others[:1]] + left
    silent = dict.fromkeys(group_of(name) for name in channels if found[name][1] is None)
    notes += read_as_si(group for group in silent if group not in declared)
    return Headers(kind, time, {name: found[name][0] for name in channels}, units, tuple(notes))


def _split(header: str) -> tuple[str, str | None]:
    """accel_x[[g]] -> accel_x, [g]"""
    match = _HEADER.fullmatch(header)
    if match is None:
        return header, None
    unit = match.group(2)
    return match.group(1).strip().lower(), None if unit is None else unit.strip()


def _channels(found: dict[str, tuple[int, str | None]], headers: list[str]) -> tuple[str, list[str], list[str]]:
    """kind, the channels to read, and notes on those left."""
    imu = [name for name in IMU_CHANNELS if name in found]
    encoder = [name for name in ENCODER_CHANNELS if name in found]
    missing = [name for name in IMU_CHANNELS if name not in found]
    if imu and missing:
        raise Refusal(
            "missing-axis",
            f"The file has {', '.join(imu)} and lacks {', '.join(missing)}; an imu recording has all six.",
            pointer_to(missing[0]),
        )
    if imu:
        beside = [name for name in encoder if name in BESIDE_IMU]
        left = [
            f"The column {name} was left out: the recording is that of the imu."
            for name in encoder
            if name not in beside
        ]
        return "imu", imu + beside, left
    if encoder:
        left = ["The column velocity was left out: velocity is found from position."] if len(encoder) > 1 else []
        return "encoder", encoder[:1], left
    raise Refusal(
        "missing-column",
        f"No column can be used; the file has {', '.join(h[:40] for h in headers[:20]) or 'no header'}. Name them "
        f"t_s, t_ms or t_us, and {', '.join(IMU_CHANNELS)}, or position, or velocity.",
    )


def _units(
    channels: list[str], found: dict[str, tuple[int, str | None]], headers: list[str], declared: dict[str, str]
) -> dict[str, str]:
    """Group to UCUM code: the suffix of the header, else what is declared, else SI; refuses what does not agree."""
    units: dict[str, str] = {}
    said_by: dict[str, str] = {}
    for name in channels:
        position, suffix = found[name]
        group, header = group_of(name), headers[position]
        if suffix is not None:
            check_unit(suffix, group, pointer_to(header))
        unit = suffix or declared.get(group) or SI[group]
        for other, who in ((declared.get(group), "the declared units say"), (units.get(group), said_by.get(group))):
            if other is not None and other != unit:
                has = "is in" if suffix else "names no unit, so it is read in"
                raise Refusal(
                    "unit-conflict",
                    f"`{header.strip()}` {has} `{unit}` but {who} `{other}`; make them the same.",
                    pointer_to(header),
                )
        units[group], said_by[group] = unit, f"`{header.strip()}` {'says' if suffix else 'is read in'}"
    return units


def _time(found: dict[str, tuple[int, str | None]], headers: list[str]) -> tuple[int, str]:
    names = [name for name in TIMES if name in found]
    if not names:
        raise Refusal("missing-column", "The file has no time column; name it t_s, t_ms or t_us.", pointer_to("t_us"))
    if len(names) > 1:
        raise Refusal(
            "time-unclear", f"The file has {' and '.join(names)}; keep one time column.", pointer_to(names[-1])
        )
    position, suffix = found[names[0]]
    unit = TIMES[names[0]][0]
    if suffix not in (None, unit):
        raise Refusal(
            "unit-conflict",
            f"`{headers[position].strip()}` says two units; `{names[0]}` is in `{unit}`.",
            pointer_to(headers[position]),
        )
    return position, names[0]
