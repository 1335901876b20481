"""A bar motion under construction: curves that grow rep by rep, and what is known of each rep by construction."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from barsim.bar import BarCurves
from barsim.curves import Curve, KnotLine, Step, hand_sway
from barsim.lifters import Lifter
from barsim.options import Options


@dataclass
class RepMarks:
    """What is known of one rep by construction; times in s from the start of the recording.

    kind: pull (floor to apex and catch), plain_pull (floor to apex), drive (jerk), lift_after_lowering, lift_first.
    edges: phase boundaries by name.
    """

    kind: str
    outcome: str
    start: float
    stop: float = 0.0
    edges: dict[str, float] = field(default_factory=dict)
    dip_in_transition: bool = False
    jerk: RepMarks | None = None


@dataclass
class Draft:
    """The set so far. All lengths of time and sizes are drawn from `rng` unless options fix them."""

    rng: np.random.Generator
    lifter: Lifter
    share: float
    options: Options
    bar: BarCurves = field(default_factory=BarCurves)
    reps: list[RepMarks] = field(default_factory=list)
    rests: list[tuple[float, float]] = field(default_factory=list)
    jolts: list[tuple[float, float]] = field(default_factory=list)  # (time, size 0-1) of what sets the bar swinging

    @classmethod
    def begin(cls, rng: np.random.Generator, lifter: Lifter, share: float, options: Options, height: float) -> Draft:
        """A bar at rest at `height` (m), turned to a random angle."""
        spin = Curve(KnotLine(float(rng.uniform(-math.pi, math.pi))))
        yaw = Curve(KnotLine(math.radians(float(rng.normal(0, 0.3)))))
        return cls(rng, lifter, share, options, BarCurves(z=Curve(KnotLine(height)), spin=spin, yaw=yaw))

    @property
    def t(self) -> float:
        """End of the vertical motion so far, s."""
        return self.bar.z.line.t

    @property
    def height(self) -> float:
        """Height at the end so far, m (sway not counted)."""
        return self.bar.z.line.position

    def draw(self, low: float, high: float) -> float:
        """A uniform draw."""
        return float(self.rng.uniform(low, high))

    def hold(self, duration: float) -> None:
        """Nothing but sway happens to the bar's height for a while."""
        self.bar.z.line.add(duration)
        self.rests.append((self.t - duration, self.t))

    def go(self, duration: float, v: float = 0.0, a: float = 0.0, j: float = 0.0) -> float:
        """Append a vertical knot; answers its time."""
        self.bar.z.line.add(duration, v, a, j)
        return self.t

    def move(self, size: float, duration: float, early: float = 0.5) -> float:
        """Rise (or sink) by `size` from rest to rest, fastest after the share `early` of the time; answers when."""
        first, second = early * duration, (1 - early) * duration
        bend = 6.0 / (first * second)
        v = size / (duration / 2 - bend * (first**3 + second**3) / 120)
        peak = self.go(first, v, 0.0, -bend * v)
        self.go(second)
        return peak

    def step(self, axis: str, start: float, duration: float, size: float) -> None:
        """A smooth step of one of the curves (x, y, spin, tilt, yaw)."""
        if size:
            getattr(self.bar, axis).steps.append(Step(start, duration, size))

    def sway(
        self,
        start: float,
        stop: float,
        *,
        share: float = 1.0,
        up: float = 1.0,
        fade: float = 0.3,
        fade_out: float | None = None,
    ) -> None:
        """Held weight is never still: sway of place (upward: the share `up` of it) and attitude from start to stop."""
        if stop - start < 0.1:
            return
        size = self.options.sway_m * share
        turn = math.radians(self.options.sway_deg) * share
        sizes = {"x": size, "y": size, "z": up * size, "spin": 2 * turn, "tilt": turn, "yaw": 0.7 * turn}
        for axis, amount in sizes.items():
            if amount:
                part = hand_sway(self.rng, start, stop, amount, fade=fade, fade_out=fade_out)
                getattr(self.bar, axis).sways.append(part)

    def tilting(self, start: float, duration: float, back: float) -> None:
        """The bar goes out of level and out of square by a little during a rep and comes back at `back`."""
        for axis, sd in (("tilt", self.options.tilt_deg), ("yaw", 0.7 * self.options.tilt_deg)):
            size = math.radians(float(self.rng.normal(0, sd)))
            self.step(axis, start, duration, size)
            self.step(axis, back, 0.5, -size)

    def stand_up(self, rise: float, mean_velocity: float, push: float = 0.0) -> dict[str, float]:
        """Lift by `rise` with a sticking region that deepens with the load; starts from v = 0 with acceleration `push`.

        Answers the times of first peak, sticking point and last peak.
        """
        total = rise / mean_velocity
        heavy = min(max((self.share - 0.5) / 0.5, 0.0), 1.0)
        light_parts, heavy_parts = np.array([0.32, 0.12, 0.16, 0.40]), np.array([0.22, 0.22, 0.30, 0.26])
        light_shape, heavy_shape = np.array([1.2, 1.4, 1.5]), np.array([1.05, self.draw(0.4, 0.65), 1.75])
        parts = total * ((1 - heavy) * light_parts + heavy * heavy_parts)
        shape = (1 - heavy) * light_shape + heavy * heavy_shape
        free = float(np.sum(shape * (parts[:-1] + parts[1:]) / 2))
        scale = (rise - parts[0] ** 2 * push / 10) / free
        times = [self.go(float(part), float(v) * scale) for part, v in zip(parts[:-1], shape, strict=True)]
        self.go(float(parts[-1]))
        return dict(zip(("first_peak", "sticking", "last_peak"), times, strict=True))
