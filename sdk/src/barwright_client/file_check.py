"""A first look at a CSV of samples, without a service: would it be any good, and if not, why."""

from __future__ import annotations

import csv
import math
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from statistics import median

_TIMES = {"t_s": 1.0, "t_ms": 1e-3, "t_us": 1e-6}
_IMU = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")
_SHORTEST_S = 1.0  # common practice, no source
_HEADER = re.compile(r"([a-z_]+)(?:\[(.+)\])?")
_GRAVITY = {"m/s2": 9.81, "[g]": 1.0, "m[g]": 1000.0}


@dataclass(frozen=True, slots=True)
class FileCheck:
    """verdict: good, poor, unusable, or unknown for a file only the service can read; words: why, in plain sentences.

    Only the service's own verdict is final.
    """

    verdict: str
    words: tuple[str, ...]
    samples: int = 0
    rate_hz: float | None = None
    duration_s: float | None = None


def check_file(path: str | os.PathLike[str]) -> FileCheck:
    """Looks at the times, the columns and the first second of a CSV file. Raises OSError when it cannot be read."""
    if Path(path).suffix.lower() != ".csv":
        return FileCheck("unknown", ("Only CSV can be looked at without a service; `preview` asks the service.",))
    with open(path, newline="", encoding="utf-8-sig") as file:
        rows = [row for row in csv.reader(file) if row]
    if rows and not _named_as_here(rows[0]):
        words = (
            f"The columns {', '.join(rows[0])[:80]} have other names than this look knows; `preview` asks the service."
        )
        return FileCheck("unknown", (words,), len(rows) - 1)
    if len(rows) < 9:
        return FileCheck("unusable", (f"The file has {max(0, len(rows) - 1)} samples; at least 8 are needed.",))
    units, columns, trouble = _columns(rows)
    if trouble is not None:
        return FileCheck("unusable", (trouble,), len(rows) - 1)
    (time_name,) = (name for name in columns if name in _TIMES)
    return _verdict([t * _TIMES[time_name] for t in columns.pop(time_name)], columns, units)


def _named_as_here(header: list[str]) -> bool:
    """Whether any column has a name of the contract; other spellings are for the service to understand."""
    found = (_HEADER.fullmatch(title.strip()) for title in header)
    names = {one[1] for one in found if one}
    return bool(names & {*_TIMES, *_IMU, "position", "velocity"})


def _columns(rows: list[list[str]]) -> tuple[dict[str, str], dict[str, list[float]], str | None]:
    names, units = [], {}
    for title in rows[0]:
        found = _HEADER.fullmatch(title.strip())
        names.append(found[1] if found else title.strip())
        if found and found[2]:
            units[names[-1]] = found[2]
    if sum(name in _TIMES for name in names) != 1:
        return {}, {}, f"One time column is needed, {' or '.join(_TIMES)}; the header has {', '.join(names)}."
    missing = [name for name in _IMU if name not in names]
    if missing and not {"position", "velocity"} & set(names):
        return {}, {}, f"The header lacks {', '.join(missing)} (or position, or velocity, of an encoder)."
    columns: dict[str, list[float]] = {name: [] for name in names}
    for number, row in enumerate(rows[1:], 2):
        try:
            for name, text in zip(names, row, strict=True):
                columns[name].append(float(text))
        except ValueError:
            return {}, {}, f"Line {number} does not hold {len(names)} numbers: {','.join(row)[:80]!r}."
    if not all(math.isfinite(value) for column in columns.values() for value in column):
        return {}, {}, "A value is not finite; leave out samples that were not measured."
    return units, columns, None


def _verdict(t: list[float], columns: dict[str, list[float]], units: dict[str, str]) -> FileCheck:
    steps = [b - a for a, b in pairwise(t)]
    step = median(steps)
    if step <= 0 or t[-1] <= t[0]:
        return FileCheck("unusable", ("The times do not rise; check their unit and order.",), len(t))
    rate = 1.0 / step
    words = [f"{len(t)} samples at {rate:.0f} Hz over {t[-1] - t[0]:.1f} s."]
    poor = unusable = False
    if t[-1] - t[0] < _SHORTEST_S:
        words.append(f"A rep with a rest before and after it takes longer than {_SHORTEST_S:g} s.")
        poor = True
    if not 20 <= rate <= 4000:
        words.append(f"A rate of {rate:.3g} Hz is outside 20-4000 Hz: check the unit of the times.")
        unusable = True
    backwards = sum(one < 0 for one in steps)
    gaps = [one for one in steps if one > 2.5 * step]
    if backwards:
        words.append(f"Time runs backwards {backwards} times.")
        unusable = True
    if gaps:
        words.append(f"{len(gaps)} holes, the longest {1000 * max(gaps):.0f} ms.")
        poor = poor or max(gaps) > 0.04
    if rate < 90:
        words.append("Peaks are blunted below 100 Hz; 200 Hz or more shows a pull as it was.")
        poor = True
    if "accel_x" in columns:
        more, bad, broken = _force_words(columns, units, rate)
        words, poor, unusable = words + more, poor or bad, unusable or broken
    verdict = "unusable" if unusable else "poor" if poor else "good"
    return FileCheck(verdict, tuple(words), len(t), rate, t[-1] - t[0])


def _force_words(columns: dict[str, list[float]], units: dict[str, str], rate: float) -> tuple[list[str], bool, bool]:
    """About the accelerometer: sentences, whether it is poor, whether it is no use."""
    unit = units.get("accel_x", "m/s2")
    gravity = _GRAVITY.get(unit)
    if gravity is None:
        return [f"`{unit}` is no unit of acceleration here; write m/s2, [g] or m[g]."], True, True
    axes = [columns[name] for name in ("accel_x", "accel_y", "accel_z")]
    size = [math.sqrt(x * x + y * y + z * z) / gravity for x, y, z in zip(*axes, strict=True)]
    words, poor, unusable = [], False, False
    at_rest = median(size)
    if not 0.7 < at_rest < 1.5:
        words.append(
            f"The accelerometer reads {at_rest:.2f} times gravity most of the time; at rest it reads 1. Check the unit "
            f"(read as {unit}), and that gravity was not taken out."
        )
        unusable = True
    clipped = sum(_held_at_top(axis, round(0.03 * rate)) for axis in axes)  # no blow of a dropped bar lasts so long
    if clipped:
        words.append(f"{clipped} samples sit at full scale; a wider range would keep the peaks.")
        poor = True
    first = size[: max(4, round(0.5 * rate))]
    if max(first) - min(first) > 0.1:
        words.append("The bar is not still in the first half second; keep still for a second before and after.")
        poor = True
    return words, poor, unusable


def _held_at_top(axis: Sequence[float], longest: int) -> int:
    """Samples in runs at the largest value that are longer than that, and than three."""
    top = max(abs(value) for value in axis)
    held = run = 0
    for value in [*axis, 0.0]:
        if abs(value) >= top * (1 - 1e-6) and top > 0:
            run += 1
            continue
        held, run = held + (run if run > max(3, longest) else 0), 0
    return held
