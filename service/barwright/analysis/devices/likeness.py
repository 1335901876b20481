"""A sensor's measured figures beside those of the device classes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from barwright.analysis.devices.found import Likeness
from barwright.analysis.motion.device_class import DEVICE_CLASSES, STANDARD_GRAVITY, SensorPrior
from barwright.analysis.poses.found import Figures, Noise, SensorFound

CLASSES = ("good", "fast", "hobby", "poor")  # from the best to the worst
WITHIN = 1.6  # three axes of a class scatter so far about its figure (rms of three Gaussians, 95 %)
_DEG, _MG = math.pi / 180, STANDARD_GRAVITY / 1000

_Row = tuple[str, str, float, Callable[[SensorPrior], float]]
ROWS: tuple[_Row, ...] = (
    ("accel_noise", "ug/sqrt(Hz)", _MG / 1000, lambda p: p.accel_noise),
    ("gyro_noise", "deg/s/sqrt(Hz)", _DEG, lambda p: p.gyro_noise),
    ("accel_bias", "m[g]", _MG, lambda p: p.accel_bias),
    ("gyro_bias", "deg/s", _DEG, lambda p: p.gyro_bias),
    ("accel_scale", "%", 0.01, lambda p: p.accel_scale),
    ("gyro_scale", "%", 0.01, lambda p: p.gyro_scale),
)


def likeness(noise: Noise | None, sensor: SensorFound | None) -> tuple[Likeness, ...]:
    """Noise densities; bias and scale as the rms of three axes. None where a figure is not known."""
    values = {
        "accel_noise": None if noise is None else noise.accel_density.value,
        "gyro_noise": None if noise is None else noise.gyro_density.value,
        "accel_bias": None if sensor is None else _rms(sensor.accel["bias"]),
        "gyro_bias": None if sensor is None else _rms(sensor.gyro["bias"]),
        "accel_scale": None if sensor is None else _rms(sensor.accel["scale"]),
        "gyro_scale": None if sensor is None else _rms(sensor.gyro["scale"]),
    }
    out = []
    for name, unit, size, of in ROWS:
        value = values[name]
        classes = {one: of(DEVICE_CLASSES[one]) / size for one in CLASSES}
        told = None if value is None else value / size
        out.append(Likeness(name, unit, told, classes, None if told is None else _nearest(told, classes)))
    return tuple(out)


def alike(rows: Sequence[Likeness]) -> str:
    """The best class none of whose figures is exceeded by more than chance; the worst when every one's is."""
    for name in CLASSES:
        if all(row.value is None or row.value <= WITHIN * row.classes[name] for row in rows):
            return name
    return CLASSES[-1]


def _nearest(value: float, classes: dict[str, float]) -> str:
    if value <= 0.0:
        return CLASSES[0]
    return min(CLASSES, key=lambda name: abs(math.log(value / classes[name])))


def _rms(figures: Figures) -> float | None:
    known = [one.value for one in figures.values() if one.value is not None]
    return math.sqrt(sum(value**2 for value in known) / len(known)) if known else None
