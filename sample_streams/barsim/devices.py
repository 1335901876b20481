"""Sensor classes, how a sensor sits on the bar, and the errors no model of the analysis knows of."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from barsim.bar import GRAVITY

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DeviceClass:
    """One class of inertial sensor. Densities are one-sided white noise per root hertz.

    accel_bias, gyro_bias, scale and cross are standard deviations of Gaussians drawn afresh for every recording: bias
    per axis, scale per axis, cross-axis per off-diagonal element.
    constants: of one sensor of the class, when they are not to be drawn afresh (see sensors.draw_constants).
    """

    name: str
    rate_hz: float
    accel_noise: float  # m/s2/sqrt(Hz)
    gyro_noise: float  # rad/s/sqrt(Hz)
    accel_bias: float  # m/s2
    gyro_bias: float  # rad/s
    accel_scale: float
    gyro_scale: float
    cross: float
    lost: float = 0.0  # share of samples lost
    jitter_s: float = 0.0  # sd of the sampling times; the time stamps tell the time each sample was really taken
    accel_range: float = 16 * GRAVITY
    gyro_range: float = math.radians(2000.0)
    constants: dict[str, Floats] | None = None  # of one sensor; None draws them afresh (sensors.draw_constants)


def _class(
    name: str, rate: float, ug: float, dps: float, mg: float, bias_dps: float, scale: tuple[float, float], cross: float,
    lost: float = 0.0, jitter_s: float = 0.0,
) -> DeviceClass:  # fmt: skip
    return DeviceClass(
        name, rate, ug * 1e-6 * GRAVITY, math.radians(dps), mg * 1e-3 * GRAVITY, math.radians(bias_dps),
        scale[0] / 100, scale[1] / 100, cross / 100, lost, jitter_s,
    )  # fmt: skip


DEVICES: dict[str, DeviceClass] = {
    one.name: one
    for one in (
        _class("good", 416, 80, 0.004, 20, 0.5, (0.3, 0.5), 0.3),
        _class("fast", 1000, 120, 0.006, 20, 1.0, (0.5, 0.7), 0.4),
        _class("hobby", 200, 300, 0.010, 50, 3.0, (1.0, 1.5), 1.0),
        _class("poor", 100, 400, 0.020, 60, 5.0, (2.0, 2.0), 1.5, lost=0.005, jitter_s=0.001),
    )
}
PERFECT = DeviceClass("perfect", 1000, 0, 0, 0, 0, 0, 0, 0, accel_range=math.inf, gyro_range=math.inf)


@dataclass(frozen=True, slots=True)
class Mounting:
    """How the sensor sits. bar_axis: the sensor axis that points to the lifter's left ("+x", "-y", ... or a vector).

    turn: angle of the sensor about the bar (rad; None: drawn). along_m: distance from the bar's middle toward the left
    end; radius_m: distance off the bar's axis. place: shaft, or sleeve (spins on its own).
    """

    bar_axis: str | tuple[float, float, float] = "+x"
    turn: float | None = None
    along_m: float = 0.0
    radius_m: float = 0.0
    place: str = "shaft"

    def axis(self) -> Floats:
        """bar_axis as a unit vector (3,), sensor frame."""
        if isinstance(self.bar_axis, str):
            names = {"x": 0, "y": 1, "z": 2}
            if len(self.bar_axis) != 2 or self.bar_axis[0] not in "+-" or self.bar_axis[1] not in names:
                raise ValueError(f'bar_axis must be one of "+x" "-x" "+y" "-y" "+z" "-z", not {self.bar_axis!r}')
            vector = np.zeros(3)
            vector[names[self.bar_axis[1]]] = 1.0 if self.bar_axis[0] == "+" else -1.0
            return vector
        vector = np.asarray(self.bar_axis, dtype=float)
        return vector / float(np.linalg.norm(vector))

    def sensor_from_bar(self, turn: float) -> Floats:
        """Rotation (3, 3) that turns bar-frame vectors into the sensor frame; its middle column is `axis()`."""
        left = self.axis()
        other = np.eye(3)[int(np.argmin(np.abs(left)))]
        first = np.cross(left, other)
        first /= np.linalg.norm(first)
        second = np.cross(first, left)
        c, s = math.cos(turn), math.sin(turn)
        ahead = c * first + s * second
        return np.stack([ahead, left, np.cross(ahead, left)], axis=1)


@dataclass(frozen=True, slots=True)
class Unmodelled:
    """Errors outside the usual sensor model, each off at zero (or None). SI units unless the name says otherwise."""

    accel_walk: float = 0.0  # bias random walk, m/s2 per sqrt(s)
    gyro_walk: float = 0.0  # rad/s per sqrt(s)
    accel_ramp: float = 0.0  # temperature ramp of the bias, m/s2 per s, random direction
    gyro_ramp: float = 0.0  # rad/s per s
    g_sensitivity: float = 0.0  # rad/s per m/s2, each axis its own sign
    whip_m: float = 0.0  # bending of the bar at the sensor, m, after every jolt
    whip_hz: float = 8.0
    outboard_m: float = 0.0  # sensor this far from the middle of the bar
    place_told: bool = True  # whether the service is told how far out the sensor sits
    tilt_deg: float = 0.0  # the bar tilts by this much in every rep
    force_delay_s: float = 0.0  # accelerometer behind gyroscope
    free_sleeve: bool = False  # sensor on a sleeve that spins on its own
    clock_rate: float = 0.0  # device clock fast (+) or slow (-) by this share
    stamp_jitter_s: float = 0.0  # sd of the time stamps about the times samples were really taken
    lost: float = 0.0  # share of samples lost, singly
    bursts: int = 0  # runs of lost samples
    burst_s: float = 0.15
    repeated: float = 0.0  # share of samples sent twice
    accel_range: float | None = None  # m/s2, instead of the class's
    anti_alias: bool = True  # False: point samples, so that impacts alias

    @classmethod
    def off(cls) -> Unmodelled:
        """Nothing outside the model."""
        return cls()

    @classmethod
    def typical(cls, rng: np.random.Generator) -> Unmodelled:
        """What a real bar and a real sensor may well do all at once."""
        return cls(
            accel_walk=float(rng.uniform(0.3, 1.0)) * 1e-3,
            gyro_walk=math.radians(float(rng.uniform(0.002, 0.008))),
            accel_ramp=float(rng.uniform(0, 1.0)) * 1e-3,
            gyro_ramp=math.radians(float(rng.uniform(0, 0.004))),
            g_sensitivity=math.radians(float(rng.uniform(0, 0.05))) / GRAVITY,
            whip_m=float(rng.uniform(0.005, 0.015)),
            whip_hz=float(rng.uniform(6.0, 10.0)),
            outboard_m=float(rng.uniform(0.6, 0.9)),
            tilt_deg=float(rng.uniform(2.0, 5.0)),
            force_delay_s=float(rng.uniform(0.001, 0.003)),
        )

    def only(self, *names: str) -> Unmodelled:
        """The same with everything but the named errors switched off."""
        known = {f.name for f in fields(self)}
        if not set(names) <= known:
            raise ValueError(
                f"no such error: {', '.join(sorted(set(names) - known))}; there are {', '.join(sorted(known))}"
            )
        return replace(Unmodelled(), **{name: getattr(self, name) for name in names})
