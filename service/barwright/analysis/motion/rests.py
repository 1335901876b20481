"""Where the bar may be still: candidates only. The fit decides which of them were rests."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior
from barwright.analysis.motion.lever import swing_force
from barwright.analysis.quantities.spans import Span, spans_of
from barwright.analysis.quantities.vectors import norms

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RestParams:
    """Limits of the stillness test (likelihood ratio of Skog et al. 2010, IEEE TBME 57:2657, force and rate apart).

    window_s: length the test looks at. held_force m/s2 and held_rate rad/s: how much living hands may move the bar
    (3 mm of sway at 1 Hz is 0.08 m/s2 rms). firm_*: on a floor or rack. shortest_s: a rest's least length.
    edge_s: trimmed off both ends.
    """

    window_s: float = 0.2
    held_force: float = 0.45
    held_rate: float = 0.35
    firm_force: float = 0.025
    firm_rate: float = 0.01
    shortest_s: float = 0.25
    firm_s: float = 0.5  # hands can be as calm as a floor, but not for this long
    edge_s: float = 0.06


@dataclass(frozen=True, slots=True)
class Rest:
    """A candidate rest. firm: floor or rack, still to the sensor's noise; held: in living hands."""

    span: Span
    firm: bool


def find_candidates(
    accel: Floats,
    gyro: Floats,
    dt: float,
    usable: NDArray[np.bool_],
    prior: SensorPrior,
    params: RestParams,
    free_axis: Floats | None = None,
    arm: Floats | None = None,
) -> list[Rest]:
    """Candidate rests, in order, of (n, 3) force in m/s2 and (n, 3) rates in rad/s; samples not usable end a rest.

    free_axis (3,): the sensor may spin about it while the bar rests, as on a sleeve. arm (3,): from the bar's middle to
    the sensor, m: hands hold the middle, and what is left of their unsteadiness far out is the bar's turning.
    """
    held = accel if arm is None else accel - swing_force(gyro, arm, dt)
    if free_axis is not None:
        held = _regardless_of_spin(held, free_axis)
        accel, gyro = _regardless_of_spin(accel, free_axis), gyro - (gyro @ free_axis)[:, None] * free_axis
    window = max(3, round(params.window_s / dt) | 1)
    spread = np.sqrt(_windowed_variance(held, window))
    noise = prior.accel_noise * np.sqrt(0.5 / dt) * np.sqrt(3)
    gyro_noise = prior.gyro_noise * np.sqrt(0.5 / dt) * np.sqrt(3)
    smooth_rate = uniform_filter1d(gyro, window, axis=0)
    rest_rate = _resting_rate(smooth_rate, spread)
    rate = norms(smooth_rate - rest_rate)
    rate_spread = np.sqrt(_windowed_variance(gyro, window))
    size = norms(uniform_filter1d(held, window, axis=0))
    still = spread < np.hypot(params.held_force, 1.5 * noise)
    still &= (rate < params.held_rate) & (rate_spread < np.hypot(params.held_rate, 1.5 * gyro_noise))
    # a biased sensor reads gravity differently in each attitude
    uneven = 3.5 * float(np.hypot(prior.accel_bias, prior.accel_scale * STANDARD_GRAVITY))
    still &= np.abs(size - STANDARD_GRAVITY) < params.held_force + uneven
    for span in spans_of(still):
        part = span.as_slice()
        still[part] &= np.abs(size[part] - np.median(size[part])) < params.held_force
    still &= maximum_filter1d((~usable).astype(np.int8), window) == 0
    out: list[Rest] = []
    slow = max(1, round(0.1 / dt))
    calm = uniform_filter1d(accel, slow, axis=0)
    calm_rate = uniform_filter1d(gyro, slow, axis=0)
    edge = round(params.edge_s / dt)
    for span in spans_of(still):
        inner = Span(span.start + edge, span.stop - edge)
        if len(inner) * dt < params.shortest_s:
            continue
        out += _cut_by_firmness(inner, calm, calm_rate, dt, noise, gyro_noise, params)
    return out


def _regardless_of_spin(accel: Floats, axis: Floats) -> Floats:
    """Force along the axis and across it (n, 2)."""
    along = accel @ axis
    return np.column_stack((along, norms(accel - along[:, None] * axis)))


def _windowed_variance(x: Floats, window: int) -> Floats:
    """(n,) variance about the window's mean, summed over the columns of (n, k)."""
    centred = x - np.median(x, axis=0)
    mean = uniform_filter1d(centred, window, axis=0)
    square = uniform_filter1d(centred**2, window, axis=0)
    return np.asarray(np.maximum(square - mean**2, 0.0).sum(axis=1))


def _resting_rate(rate: Floats, spread: Floats) -> Floats:
    """Gyro bias guess (3,): the middle rate of the calmest fifth of the samples."""
    calm = spread <= np.quantile(spread, 0.2)
    return np.asarray(np.median(rate[calm], axis=0))


def _cut_by_firmness(
    span: Span, calm: Floats, calm_rate: Floats, dt: float, noise: float, gyro_noise: float, params: RestParams
) -> list[Rest]:
    """Split one still span where firm turns to held."""
    n = len(span)
    piece = max(1, round(params.shortest_s / dt))
    count = max(1, n // piece)
    edges = np.linspace(span.start, span.stop, count + 1).astype(int)
    left_noise = noise / np.sqrt(max(1, round(0.1 / dt)))
    left_gyro = gyro_noise / np.sqrt(max(1, round(0.1 / dt)))
    firm = []
    for a, b in pairwise(edges):
        force = float(np.sqrt(np.var(calm[a:b], axis=0).sum()))
        rate = float(np.sqrt(np.var(calm_rate[a:b], axis=0).sum()))
        firm.append(
            force < np.hypot(params.firm_force, 1.6 * left_noise) and rate < np.hypot(params.firm_rate, 1.6 * left_gyro)
        )
    out: list[Rest] = []
    flags = np.array(firm)
    for run in sorted(spans_of(flags) + spans_of(~flags)):
        a, b = int(edges[run.start]), int(edges[run.stop])
        if (b - a) * dt >= params.shortest_s:
            out.append(Rest(Span(a, b), bool(flags[run.start]) and (b - a) * dt >= params.firm_s))
    return out


def settled_parts(
    rest: Rest,
    velocity: Floats,
    dt: float,
    shortest_s: float,
    max_stray: float,
    slope: Floats,
    reach: Floats | None = None,
) -> list[Rest]:
    """The parts of a candidate where the bar neither still settles nor already starts, longest first found.

    velocity (n, 3) m/s of the whole stretch is dead reckoning: right but for a straight line over so short a time.
    slope (3,) m/s2 is that line's slope where it is known (nan where not); reach (3,) m/s limits how far from nought
    a part's own velocity may lie, where velocity has been fitted already.
    """
    thin = max(1, round(min(0.02, 0.1 * shortest_s) / dt))
    at = np.arange(rest.span.start, rest.span.stop, thin)
    least = max(5, round(shortest_s / (thin * dt)))
    if len(at) < least:
        return []
    part = velocity[at]
    u = np.asarray((np.arange(len(at)) - 0.5 * (len(at) - 1)) * thin * dt, dtype=np.float64)
    tol = 0.006 if rest.firm else 0.03
    if slope is not None:
        part = part - np.where(np.isnan(slope), 0.0, slope) * u[:, None]
    found: list[Rest] = []
    todo = [(0, len(at))]
    while todo:
        a, b = todo.pop()
        if b - a < least:
            continue
        run = _settled_run(part[a:b], u[a:b], tol, max_stray, slope, reach)
        if run is None or run[1] - run[0] < least:
            continue
        first, last = a + run[0], a + run[1]
        found.append(Rest(Span(int(at[first]), min(rest.span.stop, int(at[last - 1]) + thin)), rest.firm))
        todo += [(a, first), (last, b)]
    return sorted(found, key=lambda r: r.span)


def _settled_run(
    v: Floats, u: Floats, tol: float, max_stray: float, slope: Floats | None, reach: Floats | None
) -> tuple[int, int] | None:
    """The longest run of v (m, 3) near one level (or one line, where the slope is not known) in every axis.

    It may stray by max_stray tolerances on the way, as a swaying bar does, but begins and ends within one.
    """
    stray = np.zeros(len(v))  # in tolerances
    lined = np.array([axis for axis in range(3) if slope is None or np.isnan(slope[axis])], dtype=np.intp)
    if len(lined):
        off = np.abs(v[:, lined] - _robust_line(u, v[:, lined]))
        stray = (off / np.maximum(tol, 2.5 * np.median(off, axis=0))).max(axis=1)
    for axis in range(3):
        if axis not in lined:
            level = densest(v[:, axis], tol, None if reach is None else float(reach[axis]))
            stray = np.maximum(stray, np.abs(v[:, axis] - level) / (1.3 * tol))
    runs = spans_of(stray <= max_stray)
    if not runs:
        return None
    best = max(runs, key=len)
    inside = np.flatnonzero(stray[best.as_slice()] <= 1.0)
    return (best.start + int(inside[0]), best.start + int(inside[-1]) + 1) if len(inside) else None


def densest(x: Floats, tol: float, reach: float | None = None) -> float:
    """The level with the most of x (m,) within tol of it, no further than reach from nought."""
    levels = x if reach is None else x[np.abs(x) <= reach]
    if not len(levels):
        return 0.0
    ordered = np.sort(x)
    held = np.searchsorted(ordered, levels + tol) - np.searchsorted(ordered, levels - tol)
    return float(np.median(levels[held >= held.max()]))


def cut_long(rests: list[Rest], dt: float, longest_s: float) -> list[Rest]:
    """Rests in pieces no longer than longest_s, so that sensor wander within one stays small."""
    out = []
    for rest in rests:
        parts = max(1, int(np.ceil(len(rest.span) * dt / longest_s)))
        cuts = np.linspace(rest.span.start, rest.span.stop, parts + 1).astype(int)
        out += [Rest(Span(int(a), int(b)), rest.firm) for a, b in pairwise(cuts)]
    return out


def _robust_line(u: Floats, x: Floats) -> Floats:
    """(n, k) least-absolute lines through the columns of x (n, k) over u (n,), by reweighting."""
    powers = np.stack((np.ones_like(u), u, u * u))
    weight = np.ones_like(x)
    line = x
    for _ in range(8):
        total, first, second = powers @ weight
        height, tilted = powers[:2] @ (weight * x)
        slope = (total * tilted - first * height) / (total * second - first**2)
        line = (height - slope * first) / total + u[:, None] * slope
        weight = 1.0 / np.maximum(np.abs(x - line), 0.003)
    return line
