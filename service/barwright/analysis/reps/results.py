"""What the analysis of one set answers."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.estimate import Estimate

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of a rep; sure is 0-1, how far the bar alone tells its boundaries.

    start_u_s, stop_u_s: standard uncertainty of the boundaries in seconds; None where none was worked out.
    """

    phase: str
    start_s: float
    stop_s: float
    sure: float
    start_u_s: float | None = None
    stop_u_s: float | None = None


@dataclass(frozen=True, slots=True)
class RepPath:
    """The bar's path over one rep, (n,) each; x forward and z up from the rep's start, SI units.

    x_m, vx, u_x are None when the sensor sees no horizontal motion.
    """

    t_s: Floats
    z_m: Floats
    vz: Floats
    az: Floats
    u_z: Floats
    u_vz: Floats
    x_m: Floats | None = None
    vx: Floats | None = None
    u_x: Floats | None = None


@dataclass(frozen=True, slots=True)
class Rep:
    """One rep. outcome: made, failed or partial. Times are seconds since the stream's first sample."""

    index: int
    outcome: str
    start_s: float
    stop_s: float
    measures: dict[str, Estimate]
    phases: tuple[Phase, ...]
    path_measures: dict[str, Estimate]
    path: RepPath
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Quality:
    """How good the samples were. verdict: good, usable, poor or unusable; words: plain sentences with numbers."""

    verdict: str
    words: tuple[str, ...]
    samples: int
    duration_s: float
    rate_hz: float | None
    jitter_s: float | None
    gaps: tuple[tuple[float, float], ...] = ()  # (start_s, stop_s) with nothing in between
    repeated_samples: int = 0
    clipped_s: float = 0.0
    rests: tuple[tuple[float, float], ...] = ()  # (start_s, stop_s) where the bar was still
    accel_noise: float | None = None  # m/s2/sqrt(Hz)
    gyro_noise: float | None = None  # rad/s/sqrt(Hz)
    forward_known: bool = False
    horizontal: bool = False


@dataclass(frozen=True, slots=True)
class SetAnalysis:
    """Everything one recorded set tells. method names the method and its revision."""

    method: str
    lift: str
    quality: Quality
    reps: tuple[Rep, ...]
    notes: tuple[str, ...] = ()
    bar_axis: tuple[float, float, float] | None = field(default=None)
