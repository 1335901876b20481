"""What a string encoder on the floor puts out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barsim.bar import BarCurves

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class EncoderKind:
    """A string encoder. The string runs from an anchor on the floor to the bar.

    anchor_x_m, anchor_y_m: anchor forward and to the lifter's left of the bar's start (m); both 0 and a plumb path make
    the string length the height. slips: sudden lasting jumps of the count; outliers: share of single wild samples.
    """

    rate_hz: float = 200.0
    resolution_m: float = 0.0005
    noise_m: float = 0.0002
    anchor_x_m: float = 0.0
    anchor_y_m: float = 0.0
    anchor_height_m: float = 0.0
    slips: int = 0
    slip_m: float = 0.01
    outliers: float = 0.0
    outlier_m: float = 0.15

    @property
    def anchor_offset_m(self) -> float:
        """Horizontal distance from the anchor to where the bar starts."""
        return math.hypot(self.anchor_x_m, self.anchor_y_m)


@dataclass(frozen=True, slots=True)
class EncoderOutput:
    """t_s (n,), first sample 0; position_m (n,) string length; true_t_s (n,) on the motion's clock."""

    t_s: Floats
    position_m: Floats
    true_t_s: Floats


def encoder_output(bar: BarCurves, duration: float, kind: EncoderKind, rng: np.random.Generator) -> EncoderOutput:
    """String length with noise, slips and outliers, rounded to the resolution."""
    t = np.arange(int(duration * kind.rate_hz)) / kind.rate_hz
    x, y, z = (curve.evaluate(t)[0] for curve in (bar.x, bar.y, bar.z))
    length = np.hypot(np.hypot(x - kind.anchor_x_m, y - kind.anchor_y_m), z - kind.anchor_height_m)
    length = length + rng.normal(0, 1, len(t)) * kind.noise_m
    for _ in range(kind.slips):
        begin = int(rng.integers(len(t) // 10, len(t)))
        length[begin:] += kind.slip_m * float(rng.choice([-1.0, 1.0]))
    if kind.outliers:
        wild = rng.random(len(t)) < kind.outliers
        length = length + wild * rng.uniform(-1, 1, len(t)) * kind.outlier_m
    if kind.resolution_m:
        length = np.round(length / kind.resolution_m) * kind.resolution_m
    return EncoderOutput(np.round(t * 1e6) / 1e6, length, t)
