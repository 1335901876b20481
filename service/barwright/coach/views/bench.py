"""How good one sensor is, ready to print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from barwright.coach.charts.drawing import Chart
from barwright.coach.charts.sensor import ErrorBar, FigureRow, expected_chart, likeness_chart
from barwright.coach.numbers import Display
from barwright.coach.words import Tag
from barwright.storage.bench import StoredBench
from barwright.storage.devices import Device

_LIFTS = {
    "snatch": "Snatch", "clean": "Clean", "jerk": "Jerk", "back_squat": "Squat", "bench_press": "Bench press",
    "deadlift": "Deadlift",
}  # fmt: skip
_FIGURES = {
    "accel_noise": ("Accelerometer noise", "µg/√Hz"),
    "gyro_noise": ("Gyroscope noise", "deg/s/√Hz"),
    "accel_bias": ("Accelerometer zero", "mg"),
    "gyro_bias": ("Gyroscope zero", "deg/s"),
    "accel_scale": ("Accelerometer scale", "%"),
    "gyro_scale": ("Gyroscope scale", "%"),
}
_HEADLINE = "With this sensor"
_MOTIONS = {"drop": "Drop", "pendulum": "Pendulum", "two_heights": "Two heights", "spin": "Spin"}
_VERDICTS = {
    "agrees": Tag("✓", "Agrees", "is-good"),
    "doubtful": Tag("!", "Doubtful", "is-watch"),
    "differs": Tag("✕", "Differs", "is-bad"),
}


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of facts."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to change and what it buys."""

    words: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Tried:
    """One known motion or string, when, how it went."""

    when: str
    title: str
    tag: Tag | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BenchView:
    """checked: when the device was last checked, None when it never was."""

    name: str
    checked: str | None
    headline: tuple[str, ...]
    steps: tuple[Step, ...]
    said: tuple[str, ...]
    facts: tuple[Fact, ...]
    expected: Chart | None
    likeness: Chart | None
    missing: str | None
    tried: tuple[Tried, ...]
    imu: bool


def bench_view(
    device: Device, checks: Sequence[StoredBench], others: Sequence[StoredBench], display: Display
) -> BenchView:
    """Of the newest check, and what else was tried, the newest first."""
    tried = tuple(_tried(one, display) for one in others)
    imu = device.facts.kind == "imu"
    if not checks:
        return BenchView(device.facts.name, None, (), (), (), (), None, None, None, tried, imu)
    newest = checks[0]
    found = newest.found
    words = [word.replace("`", "") for word in found["words"]]  # marks of code are for terminals
    headline = tuple(word for word in words if word.startswith(_HEADLINE))
    elsewhere = (_HEADLINE, "Change first", "Then:", "No constants")
    changes = found["changes"]
    return BenchView(
        name=device.facts.name,
        checked=display.day(newest.created_at),
        headline=headline,
        steps=tuple(Step(one["words"], f"{one['before']:.4f}", f"{one['after']:.4f}") for one in changes),
        said=tuple(word for word in words if not word.startswith(elsewhere)),
        facts=_facts(found),
        expected=expected_chart([_bar(one) for one in found["expected"]]),
        likeness=likeness_chart([_row(one) for one in found["likeness"]]),
        missing=found["no_constants"],
        tried=tried,
        imu=imu,
    )


def _bar(one: dict[str, Any]) -> ErrorBar:
    return ErrorBar(_LIFTS.get(one["lift"], one["lift"]), one["as_is"]["u"], one["calibrated"]["u"])


def _row(one: dict[str, Any]) -> FigureRow:
    title, unit = _FIGURES[one["figure"]]
    value = one["value"]
    words = "not known" if value is None else f"{_digits(value)} {unit}"
    return FigureRow(title, unit, value, words, tuple(one["classes"].items()), one["like"] or "")


def _facts(found: dict[str, Any]) -> tuple[Fact, ...]:
    stream = found["stream"]
    out = [
        Fact("Samples a second", f"{stream['rate_hz']['value']:.1f}"),
        Fact("Unevenness of stamps", f"{1000 * stream['jitter_s']:.2f} ms"),
        Fact("Samples lost", f"{100 * stream['lost']:.2f} %"),
        Fact("Longest hole", f"{1000 * stream['longest_hole_s']:.0f} ms"),
        Fact("Filter", "open" if stream["bandwidth_hz"] is None else f"passes {stream['bandwidth_hz']:.0f} Hz"),
    ]
    clock = found["clock"]
    drift = None if clock is None else clock["drift"]
    known = drift is not None and drift["value"] is not None
    out.append(Fact("Clock", f"{drift['value']:+.0f} ± {drift['u']:.0f} ppm" if known and drift else "not checked"))
    for one in found["ranges"]:
        size, unit = (9.80665, "g") if one["group"] == "accel" else (math.pi / 180, "deg/s")
        name = "Range, accelerometer" if one["group"] == "accel" else "Range, gyroscope"
        need = f"lifts need ±{one['needed'] / size:.0f} {unit}"
        full = "not told" if one["full_scale"] is None else f"±{one['full_scale'] / size:.0f} {unit}"
        out.append(Fact(name, f"{full}; {need}"))
    out.append(Fact("Like the class", found["alike"]))
    return tuple(out)


def _tried(one: StoredBench, display: Display) -> Tried:
    found = one.found
    if one.kind == "string":
        return Tried(display.day(one.created_at), "String set up", None, tuple(found["words"]))
    order = ("differs", "doubtful", "agrees")
    worst = min((figure["verdict"] for figure in found["figures"]), key=order.index)
    title = _MOTIONS.get(found["motion"], found["motion"])
    return Tried(display.day(one.created_at), title, _VERDICTS[worst], tuple(found["words"]))


def _digits(value: float) -> str:
    if value <= 0:
        return "0"
    return f"{value:.{max(0, 2 - math.floor(math.log10(value)) - 1)}f}"
