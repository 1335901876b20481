"""What is simulated for one row of a table, and how one recording of it is made again from its seed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from barsim import LIFTERS, EncoderKind, Options, SimulatedRecording, Unmodelled, simulate
from barsim.bar import GRAVITY

# Errors that come together: a whip has a frequency, and a tilting bar moves a sensor only away from its middle.
SINGLE_ERRORS: dict[str, tuple[str, ...]] = {
    "bias walk, accelerometer": ("accel_walk",),
    "bias walk, gyroscope": ("gyro_walk",),
    "temperature ramp, accelerometer": ("accel_ramp",),
    "temperature ramp, gyroscope": ("gyro_ramp",),
    "g-sensitivity": ("g_sensitivity",),
    "bar whip": ("whip_m", "whip_hz"),
    "sensor 0.6-0.9 m off the middle": ("outboard_m",),
    "bar tilts 2-5 degrees": ("tilt_deg",),
    "tilt and off the middle": ("outboard_m", "tilt_deg"),
    "force 1-3 ms behind rate": ("force_delay_s",),
    "sensor on a free sleeve": ("free_sleeve",),
    "clock 0.05 % fast": ("clock_rate",),
    "stamps jitter 0.5 ms": ("stamp_jitter_s",),
    "1 % of samples lost": ("lost",),
    "one hole of 60 ms": ("bursts", "burst_s"),
    "1 % of samples repeated": ("repeated",),
    "range 8 g": ("accel_range",),
    "no anti-alias filter": ("anti_alias",),
}


@dataclass(frozen=True, slots=True)
class Case:
    """One row: a lift, a device class (None: the encoder alone), how the set is done, which errors are unmodelled.

    unmodelled: `off`, `typical`, or a name of SINGLE_ERRORS.
    """

    lift: str
    device: str | None = "good"
    reps: int = 1
    unmodelled: str = "off"
    label: str = ""
    options: Options = field(default_factory=Options)
    encoder: EncoderKind | None = None

    @property
    def title(self) -> str:
        """The lift with its reps."""
        return self.label or (self.lift if self.reps == 1 else f"{self.lift} x{self.reps}")


def make(case: Case, seed: int) -> SimulatedRecording:
    """The recording of one seed: lifter and load are drawn too, so that a row holds slow and fast lifts."""
    draw = np.random.default_rng([seed, 20])
    lifter = str(draw.choice(sorted(LIFTERS)))
    return simulate(
        case.lift, seed=seed, device=case.device, encoder=case.encoder, reps=case.reps, lifter=lifter,
        share=float(draw.uniform(0.6, 0.98)), options=case.options, unmodelled=_unmodelled(case.unmodelled, seed),
    )  # fmt: skip


def _unmodelled(name: str, seed: int) -> Unmodelled:
    if name == "off":
        return Unmodelled.off()
    typical = Unmodelled.typical(np.random.default_rng([seed, 21]))
    if name == "typical":
        return typical
    more = replace(
        typical, free_sleeve=True, clock_rate=0.0005, stamp_jitter_s=0.0005, lost=0.01, bursts=1, burst_s=0.06,
        repeated=0.01, accel_range=8 * GRAVITY, anti_alias=False,
    )  # fmt: skip
    return more.only(*SINGLE_ERRORS[name])
