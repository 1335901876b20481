"""The charts of docs/bring_your_own_device.md, from the error model; run as `python -m make_sensor_charts`."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from barwright.analysis.devices.expected import Mounted, SensorKnown, class_known, expected_error
from barwright.analysis.devices.lift_models import MODELLED, felt, lift_models
from barwright.analysis.motion.device_class import DEVICE_CLASSES, STANDARD_GRAVITY
from barwright.pictures.drawing import Scale, box, dot, line, picture, segment, text

DOCS = Path(__file__).parents[1] / "docs"
RATES = (25.0, 50.0, 75.0, 100.0, 150.0, 200.0, 400.0, 800.0)
ERRORS = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1)
WIDTH, HEIGHT = 640.0, 330.0
STYLE = """<style>
text { font-family: sans-serif; } .c-tick { fill: #444; font-size: 13px; } .c-name { fill: #444; font-size: 13px;
font-weight: bold; } .c-label { fill: #111; font-size: 13px; font-weight: bold; } .c-grid { stroke: #ddd; }
.c-axis { stroke: #888; } .a { fill: none; stroke: #1e4d63; stroke-width: 2.4; } .a-dot { fill: #1e4d63; }
.b { fill: none; stroke: #1e4d63; stroke-width: 2; stroke-dasharray: 3 4; } .b-dot { fill: #fff; stroke: #1e4d63; }
.c { fill: none; stroke: #a8431b; stroke-width: 2.4; } .c-dot { fill: #a8431b; }
.d { fill: none; stroke: #a8431b; stroke-width: 2; stroke-dasharray: 3 4; } .d-dot { fill: #fff; stroke: #a8431b; }
.bar { fill: #1e4d63; } .bar-2 { fill: #fff; stroke: #1e4d63; }
</style><rect width="100%" height="100%" fill="#fff"/>"""
SHAFT = Mounted(np.array([1.0, 0.0, 0.0]), along_m=0.0)


def sensors() -> dict[str, SensorKnown]:
    """A hobby sensor as it is and calibrated, without its rate."""
    hobby = class_known(DEVICE_CLASSES["hobby"], 100.0)
    steady = class_known(DEVICE_CLASSES["calibrated"], 100.0)
    noise = DEVICE_CLASSES["hobby"]
    return {
        "as it is": hobby,
        "calibrated": replace(steady, accel_noise=noise.accel_noise, gyro_noise=noise.gyro_noise),
    }


def errors() -> dict[tuple[str, str], list[float]]:
    """(lift, state) -> error to expect at each of RATES, m/s."""
    return {
        (lift, state): [expected_error(replace(one, rate_hz=hz), SHAFT, lift, quick=True) for hz in RATES]
        for lift in ("snatch", "back_squat")
        for state, one in sensors().items()
    }


def rate_chart() -> str:
    """Error to expect against sample rate, both logarithmic."""
    found = errors()
    left, right, above, below = 66.0, 150.0, 34.0, 52.0
    across = Scale(math.log10(RATES[0]) - 0.04, math.log10(RATES[-1]) + 0.04, left, WIDTH - right)
    low, high = (math.log10(ends) for ends in (ERRORS[0], ERRORS[-1]))
    up = Scale(low, high, HEIGHT - below, above)
    parts = [STYLE]
    for value in ERRORS:
        y = up(math.log10(value))
        parts += [segment(left, y, WIDTH - right, y, "c-grid"), text(left - 8, y + 4, f"{value:g}", anchor="end")]
    for hz in RATES:
        x = across(math.log10(hz))
        parts += [
            segment(x, above, x, HEIGHT - below, "c-grid"),
            text(x, HEIGHT - below + 18, f"{hz:g}", anchor="middle"),
        ]
    parts.append(text(12, 18, "error to expect of the peak velocity, ± m/s", "c-name"))
    parts.append(text((left + WIDTH - right) / 2, HEIGHT - 8, "samples a second", "c-name", "middle"))
    titles = {"snatch": "snatch", "back_squat": "squat"}
    taken: list[float] = []
    for kind, ((lift, state), values) in zip("abcd", found.items(), strict=True):
        points = [
            (across(math.log10(hz)), up(math.log10(max(value, ERRORS[0]))))
            for hz, value in zip(RATES, values, strict=True)
        ]
        parts.append(line(points, kind))
        parts += [
            dot(x, y, 3.5, f"{kind}-dot", f"{hz:g} Hz: {v:.4f} m/s")
            for (x, y), hz, v in zip(points, RATES, values, strict=True)
        ]
        y = points[-1][1] + 4
        while any(abs(y - other) < 15 for other in taken):
            y += 3
        taken.append(y)
        parts.append(text(WIDTH - right + 8, y, f"{titles[lift]}, {state}", "c-label"))
    words = "Error against rate for a sensor of the class hobby. " + " ".join(
        f"{titles[lift].capitalize()} {state}: {values[1]:.3f} m/s at 50, {values[3]:.3f} at 100, "
        f"{values[5]:.3f} at 200, {values[7]:.3f} at 800 samples a second."
        for (lift, state), values in found.items()
    )
    return tidy(picture(WIDTH, HEIGHT, "What rate buys", words, parts, "rate"))


def needs() -> dict[str, tuple[float, float]]:
    """lift -> greatest force, g, and greatest rate, deg/s, of its models."""
    out = {}
    for lift in MODELLED:
        seen = [felt(model, 200.0) for model in lift_models(lift)]
        force = max(float(np.linalg.norm(one.accel, axis=1).max()) for one in seen) / STANDARD_GRAVITY
        out[lift] = (force, max(float(np.degrees(np.abs(one.gyro).max())) for one in seen))
    return out


def range_chart() -> str:
    """Greatest force and rate of each modelled lift."""
    found = needs()
    row, left, middle = 34.0, 108.0, 330.0
    height = 64.0 + row * len(found)
    force = Scale(0.0, 3.0, left, middle - 40)
    rate = Scale(0.0, 1200.0, middle + 20, WIDTH - 70)
    parts = [
        STYLE,
        text(left, 22, "greatest force, g", "c-name"),
        text(middle + 20, 22, "greatest rate, deg/s", "c-name"),
    ]
    for place, (lift, (g, deg)) in enumerate(found.items()):
        y = 38.0 + row * place
        parts += [text(left - 8, y + 15, lift.replace("_", " "), "c-label", "end"),
                  box(left, y, force(g) - left, 20, "bar"), text(force(g) + 6, y + 15, f"{g:.1f}"),
                  box(middle + 20, y, rate(deg) - middle - 20, 20, "bar-2"),
                  text(rate(deg) + 6, y + 15, f"{deg:.0f}")]  # fmt: skip
    parts.append(
        text(left, height - 8, "of the smooth lift; a hard catch adds some g, a dropped bar 20 to 100", "c-tick")
    )
    words = "Greatest force and rate in modelled lifts. " + " ".join(
        f"{lift.replace('_', ' ')}: {g:.1f} g, {deg:.0f} degrees a second." for lift, (g, deg) in found.items()
    )
    return tidy(picture(WIDTH, height, "What lifts ask of a sensor", words, parts, "range"))


def tidy(svg: str) -> str:
    """One element a line, so that a difference can be read."""
    return re.sub(r"(?<=>)(?=<)", "\n", svg) + "\n"


def charts() -> dict[str, str]:
    """File name in docs -> content."""
    return {"sensor_rate.svg": rate_chart(), "sensor_range.svg": range_chart()}


if __name__ == "__main__":
    for name, content in charts().items():
        (DOCS / name).write_text(content, encoding="utf-8")
