"""A device check in plain sentences."""

from __future__ import annotations

import math

from barwright.analysis.devices.found import DeviceFound
from barwright.analysis.motion.device_class import STANDARD_GRAVITY

TITLES = {
    "snatch": "snatch", "clean": "clean", "jerk": "jerk", "back_squat": "squat", "bench_press": "bench press",
    "deadlift": "deadlift",
}  # fmt: skip
TOLD_LIFTS = ("snatch", "back_squat")
CLOCK_MATTERS = 1000.0  # ppm: 0.1 % of every velocity
RANK = ("good", "fast", "hobby", "poor")


def check_words(found: DeviceFound) -> tuple[str, ...]:
    """The most important first."""
    return (*_expect(found), *_first(found), *_arrive(found), *_clock(found), *_ranges(found), *_constants(found))


def metres(u: float) -> str:
    """A velocity's u with two digits that count: 0.012 m/s."""
    digits = max(3, 1 - math.floor(math.log10(max(u, 1e-6))))
    return f"{u:.{digits}f} m/s"


def _expect(found: DeviceFound) -> list[str]:
    out = []
    for one in found.expected:
        if one.lift not in TOLD_LIFTS or one.as_is.u is None:
            continue
        said = f"With this sensor, mounted like this, expect ±{metres(one.as_is.u)} in the {TITLES[one.lift]}"
        if one.calibrated.u is None:
            out.append(f"{said}.")
        elif one.calibrated.u < 0.93 * one.as_is.u:
            out.append(f"{said}; calibrate and it becomes {metres(one.calibrated.u)}.")
        else:
            already = "; it is calibrated well already" if found.calibrated_before else "; calibrating adds little"
            out.append(f"{said}{already}.")
    return out


def _first(found: DeviceFound) -> list[str]:
    out = []
    for number, change in enumerate(found.changes):
        start = "Change first" if number == 0 else "Then"
        out.append(f"{start}: {change.words} {metres(change.before)} becomes {metres(change.after)}.")
    if not found.changes:
        out.append("Nothing about the sensor is worth changing: what is left is the unsteadiness of hands.")
    return out


def _arrive(found: DeviceFound) -> list[str]:
    stream = found.stream
    assert stream.rate_hz.value is not None
    said = f"{stream.rate_hz.value:.1f} samples a second, stamps even to {1e3 * stream.jitter_s:.2f} ms"
    lost = f"{100 * stream.lost:.2f} % lost" if stream.lost else "none lost"
    out = [f"{said}, {lost}."]
    if stream.longest_hole_s > 0.05:
        out.append(
            f"The longest hole was {stream.longest_hole_s:.2f} s: a hole that long within a lift costs the lift."
        )
    if stream.nominal_rate_hz and abs(stream.rate_hz.value / stream.nominal_rate_hz - 1.0) > 0.02:
        out.append(
            f"The device says {stream.nominal_rate_hz:g} samples a second; believe the stamps, and mend the device."
        )
    if stream.bandwidth_hz is not None:
        out.append(f"Its filter passes {stream.bandwidth_hz:.0f} Hz.")
    return out


def _clock(found: DeviceFound) -> list[str]:
    clock = found.clock
    if clock is None:
        return ["The clock was not checked: send pairs of the device's time and the server's as `clock`."]
    drift = clock.drift
    if drift.value is None or drift.u is None:
        return [f"The clock was not checked: {drift.reason}."]
    way = "fast" if drift.value > 0 else "slow"
    if abs(drift.value) < 2 * drift.u:
        return [f"No drift of the clock was seen: {drift.value:.0f} ± {drift.u:.0f} parts in a million."]
    cost = "too small to matter" if abs(drift.value) < CLOCK_MATTERS else "enough to read every velocity wrong"
    return [f"The device's clock runs {way} by {abs(drift.value):.0f} ± {drift.u:.0f} parts in a million: {cost}."]


def _ranges(found: DeviceFound) -> list[str]:
    out = []
    for one in found.ranges:
        size, unit = (STANDARD_GRAVITY, "g") if one.group == "accel" else (math.pi / 180, "deg/s")
        name = "accelerometer" if one.group == "accel" else "gyroscope"
        if one.full_scale is None:
            out.append(f"The {name}'s full scale was not told; lifts need ±{one.needed / size:.0f} {unit}.")
        elif not one.enough:
            out.append(
                f"The {name}'s full scale of ±{one.full_scale / size:.0f} {unit} is too small: lifts need "
                f"±{one.needed / size:.0f} {unit}."
            )
    return out


def _constants(found: DeviceFound) -> list[str]:
    out = []
    if found.no_constants is not None:
        out.append(f"No constants: {found.no_constants[:1].upper()}{found.no_constants[1:]}.")
    else:
        out.append(f"Noise, bias and scale are like those of the class `{found.alike}`.")
    declared = found.declared
    if declared in RANK and RANK.index(declared) < RANK.index(found.alike):
        out.append(
            f"It was declared `{declared}`, but is no better than `{found.alike}`: declare that, else u is too small."
        )
    elif declared in RANK and RANK.index(declared) > RANK.index(found.alike) and found.no_constants is None:
        out.append(f"It was declared `{declared}` and is better: declared `{found.alike}`, its figures would be surer.")
    return out
