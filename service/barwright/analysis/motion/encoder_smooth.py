"""Height from a string or position sensor, smoothed by as much as its own noise calls for.

Third-difference smoothing (Whittaker 1923; Henderson 1924) read as a Gaussian model: acceleration changes by white
steps, samples carry white noise. The ratio of the two is the one under which the moving part of the recording is
likeliest; a second pass lets the steps be as large as they were around each sample, so that the peak of velocity is
kept and a bar that is held is not shaken by its own counts. The posterior variance is the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.ndimage import uniform_filter1d

from barwright.analysis.quantities.spans import Span, spans_of

Floats = NDArray[np.float64]
ORDER = 3
_D = np.array([-1.0, 3.0, -3.0, 1.0])
AROUND_S = 0.12
LOCAL_BETWEEN = (0.1, 100.0)  # how far a place may differ from the whole; tried on simulated lifts
ROUNDING = 1e-13
STENCIL = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / 12.0  # fourth-order first derivative


@dataclass(frozen=True, slots=True)
class Smoothed:
    """position (n,) m, velocity (n,) m/s, acceleration (n,) m/s2 with their sds (n,).

    noise_sd: of one sample; moving_accel_sd: of the acceleration while the bar moves.
    """

    position: Floats
    velocity: Floats
    acceleration: Floats
    noise_sd: float
    position_sd: Floats
    velocity_sd: Floats
    accel_sd: Floats
    moving_accel_sd: float


def smooth_position(x: Floats, weight: Floats, dt: float, moving: NDArray[np.bool_], least_noise: float) -> Smoothed:
    """Smooth x (n,) metres on an even grid; weight (n,) is 0 where nothing was measured, 1 elsewhere."""
    ratio, noise = _likeliest(x, weight, moving, least_noise)
    ratios = np.full(len(x) - ORDER, ratio)
    first = _fit(x, weight, ratios)
    ratios = _local(ratio, first, moving, dt)
    position = _fit(x, weight, ratios)
    velocity = _derivative(position, dt)
    position_sd, velocity_sd, accel_sd = _sds(ratios, noise, dt)
    shaken = float(np.median(accel_sd[moving])) if moving.any() else float(np.median(accel_sd))
    return Smoothed(position, velocity, _derivative(velocity, dt), noise, position_sd, velocity_sd, accel_sd, shaken)


def _fit(x: Floats, weight: Floats, ratios: Floats) -> Floats:
    factor = cholesky_banded(_precision(weight, ratios), lower=True)
    return np.asarray(cho_solve_banded((factor, True), weight * x))


def _local(ratio: float, fit: Floats, moving: NDArray[np.bool_], dt: float) -> Floats:
    """(n - 3,) ratios: the one for all, over how large the third differences are around each sample."""
    size = max(3, round(AROUND_S / dt))
    energy = uniform_filter1d(np.diff(fit, n=ORDER) ** 2, size)
    inside = moving[: len(energy)]
    usual = float(np.mean(energy[inside])) if inside.any() else float(np.mean(energy))
    return np.asarray(ratio * np.clip(usual / np.maximum(energy, 1e-30), *LOCAL_BETWEEN))


def _precision(weight: Floats, ratios: Floats) -> Floats:
    """Lower bands (4, n) of diag(weight) + D' diag(ratios) D, D taking third differences; ratios (n - 3,)."""
    n = len(weight)
    bands = np.zeros((ORDER + 1, n))
    for k in range(ORDER + 1):
        for i in range(ORDER + 1 - k):
            bands[k, i : n - ORDER + i] += ratios * (_D[i] * _D[i + k])
    # across a long hole the differences alone say nothing of where the far side lies, and rounding less than nothing
    bands[0] += np.maximum(weight, np.maximum(1e-9, ROUNDING * bands[0]))
    return bands


def _likeliest(x: Floats, weight: Floats, moving: NDArray[np.bool_], least_noise: float) -> tuple[float, float]:
    """Smoothing ratio and noise sd of greatest marginal likelihood over the moving runs (at most 4000 samples)."""
    runs = [run for run in spans_of(moving) if weight[run.as_slice()].sum() >= 30] or [Span(0, len(x))]
    parts: list[tuple[Floats, Floats]] = []
    for run in runs:
        if sum(len(part) for part, _ in parts) < 4000:
            cut = slice(run.start, min(run.stop, run.start + 2000))
            parts.append((x[cut] - x[cut].mean(), weight[cut]))
    best = (np.inf, 1.0, least_noise)
    seen = sum(float(w.sum()) - ORDER for _, w in parts)
    for power in np.arange(-2.0, 9.1, 0.5):
        ratio = 10.0**power
        misfit = log_det = 0.0
        for part, w in parts:
            factor = cholesky_banded(_precision(w, np.full(len(w) - ORDER, ratio)), lower=True)
            fit = cho_solve_banded((factor, True), w * part)
            bend = np.diff(fit, n=ORDER)
            misfit += float(np.sum(w * (part - fit) ** 2) + ratio * np.sum(bend**2))
            log_det += 2.0 * float(np.sum(np.log(factor[0]))) - (len(part) - ORDER) * np.log(ratio)
        variance = max(misfit / seen, least_noise**2)
        score = misfit / variance + seen * np.log(variance) + log_det
        if score < best[0]:
            best = (score, ratio, float(np.sqrt(variance)))
    return best[1], best[2]


def _derivative(x: Floats, dt: float) -> Floats:
    out = np.gradient(x, dt)
    if len(x) > 4:
        out[2:-2] = (x[:-4] - 8 * x[1:-3] + 8 * x[3:-1] - x[4:]) / (12 * dt)
    return np.asarray(out)


def _sds(ratios: Floats, noise: float, dt: float) -> tuple[Floats, Floats, Floats]:
    """(n,) posterior sds of position, velocity and acceleration: each sample's as far from the ends, at its ratio."""
    logs = np.log10(np.concatenate((ratios[:1], ratios, ratios[-1:], ratios[-1:])))
    powers = np.arange(np.floor(logs.min() * 2) / 2, logs.max() + 0.5, 0.5)
    table = np.array([_middle_sds(10.0**power, noise, dt) for power in powers])
    position, velocity, accel = (np.exp(np.interp(logs, powers, np.log(column))) for column in table.T)
    return position, velocity, accel


def _middle_sds(ratio: float, noise: float, dt: float) -> tuple[float, float, float]:
    """Posterior sds of position, velocity and acceleration far from the ends."""
    n = int(np.clip(12 * max(1.0, ratio) ** (1 / 6), 41, 601)) | 1
    factor = cholesky_banded(_precision(np.ones(n), np.full(n - ORDER, ratio)), lower=True)
    middle = n // 2
    unit = np.zeros((n, 3))
    unit[middle, 0] = 1.0
    unit[middle - 2 : middle + 3, 1] = STENCIL / dt
    unit[middle - 4 : middle + 5, 2] = np.convolve(STENCIL, STENCIL) / dt**2
    spread = np.einsum("ik,ik->k", unit, cho_solve_banded((factor, True), unit))
    position, velocity, accel = noise * np.sqrt(spread)
    return float(position), float(velocity), float(accel)
