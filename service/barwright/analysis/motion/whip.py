"""A loaded bar bends and swings at 5.4-12 Hz after every jolt: told from the lift by its own rhythm, and taken out.

The sensor's vertical velocity is read as the sum of a lift, whose jerk changes by white steps, and a damped oscillator
driven by white jolts. Both are Markov, so the most likely parting is one banded linear solve (the
fixed-interval smoother of Rauch, Tung and Striebel 1965 in information form); rhythm and size of the oscillator are
those under which the recording is likeliest. Looks ahead over the whole motion.

How well they were parted: the model's own posterior, with the lift's steps as large as they were around each moment. A
bar that is caught changes its acceleration faster than the rest of a lift does, and its ring is parted the worse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded, expm
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from barwright.analysis.motion.bar_motion import Shake

Floats = NDArray[np.float64]
STEP_S = 0.01
LOWEST_HZ, HIGHEST_HZ = 5.4, 12.0
DAMPINGS = (0.03, 0.06, 0.12)  # of critical; a ring dies away within about half a second (common practice, no source)
RING_SHARES = (3e-5, 3e-4, 3e-3)  # how hard jolts drive the ring, over the PSD of the lift's steps of jerk (s4)
JOLTED = 1.6  # jolts are few and hard, not white: the parting is off by so much more than its own sd (simulated rings)
AROUND_S = 0.05  # sd of the weights by which steps about a moment are averaged: one swing or so in all
LEAST_M_S = 0.08  # a fainter ring is left in: hands tremble too
STEADY_BETWEEN = (0.01, 10.0)  # how far a place may differ from the whole, as for strings
# The parting is as uncertain all along a ring, CLEARLY of its loudest being one; elsewhere by LEAST_SHARE (same rings)
CLEARLY, LEAST_SHARE = 0.25, 0.33
STANDS_OUT = 2.0  # how far a peak of the spectrum must rise over its surroundings to be looked at
# Smoothness alone nearly always explains a lift better (by 1.3 to 1.7 a sample); with a ring in it by no more than 0.6
NO_RING, WORTH = 3e-10, -0.8
NOISE_SHARE = 3e-11  # variance of velocity samples over the lift's PSD (s5)
LIFT, STATES = 3, 5  # velocity, acceleration and jerk of the lift; position and velocity of the ring


@dataclass(frozen=True, slots=True)
class Whip:
    """The ring found, at the motion's samples: velocity (n,) m/s, position (n,) m; left: of it in the lift."""

    hz: float
    velocity: Floats
    position: Floats
    left: Shake


def find_whip(velocity: Floats, accel: Floats, dt: float) -> Whip | None:
    """The bar's ring in vertical velocity (n,) m/s and acceleration (n,) m/s2; None where none stands out."""
    thin = max(1, round(STEP_S / dt))
    step = thin * dt
    y = velocity[::thin]
    near = _standing_out(accel[::thin], y, step)
    if near is None:
        return None
    best = _part(y, step, near, DAMPINGS[1], RING_SHARES[1])
    for hz in near * np.linspace(0.82, 1.22, 9):
        for share in RING_SHARES:
            best = min(best, _part(y, step, float(hz), DAMPINGS[1], share), key=lambda trial: trial.score)
    for hz in best.hz * np.array([0.975, 1.0, 1.025]):
        for damping in DAMPINGS:
            best = min(best, _part(y, step, float(hz), damping, best.share), key=lambda trial: trial.score)
    if best.hz < LOWEST_HZ:  # a quick press, pushed twice
        return None
    plain = _part(y, step, near, DAMPINGS[1], NO_RING)
    if plain.score - best.score < WORTH * len(y):
        return None
    every: Floats = np.arange(len(velocity), dtype=np.float64) * dt
    coarse = np.arange(len(y)) * step
    rough, unit, steady = _roughness(best, step)
    best = _part(y, step, best.hz, best.damping, best.share, steady)
    swing, speed = _between(best.states, 2 * np.pi * best.hz, best.damping, every / step, step)
    if float(np.max(np.abs(speed))) < LEAST_M_S:
        return None
    around = maximum_filter1d(np.abs(speed), 2 * round(1.5 / (best.hz * dt)) + 1)
    share = np.clip(around / (CLEARLY * float(around.max())), LEAST_SHARE, 1.0)
    size = JOLTED * share * np.interp(every, coarse, rough)
    return Whip(best.hz, speed, swing, Shake(size * unit[0], size * unit[1], size * unit[LIFT]))


def _standing_out(accel: Floats, velocity: Floats, step: float) -> float | None:
    """The frequency at which acceleration has a peak of its own while the bar moves, in Hz."""
    busy = np.flatnonzero(np.abs(velocity) > 0.1)
    if len(busy) < 60:
        return None
    part = accel[max(0, busy[0] - 20) : busy[-1] + 20]
    size = min(len(part), 128)
    f, power = averaged_spectrum(part, step, size)
    highs = np.flatnonzero((power[1:-1] >= power[:-2]) & (power[1:-1] >= power[2:])) + 1
    band = highs[(f[highs] >= LOWEST_HZ) & (f[highs] <= HIGHEST_HZ)]
    if not len(band):  # a lift's own spectrum only falls, and is highest at the band's lower edge
        return None
    k = int(band[np.argmax(power[band])])
    below, above = (f > 0.45 * f[k]) & (f < 0.7 * f[k]), (f > 1.4 * f[k]) & (f < 2.0 * f[k])
    if not (below.any() and above.any()):  # too few samples a second to hear a ring
        return None
    around = float(np.sqrt(power[below].mean() * power[above].mean()))
    return float(f[k]) if power[k] > STANDS_OUT * around else None


def averaged_spectrum(x: Floats, step: float, size: int) -> tuple[Floats, Floats]:
    """Frequencies in Hz and power per Hz of (n,) samples `step` s apart: Hann-windowed pieces, half overlapping.

    Welch 1967. A second or two of scipy's signal package in every worker is dear for one such sum.
    """
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
    starts = np.arange(0, len(x) - size + 1, size - size // 2)
    pieces = x[starts[:, None] + np.arange(size)]
    pieces = pieces - pieces.mean(axis=1, keepdims=True)
    power = np.mean(np.abs(np.fft.rfft(window * pieces, axis=1)) ** 2, axis=0) * (step / np.sum(window**2))
    power[1 : (size + 1) // 2] *= 2.0  # both signs of frequency but nought and the highest
    return np.asarray(np.fft.rfftfreq(size, step)), np.asarray(power, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Parting:
    hz: float
    damping: float
    share: float
    score: float  # -2 log likelihood up to a constant
    states: Floats  # (m, STATES)
    turn: Floats  # (STATES, STATES) over one step, with the inverse of its noise's covariance
    inverse: Floats
    factor: Floats  # Cholesky factor of the information, lower bands


def _between(states: Floats, omega: float, damping: float, at: Floats, step: float) -> tuple[Floats, Floats]:
    """Position and velocity (n,) of the ring at places `at` among its steps: cubics with the model's own slopes.

    A chord of a ring at 8 Hz over 10 ms leaves 3 % of its velocity in the lift, and a quarter of its acceleration.
    """
    place, speed = states[:, LIFT], states[:, LIFT + 1]
    push = -(omega**2) * place - 2 * damping * omega * speed
    k = np.minimum(at.astype(int), len(states) - 2)
    x = np.minimum(at - k, 1.0)
    from_left, from_right = (1 + 2 * x) * (1 - x) ** 2, x**2 * (3 - 2 * x)
    slope_left, slope_right = step * x * (1 - x) ** 2, step * x**2 * (x - 1)

    def cubic(y: Floats, slope: Floats) -> Floats:
        return np.asarray(from_left * y[k] + from_right * y[k + 1] + slope_left * slope[k] + slope_right * slope[k + 1])

    return cubic(place, speed), cubic(speed, push)


def _roughness(parting: _Parting, step: float) -> tuple[Floats, Floats, tuple[Floats, Floats]]:
    """(m,) root of the PSD of the lift's steps around each moment, (STATES,) posterior sds at a PSD of 1, and steady.

    Smoothed steps are smaller than the true ones: by the model itself they keep `kept` of their energy. steady: how
    much smaller than usual the steps of lift and ring (m - 1,) are, drawn halfway to 1: few steps tell a PSD badly.
    """
    m = len(parting.states)
    two = STATES * (m // 2) + np.arange(2 * STATES)  # two moments in the middle that follow each other
    unit = np.zeros((STATES * m, 2 * STATES))
    unit[two, np.arange(2 * STATES)] = 1.0
    spread = cho_solve_banded((parting.factor, True), unit)[two]
    lift, ring = parting.inverse[:LIFT, :LIFT], parting.inverse[LIFT:, LIFT:]
    steps = np.hstack((-parting.turn, np.eye(STATES)))[:LIFT]
    kept = 1.0 - float(np.trace(lift @ steps @ spread @ steps.T)) / LIFT
    taken = parting.states[1:] - parting.states[:-1] @ parting.turn.T

    def energy(of: Floats, weight: Floats) -> Floats:
        each = np.einsum("ki,ij,kj->k", of, weight, of) / len(weight)
        return np.asarray(gaussian_filter1d(each, AROUND_S / step))

    of_lift, of_ring = energy(taken[:, :LIFT], lift), energy(taken[:, LIFT:], ring)
    steady = [np.clip(float(e.mean()) / np.maximum(e, 1e-30), *STEADY_BETWEEN) ** 0.5 for e in (of_lift, of_ring)]
    rough = np.sqrt(np.append(of_lift, of_lift[-1]) / kept)
    return rough, np.sqrt(np.diag(spread)[:STATES]), (steady[0], steady[1])


def _part(
    y: Floats, step: float, hz: float, damping: float, share: float, steady: tuple[Floats | float, ...] = (1.0, 1.0)
) -> _Parting:
    """Most likely lift and ring for velocity y (m,) at one rhythm, in units of the lift's PSD.

    steady: how much smaller the PSDs of lift and ring are over each step (m - 1,), where that differs.
    """
    m = len(y)
    turn, spread = _dynamics(step, hz, damping, share / (2 * np.pi * hz))
    inverse: Floats = np.linalg.inv(spread).astype(np.float64, copy=False)
    ahead = turn.T @ inverse @ turn
    across = -inverse @ turn  # couples state k+1 (row) with state k (column)
    seen = np.zeros(STATES)
    seen[[0, LIFT + 1]] = 1.0
    bands = np.zeros((2 * STATES, m, STATES))  # lower bands of the block-tridiagonal information matrix, by column
    diagonal = np.outer(seen, seen) / NOISE_SHARE
    for i in range(STATES):
        for j in range(i + 1):
            value = np.full(m, diagonal[i, j])
            value[1:] += inverse[i, j] * steady[i >= LIFT]
            value[:-1] += ahead[i, j] * steady[i >= LIFT]
            bands[i - j, :, j] += value
    for i in range(STATES):
        for j in range(STATES):
            bands[STATES + i - j, :-1, j] += across[i, j] * steady[i >= LIFT]
    bands[0] += 1e-9
    factor = cholesky_banded(bands.reshape(2 * STATES, STATES * m), lower=True, overwrite_ab=True)
    pull = (y[:, None] * seen / NOISE_SHARE).ravel()
    states = cho_solve_banded((factor, True), pull)
    misfit = float(y @ y / NOISE_SHARE - pull @ states)
    scale = misfit / m  # of the lift's PSD, the likeliest one for all of the recording
    log_det = 2.0 * float(np.sum(np.log(factor[0]))) + (m - 1) * float(np.linalg.slogdet(spread)[1])
    score = m * np.log(max(scale, 1e-30)) + log_det
    return _Parting(hz, damping, share, score, states.reshape(m, STATES), turn, inverse, factor)


def _dynamics(step: float, hz: float, damping: float, ring_psd: float) -> tuple[Floats, Floats]:
    """Transition and noise covariance (STATES, STATES) over one step (Van Loan 1978)."""
    omega = 2 * np.pi * hz
    flow = np.zeros((STATES, STATES))
    flow[0, 1] = flow[1, 2] = 1.0
    flow[LIFT, LIFT + 1] = 1.0
    flow[LIFT + 1, LIFT:] = -(omega**2), -2 * damping * omega
    drive = np.diag([0.0, 0.0, 1.0, 0.0, ring_psd])
    both = np.zeros((2 * STATES, 2 * STATES))
    both[:STATES, :STATES], both[:STATES, STATES:], both[STATES:, STATES:] = -flow, drive, flow.T
    out = expm(both * step)
    turn = out[STATES:, STATES:].T
    return np.asarray(turn), np.asarray(turn @ out[:STATES, STATES:])
