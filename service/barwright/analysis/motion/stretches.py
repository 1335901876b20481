"""Cut a recording where nothing can bridge it, and say how far each sample can be trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior
from barwright.analysis.motion.rest_solve import Stretch
from barwright.analysis.motion.rests import Rest, RestParams, find_candidates
from barwright.analysis.motion.samples import SensorSetup
from barwright.analysis.motion.timeline import EvenSamples
from barwright.analysis.motion.wandering import plan_wandering
from barwright.analysis.quantities.spans import Span, spans_of
from barwright.analysis.quantities.vectors import norms

Floats = NDArray[np.float64]
PARTING_S = 0.6  # a rest this long can be parted in its middle
LONGEST_S = 60.0  # a longer stretch is fitted in pieces, so that the cost grows no faster than its length


@dataclass(frozen=True, slots=True)
class CutParams:
    """impact_g: force no lift reaches but a dropped bar does (a 1-2 m drop stops with 20-100 g; a pull peaks near 4 g).

    guard_s: left out on both sides of an impact. longest_gap_s: a longer hole ends a stretch. bridged_clip_s: a longer
    run at full scale ends it too. unresolved: share of a sample's bend counted as integration error. bar_hz: how
    fast a bar's force swings in a lift, which says what a hole may hide.
    """

    impact_g: float = 10.0
    guard_s: float = 0.02
    longest_gap_s: float = 0.25
    bridged_clip_s: float = 0.03
    unresolved: float = 0.1
    bar_hz: float = 3.0
    shortest_s: float = 0.6  # a briefer stretch between two blows is not looked at


@dataclass(frozen=True, slots=True)
class Cut:
    """spans: stretches by sample number; clipped, impact (n,) flags; extra_* (n,) variances a step adds."""

    spans: tuple[Span, ...]
    clipped: NDArray[np.bool_]
    impact: NDArray[np.bool_]
    extra_velocity_var: Floats
    extra_tilt_var: Floats


def cut_recording(even: EvenSamples, setup: SensorSetup, params: CutParams) -> Cut:
    """Stretches between drops, long holes and long clipping, in an even (n, 6) recording of force and rate."""
    accel, gyro = even.values[:, :3], even.values[:, 3:]
    dt = even.period_s
    clip_accel = _clipped(accel, setup.accel_range_m_s2, 1.9 * STANDARD_GRAVITY)
    clip_gyro = _clipped(gyro, setup.gyro_range_rad_s, 4.0)
    clipped = clip_accel | clip_gyro
    impact = norms(accel) > params.impact_g * STANDARD_GRAVITY
    for run in spans_of(clip_accel | clip_gyro):
        if len(run) * dt > params.bridged_clip_s:
            impact[run.as_slice()] = True
    for gap in even.gaps:
        if len(gap) * dt > params.longest_gap_s:
            impact[gap.as_slice()] = True
    guard = max(1, round(params.guard_s / dt))
    impact = maximum_filter1d(impact.astype(np.int8), 2 * guard + 1) > 0
    spans = tuple(span for span in spans_of(~impact) if len(span) * dt >= params.shortest_s)
    velocity_var = _bend_variance(accel, dt, params.unresolved)
    tilt_var = _bend_variance(gyro, dt, params.unresolved)
    if even.gaps:
        busy = np.abs(norms(accel) - STANDARD_GRAVITY)
        turning = norms(gyro - np.median(gyro, axis=0))
    for gap in even.gaps:
        near = slice(max(0, gap.start - round(0.1 / dt)), gap.stop + round(0.1 / dt))
        length = (len(gap) + 1) * dt
        velocity_var[gap.as_slice()] += _bridged(float(busy[near].max()) + 0.2, length, params.bar_hz) ** 2 / len(gap)
        tilt_var[gap.as_slice()] += _bridged(float(turning[near].max()) + 0.02, length, params.bar_hz) ** 2 / len(gap)
    velocity_var += (dt * 15.0 * clip_accel) ** 2
    tilt_var += (dt * 3.0 * clip_gyro) ** 2
    return Cut(spans, clipped, impact, velocity_var, tilt_var)


def stretches_of(
    even: EvenSamples,
    cut: Cut,
    prior: SensorPrior,
    params: RestParams,
    free_axis: Floats | None = None,
    arm: Floats | None = None,
) -> list[tuple[Span, Stretch]]:
    """The stretches ready to be fitted, each with its candidate rests and its place; long ones parted at a rest."""
    out = []
    usable = ~(cut.clipped | even.filled) | _short_hole(even.filled, even.period_s)
    for span in cut.spans:
        part = span.as_slice()
        accel, gyro = even.values[part, :3], even.values[part, 3:]
        found = find_candidates(accel, gyro, even.period_s, usable[part], prior, params, free_axis, arm)
        for piece in _pieces(len(span), found, even.period_s):
            inside = tuple(
                Rest(Span(max(0, r.span.start - piece.start), min(len(piece), r.span.stop - piece.start)), r.firm)
                for r in found
                if min(piece.stop, r.span.stop) - max(piece.start, r.span.start) >= params.shortest_s / even.period_s
            )
            place = Span(span.start + piece.start, span.start + piece.stop)
            at = place.as_slice()
            accel, gyro = even.values[at, :3], even.values[at, 3:]
            bridged = even.filled[at] | cut.clipped[at]
            extra = cut.extra_velocity_var[at], cut.extra_tilt_var[at]
            wander = plan_wandering(accel, gyro, even.period_s, prior, *extra, bridged)
            out.append((place, Stretch(accel, gyro, even.period_s, wander, inside, free_axis=free_axis, arm=arm)))
    return out


def _pieces(n: int, candidates: list[Rest], dt: float) -> list[Span]:
    """Spans of a stretch of n samples that are fitted one by one: up to LONGEST_S, parted in the middle of a rest.

    A rest on the floor parts best; two pieces share none of it but each keeps half.
    """
    out, start = [], 0
    while (n - start) * dt > LONGEST_S:
        low, high = start + round(0.4 * LONGEST_S / dt), start + round(LONGEST_S / dt)
        within = [(r.firm, Span(max(low, r.span.start), min(high, r.span.stop))) for r in candidates]
        fit = [(firm, part) for firm, part in within if len(part) * dt > PARTING_S]
        if not fit:  # nothing to part at: go on to the next rest, however long that is
            fit = [(r.firm, r.span) for r in candidates if r.span.start >= high and len(r.span) * dt > PARTING_S][:1]
        if not fit:
            break
        _, part = max(fit, key=lambda one: (one[0], min(len(one[1]) * dt, 1.5), one[1].start))
        start_of_next = (part.start + part.stop) // 2
        out.append(Span(start, start_of_next))
        start = start_of_next
    return [*out, Span(start, n)]


def _bridged(size: float, length: float, hz: float) -> float:
    """Error of an integral across a hole filled by a straight line, for a signal that swings by `size` at `hz`."""
    return size * length * min(1.0, (2 * np.pi * hz * length) ** 2 / 12.0)


def _short_hole(filled: NDArray[np.bool_], dt: float) -> NDArray[np.bool_]:
    """Filled samples in holes so short that a rest goes on through them."""
    out = np.zeros(len(filled), dtype=bool)
    for hole in spans_of(filled):
        out[hole.as_slice()] = len(hole) * dt <= 0.05
    return out


def _clipped(x: Floats, full_scale: float | None, least: float) -> NDArray[np.bool_]:
    """(n,) where any axis sits at full scale: the declared one, or a top value held for three samples and more."""
    out = np.zeros(len(x), dtype=bool)
    for size in np.abs(x.T):
        if full_scale is not None:
            out |= size >= 0.995 * full_scale
            continue
        top = size.max()
        if top < least:
            continue
        at_top = size >= top * (1 - 1e-6)
        if any(len(run) >= 3 for run in spans_of(at_top)):
            out |= at_top
    return out


def _bend_variance(x: Floats, dt: float, share: float) -> Floats:
    """(n,) variance of a step's integral from what the samples' own bending leaves unresolved."""
    bend = np.zeros(len(x))
    if len(x) > 4:
        for column in np.ascontiguousarray(x.T):
            fourth = np.abs(np.diff(column, n=4))
            np.maximum(bend[2:-2], fourth, out=bend[2:-2])
    noise = np.median(bend)  # plain sensor noise bends samples too, and has its own density
    return np.asarray((share * dt * np.maximum(bend - 4.0 * noise, 0.0)) ** 2)
