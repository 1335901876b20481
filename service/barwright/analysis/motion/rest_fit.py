"""Robust fit between rests: which candidates were rests, and what the sensor's constants are.

One maximum-a-posteriori fit per stretch of unbroken motion: Gauss-Newton repeats until the attitude stops moving, and a
rest is believed only when the others expect it. Stretches of one recording share their sensor: each is fitted again
knowing what the others found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior
from barwright.analysis.motion.error_model import CONSTANTS, GYRO_BIAS, constant_variances
from barwright.analysis.motion.lever import swing_force
from barwright.analysis.motion.rest_rows import HandParams, steadiness
from barwright.analysis.motion.rest_solve import (
    ROWS,
    ConstantPrior,
    Solution,
    Stretch,
    dead_reckon,
    linearise,
    solve,
    thinned,
    with_rests,
)
from barwright.analysis.motion.rests import Rest, cut_long, densest, settled_parts
from barwright.analysis.motion.shared_constants import Told, agree, prior_from, told_by
from barwright.analysis.motion.strapdown import Strapdown, attitude, running_integral
from barwright.analysis.quantities.rotations import from_up, multiply
from barwright.analysis.quantities.spans import Span
from barwright.analysis.quantities.vectors import norms

Floats = NDArray[np.float64]

# How a bar that is not at rest may move through a candidate: acceleration m/s2, rate rad/s, velocity m/s (x, y, z)
FREEDOM = 4.0  # degrees of freedom of what rests miss by; common practice for robust fits, no source
DIAGONAL = np.arange(ROWS)
MOVING_VAR = np.array([0.2, 0.2, 0.25, 0.15, 0.15, 0.15, 0.25, 0.25, 0.5]) ** 2


@dataclass(frozen=True, slots=True)
class FitParams:
    """When to believe a rest.

    believe, doubt: log odds above which a candidate is taken as a rest, below which a believed one is dropped.
    believe_second: the same as `believe` where only a rest on the floor is believed: without another the path is lost,
    and a bar that was put down is at hand again. typical_alone_s: `typical_s` there. outboard: how much more than its
    middle a sensor far out on the bar may sway.
    sure_sd m/s: several candidates may be taken at once where their velocity is predicted this well.
    slow m/s: a held bar's mean velocity at rest is no more. longest_s: longer rests are cut. shortest_s: a rest's least
    length; typical_s: the length at which a calm moment is as likely a rest as not. max_stray: how many tolerances of
    velocity sway may take within a rest. reach_m: a bar held in hands throughout stays within this height.
    steps: most Gauss-Newton steps; they end when the attitude moves less than settled_rad, and no rest is dropped
    before it moves less than near_rad. search_hz: rate of the thinned samples rests are chosen on.
    """

    believe: float = 2.0
    believe_second: float = -2.0
    doubt: float = -1.0
    sure_sd: float = 0.06
    tilt_sd: float = 0.2  # rad, of the attitude first guessed
    velocity_sd: float = 1.5  # m/s, of the velocity at the first sample
    slow: float = 0.045
    longest_s: float = 2.5
    steps: int = 25
    near_rad: float = 0.03
    settled_rad: float = 0.002
    search_hz: float = 110.0
    shortest_s: float = 0.25
    typical_s: float = 0.7
    typical_alone_s: float = 0.35
    outboard: float = 2.5
    max_stray: float = 3.0
    reach_m: float = 0.85
    hands: HandParams = field(default_factory=HandParams)


def fit_stretches(
    stretches: Sequence[Stretch], prior: SensorPrior, params: FitParams | None = None
) -> list[Solution | None]:
    """Fit every stretch, then again with the sensor's constants as the other stretches saw them.

    None for a stretch without a single rest.
    """
    params = params or FitParams()
    alone = ConstantPrior(
        np.zeros(CONSTANTS), np.diag(np.sqrt(constant_variances(prior, params.tilt_sd, params.velocity_sd)))
    )
    first = [fit_stretch(stretch, prior, alone, params) for stretch in stretches]
    told = [None if fit is None else told_by(fit.solution, alone) for fit in first]
    every = [one for one in told if one is not None]
    whole = Told.of(every)
    out: list[Solution | None] = []
    for number, stretch in enumerate(stretches):
        fit, own, believed_prior = first[number], told[number], alone
        first[number] = None  # a long recording's first fits are a burden once they were refined
        if len(every) > 1:
            shared = prior_from(whole.without(own), alone)
            if fit is None or len(fit.solution.believed) < 2:
                # too little of its own: choose its rests anew, better informed
                again = fit_stretch(stretch, prior, shared, params)
                fit, believed_prior = again or fit, shared if again else alone
            elif agree(fit.solution, shared):
                fit, believed_prior = fit.refitted(prior, shared, params.settled_rad), shared
        out.append(fit.at_full_rate(prior, believed_prior) if fit else None)
    return out


@dataclass(frozen=True, slots=True)
class StretchFit:
    """A stretch fitted on samples thinned to one in k, and the attitude it starts from. full: the same at full rate."""

    thin: Stretch
    k: int
    full: Stretch
    start: Floats
    solution: Solution

    def refitted(self, sensor: SensorPrior, prior: ConstantPrior, settled_rad: float) -> StretchFit:
        """The same rests under another prior: Gauss-Newton steps until the attitude settles."""
        believed = self.solution.believed
        solution = solve(self.thin, self.solution.at, believed, prior)
        for _ in range(3):
            if _turned(solution) < settled_rad:
                break
            at = linearise(self.thin, solution.theta, self.start, sensor, solution.jolts)
            solution = solve(self.thin, at, believed, prior)
        return replace(self, solution=solution)

    def at_full_rate(self, sensor: SensorPrior, prior: ConstantPrior) -> Solution:
        """One last step with every sample."""
        if self.k == 1:
            return self.solution
        k, n = self.k, len(self.full.accel)
        candidates = tuple(Rest(Span(r.span.start * k, min(n, r.span.stop * k)), r.firm) for r in self.thin.candidates)
        exact = replace(self.full, candidates=candidates, steady=self.thin.steady)
        at = linearise(exact, self.solution.theta, self.start, sensor, self.solution.jolts)
        return solve(exact, at, self.solution.believed, prior)


def fit_stretch(stretch: Stretch, sensor: SensorPrior, prior: ConstantPrior, params: FitParams) -> StretchFit | None:
    """The constants and the believed rests of one stretch; None when no candidate is left.

    Rests are chosen and the fit brought near on thinned samples.
    """
    if not stretch.candidates:
        return None
    thin, k = thinned(stretch, params.search_hz)
    start, theta = _start(thin, prior)
    reckoned, accel, gyro = dead_reckon(thin, theta, start)
    middle = accel if thin.arm is None else accel - swing_force(gyro, thin.arm, thin.dt)
    slope = _common_slope(thin.candidates, middle, thin.dt)
    # in a calm moment |force| tells the vertical whatever the attitude, which is still poor far from the first rest
    upward = running_integral(norms(middle)[:, None] - STANDARD_GRAVITY, thin.dt)
    velocity = np.hstack((reckoned.velocity[:, :2], upward))
    parts = [
        part
        for rest in thin.candidates
        for part in settled_parts(rest, velocity, thin.dt, params.shortest_s, params.max_stray, slope)
    ]
    if not parts:
        return None
    whole = thin.candidates
    thin = _with_candidates(thin, tuple(cut_long(parts, thin.dt, params.longest_s)), reckoned, gyro, params.hands)
    solution = _likeliest(thin, theta, start, sensor, prior, params)
    refined = _refined(whole, solution, thin.dt, params)
    if refined and [r.span for r in refined] != [r.span for r in thin.candidates]:
        kept = [thin.candidates[i].span for i in solution.believed]
        believed = tuple(
            i
            for i, rest in enumerate(refined)
            if any(rest.span.start < q.stop and rest.span.stop > q.start for q in kept)
        )
        if believed:
            at = solution.at
            thin = _with_candidates(thin, refined, at.nominal, at.gyro, params.hands)
            again = solve(thin, with_rests(at, thin, sensor), believed, prior)
            solution = _converge(thin, again, start, sensor, prior, params)
    return StretchFit(thin, k, stretch, start, solution)


def _likeliest(
    thin: Stretch, theta: Floats, start: Floats, sensor: SensorPrior, prior: ConstantPrior, params: FitParams
) -> Solution:
    """The fit grown from the surest rest; from others too where that one sends the bar out of reach.

    A bar lowered evenly for seconds looks like a rest, and the true rests then like an even rise: the fit agrees with
    itself, but the bar climbs away by metres.
    """
    first = linearise(thin, theta, start, sensor)
    best: tuple[tuple[float, float], Solution] | None = None
    for anchors in _anchors(thin):
        found = _converge(thin, solve(thin, first, anchors, prior), start, sensor, prior, params)
        lacking, reach = _implausibility(found)
        if best is None or (lacking, reach) < best[0]:
            best = ((lacking, reach), found)
        if lacking == 0.0 and reach < params.reach_m:
            break
    assert best is not None
    return best[1]


def _implausibility(solution: Solution) -> tuple[float, float]:
    """What speaks against a fit: the share of the candidates' extent its rests leave out (none up to a half), and how
    far in height the bar goes between them, m.
    """
    spans = [solution.candidates[i].span for i in solution.believed]
    whole = solution.candidates[-1].span.stop - solution.candidates[0].span.start
    lacking = 1.0 - (spans[-1].stop - spans[0].start) / whole
    height = solution.at.nominal.position[spans[0].start : spans[-1].stop, 2]
    return (0.0 if lacking <= 0.5 else lacking), float(np.ptp(height))


def _with_candidates(
    stretch: Stretch, candidates: tuple[Rest, ...], nominal: Strapdown, gyro: Floats, hands: HandParams
) -> Stretch:
    if stretch.free_axis is not None:
        gyro = gyro - (gyro @ stretch.free_axis)[:, None] * stretch.free_axis
    steady = tuple(steadiness(rest, nominal, gyro, stretch.dt, hands) for rest in candidates)
    return replace(stretch, candidates=candidates, steady=steady)


def _converge(
    stretch: Stretch, solution: Solution, start: Floats, sensor: SensorPrior, prior: ConstantPrior, params: FitParams
) -> Solution:
    """Gauss-Newton steps, growing the believed rests outward from those that agree.

    A step starts from where the last one was linearised as long as the attitude has hardly moved from there.
    """
    dropped: set[int] = set()
    for _ in range(params.steps):
        if _turned(solution) >= params.settled_rad:
            at = linearise(stretch, solution.theta, start, sensor, solution.jolts)
            solution = solve(stretch, at, solution.believed, prior)
        turned = _turned(solution)
        grown = _grow(solution, params, dropped, may_drop=turned < params.near_rad)
        if grown == solution.believed:
            if turned < params.settled_rad:
                break
        else:
            dropped |= set(solution.believed) - set(grown)
            solution = solve(stretch, solution.at, grown, prior)
    return solution


def _turned(solution: Solution) -> float:
    """How far, in rad, the answer's attitude lies at most from the one its sensitivities were worked out at."""
    return float(np.max(np.abs(solution.at.model.turned_by(solution.theta - solution.at.theta))))


def _start(stretch: Stretch, prior: ConstantPrior) -> tuple[Floats, Floats]:
    """Attitude at the first sample and constants to begin with, from the stillest candidate."""
    theta = prior.mean.copy()
    best = max(stretch.candidates, key=lambda rest: (rest.firm, len(rest.span)))
    theta[GYRO_BIAS] = stretch.gyro[best.span.as_slice()].mean(axis=0)
    if stretch.free_axis is not None:
        theta[GYRO_BIAS] -= (theta[GYRO_BIAS] @ stretch.free_axis) * stretch.free_axis
    middle = (best.span.start + best.span.stop) // 2
    level = from_up(_upward(stretch, best.span, middle))
    if middle > 0:  # level at the rest, carried back to the first sample by the gyro
        turned = attitude(stretch.gyro[: middle + 1] - theta[GYRO_BIAS], stretch.dt, np.array([1.0, 0.0, 0.0, 0.0]))[-1]
        level = multiply(level, turned * np.array([1.0, -1.0, -1.0, -1.0]))
    return level / np.linalg.norm(level), theta


def _upward(stretch: Stretch, span: Span, middle: int) -> Floats:
    """(3,) direction of the force at sample `middle`: the rest's mean, or the moment's own where the sensor spins."""
    if stretch.free_axis is None:
        return np.asarray(stretch.accel[span.as_slice()].mean(axis=0))
    near = max(1, round(0.05 / stretch.dt))
    return np.asarray(stretch.accel[max(span.start, middle - near) : middle + near + 1].mean(axis=0))


def _anchors(stretch: Stretch) -> list[tuple[int, ...]]:
    """Rests to begin with, surest first: every firm one, or else each of the longest few."""
    firm = tuple(i for i, rest in enumerate(stretch.candidates) if rest.firm)
    if firm:
        return [firm]
    longest = sorted(range(len(stretch.candidates)), key=lambda i: -len(stretch.candidates[i].span))
    ends = [0, len(stretch.candidates) - 1]  # a set begins and ends with a held bar
    return [(i,) for i in dict.fromkeys([*longest[:2], *ends, *longest[2:4]])]


def _grow(solution: Solution, params: FitParams, dropped: set[int], may_drop: bool) -> tuple[int, ...]:
    """Believe the candidates the present rests expect to be still; drop the one the others deny most."""
    length = solution.at.rests.length_s
    believed = set(solution.believed)
    if may_drop and len(believed) > 2:
        kept = np.array(solution.believed)
        odds = _log_odds(*solution.left_out_misses(), length[kept] / params.typical_s)
        worst = int(np.argmin(odds))
        if odds[worst] < params.doubt:
            return tuple(sorted(believed - {int(kept[worst])}))
    others = [i for i in range(len(length)) if i not in believed and i not in dropped]
    if not others:
        return solution.believed
    alone = len(believed) == 1 and solution.candidates[solution.believed[0]].firm
    enough = params.believe_second if alone else params.believe
    typical = params.typical_alone_s if alone else params.typical_s
    misses, spreads = solution.expected_misses(others)
    if alone:  # a sensor far out on the bar sways with its turning too
        spreads[:, DIAGONAL, DIAGONAL] += (params.outboard**2 - 1.0) * solution.at.rests.variance[others]
    odds = _log_odds(misses, spreads, length[others] / typical, FREEDOM if alone else np.inf)
    sure = (odds > enough) & (spreads[:, 8, 8] < params.sure_sd**2)
    if sure.any():
        believed |= {i for i, taken in zip(others, sure, strict=True) if taken}
    elif odds.max() > enough:
        believed.add(others[int(np.argmax(odds))])
    return tuple(sorted(believed))


def _log_odds(misses: Floats, spreads: Floats, length: Floats, freedom: float = np.inf) -> Floats:
    """(k,) log odds of rest against even motion for nine rows each missed by `misses` (k, 9), whose covariances are
    `spreads` (k, 9, 9); length (k,) in typical lengths.
    """
    moving = spreads.copy()
    moving[:, DIAGONAL, DIAGONAL] += MOVING_VAR
    fits = _misfits(np.concatenate((misses, misses)), np.concatenate((spreads, moving)), freedom)
    still_fit, moving_fit = fits[: len(misses)], fits[len(misses) :]
    return np.asarray(0.5 * (moving_fit - still_fit) + np.clip(6.0 * np.log(length), -8.0, 3.0) - 3.0)


def _misfits(misses: Floats, spreads: Floats, freedom: float) -> Floats:
    """(k,) -2 log densities of misses (k, d) up to a constant: Student's t, or Gauss for endless freedom."""
    square = np.einsum("kd,kd->k", misses, np.linalg.solve(spreads, misses[:, :, None])[:, :, 0])
    if np.isfinite(freedom):
        square = (freedom + misses.shape[1]) * np.log1p(square / freedom)
    return np.asarray(square + np.linalg.slogdet(spreads)[1])


def _common_slope(candidates: Sequence[Rest], accel: Floats, dt: float) -> Floats:
    """(3,) slope dead-reckoned velocity shares over all rests, m/s2: what |force| says of the vertical, nan else.

    Only where the sensor keeps its attitude, so that its bias shows alike in every candidate.
    """
    slope = np.full(3, np.nan)
    width = max(1, round(0.4 / dt))  # shorter sway averages out
    sizes = [uniform_filter1d(norms(accel[rest.span.as_slice()]), width, mode="nearest") for rest in candidates]
    ups = np.array([accel[rest.span.as_slice()].mean(axis=0) for rest in candidates])
    ups /= norms(ups)[:, None]
    if float(np.min(ups @ ups.T)) > 0.95:
        slope[2] = densest(np.concatenate(sizes), 0.03) - STANDARD_GRAVITY
    return slope


def _refined(whole: Sequence[Rest], solution: Solution, dt: float, params: FitParams) -> tuple[Rest, ...]:
    """The candidates cut to where the fitted velocity really is near nought."""
    model, nominal = solution.at.model, solution.at.nominal
    times = model.t_s
    every = np.arange(len(nominal.velocity)) * dt
    change = model.corrections(solution.correction)[0]
    velocity = nominal.velocity + np.stack([np.interp(every, times, change[:, k]) for k in range(3)], axis=1)
    middles = np.array([0.5 * (rest.span.start + rest.span.stop) * dt for rest in whole])
    rows = model.velocity_rows(middles)
    sds = np.sqrt(solution.variances(rows.reshape(-1, rows.shape[2]))).reshape(-1, 3)
    out: list[Rest] = []
    for rest, sd in zip(whole, sds, strict=True):
        slope = np.where(sd < 0.2, 0.0, np.nan)
        out += settled_parts(rest, velocity, dt, params.shortest_s, params.max_stray, slope, params.slow + 2.5 * sd)
    return tuple(cut_long(out, dt, params.longest_s))
