"""Line and strength of many courses fitted together: every day at once, in closed form and a few rounds.

The model (docs/profiles.md): rep j of day i moves at one_rep + slope (1 - load_ij / exp(m_i)) + error; m_i is normal
about s_i with the course's day_sd; s_i wanders from day to day with variance drift per day. Given the line, m is
eliminated day by day and s is a chain; line and chain meet in a Schur complement. Rounds are Gauss-Newton with
Student-t weights.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from barwright.analysis.profiles.columns import Floats, Joined
from barwright.analysis.profiles.evidence import BOUND_FELT, attempt_evidence
from barwright.analysis.profiles.priors import FIRST_SD, FIRST_SHARE, LEAST_SLOPE, LiftPrior
from barwright.analysis.profiles.robust import day_weights, weights
from barwright.analysis.profiles.tridiagonal import Chain, factorise

LARGEST_STEP = 0.3  # of a log maximum in one round


@dataclass(frozen=True, slots=True)
class Line:
    """Of each course: prior mean and sd of (one_rep, slope), (courses, 2), and a first guess of log maximum."""

    mean: Floats
    sd: Floats
    start: Floats


@dataclass(frozen=True, slots=True)
class Spreads:
    """Of each course, (courses,): day_sd (log), drift (log² a day), spread (m/s)."""

    day_sd: Floats
    drift: Floats
    spread: Floats


@dataclass(frozen=True, slots=True)
class Fitted:
    """theta (courses, 2): one_rep and slope; level (rows,): s; log_max (rows,): m."""

    theta: Floats
    level: Floats
    log_max: Floats


@dataclass(frozen=True, slots=True)
class Evidence:
    """What each day says at a fit. Of each row: information h and gradient g of m, h_theta (2, rows) of m with theta.

    Of each course: information theta (courses, 2, 2) and gradient g_theta (courses, 2).
    """

    h: Floats
    g: Floats
    h_theta: Floats
    theta: Floats
    g_theta: Floats


def line_of(joined: Joined, priors: list[LiftPrior]) -> Line:
    """Priors as columns, and a first guess of each course's maximum from its heaviest loads or its maxima."""
    heavy = joined.heaviest_log - math.log(FIRST_SHARE)
    np.maximum.at(heavy, joined.try_row, joined.try_log - np.where(joined.try_made, 0.0, 0.05))
    heavy[joined.max_row] = joined.max_log
    sums = joined.by_course(heavy)
    counts = joined.last - joined.first + 1
    mean = np.array([[p.one_rep, p.slope] for p in priors])
    sd = np.array([[p.one_rep_sd, p.slope_sd] for p in priors])
    return Line(mean, sd, sums / counts)


def begin(joined: Joined, line: Line) -> Fitted:
    """A rough start: each day's maximum through the prior's line."""
    one_rep, slope = line.mean[joined.point_course, 0], line.mean[joined.point_course, 1]
    share = np.clip((one_rep + slope - joined.velocity) / slope, 0.1, 1.3)
    start = line.start[joined.course]
    log_max = start.copy()
    if len(joined.busy):
        counts = np.diff(joined.starts, append=len(share))
        log_max[joined.busy] = np.add.reduceat(np.log(joined.load_kg / share), joined.starts) / counts
    log_max[joined.max_row] = joined.max_log
    log_max = np.clip(log_max, start - 0.8, start + 0.8)
    return Fitted(line.mean.copy(), log_max, log_max)


def residuals(joined: Joined, now: Fitted) -> tuple[Floats, Floats]:
    """Of each point: velocity less the line's, m/s, and load as a share of the day's maximum."""
    share = joined.load_kg * np.exp(-now.log_max)[joined.point_row]
    top = now.theta.sum(axis=1)[joined.point_course]
    return joined.velocity - top + now.theta[joined.point_course, 1] * share, share


def evidence(joined: Joined, now: Fitted, spreads: Spreads) -> Evidence:
    """What the points, maxima and attempts of each day say at this fit."""
    miss, share = residuals(joined, now)
    variance = joined.u**2 + (spreads.spread**2)[joined.point_course]
    w = weights(miss, variance) / variance
    slope = now.theta[joined.course, 1]
    wx, wr = w * share, w * miss
    s_w, s_x, s_xx = joined.by_row(w), joined.by_row(wx), joined.by_row(wx * share)
    s_r, s_rx = joined.by_row(wr), joined.by_row(wr * share)
    h, g = slope**2 * s_xx, slope * s_rx
    h_theta = np.stack([slope * s_x, slope * (s_x - s_xx)])
    one, both, two = (joined.by_course(x) for x in (s_w, s_w - s_x, s_w - 2 * s_x + s_xx))
    theta = np.stack([np.stack([one, both], 1), np.stack([both, two], 1)], 1)
    g_theta = np.stack([joined.by_course(s_r), joined.by_course(s_r - s_rx)], axis=1)
    if len(joined.max_row):
        np.add.at(h, joined.max_row, 1.0 / joined.max_sd**2)
        np.add.at(g, joined.max_row, (joined.max_log - now.log_max[joined.max_row]) / joined.max_sd**2)
    if len(joined.try_row):
        push, pull = attempt_evidence(now.log_max[joined.try_row] - joined.try_log, joined.try_made)
        np.add.at(h, joined.try_row, pull)
        np.add.at(g, joined.try_row, push)
    near = np.flatnonzero(now.log_max - joined.heaviest_log < BOUND_FELT)
    if len(near):
        push, pull = attempt_evidence((now.log_max - joined.heaviest_log)[near], np.ones(len(near), dtype=np.bool_))
        h[near] += pull
        g[near] += push
    return Evidence(h, g, h_theta, theta, g_theta)


@dataclass(frozen=True, slots=True)
class Solved:
    """One round: where it went, and what is needed to say how certain it is."""

    fitted: Fitted
    seen: Evidence
    chain: Chain
    lean: Floats  # (2, rows): how the level leans on theta
    schur: Floats  # (courses, 2, 2): information of theta
    total: Floats  # (rows,): information of m
    kept: Floats  # (rows,): the share of it that the level brings


def one_round(joined: Joined, line: Line, spreads: Spreads, now: Fitted) -> Solved:
    """One round of Gauss-Newton."""
    seen = evidence(joined, now, spreads)
    course, first = joined.course, joined.first
    day_sd = spreads.day_sd[course]
    about = day_weights((now.log_max - now.level) / day_sd) / day_sd**2
    total = seen.h + about
    kept = about / total
    right = kept * (seen.h * now.log_max + seen.g)
    right[first] += line.start / FIRST_SD**2
    chain = level_chain(joined, kept * seen.h, spreads.drift)
    with_theta = kept * seen.h_theta
    base, *lean = chain.solve(np.stack([right, *with_theta]))
    shift = now.log_max - base
    schur, wanted = seen.theta.copy(), seen.g_theta + (line.mean - now.theta) / line.sd**2
    for a in range(2):
        schur[:, a, a] += 1.0 / line.sd[:, a] ** 2
        wanted[:, a] += joined.by_course(with_theta[a] * shift - seen.h_theta[a] * seen.g / total)
        for b in range(2):
            schur[:, a, b] -= joined.by_course(seen.h_theta[a] * seen.h_theta[b] / total + with_theta[a] * lean[b])
    step = np.linalg.solve(schur, wanted[:, :, None])[:, :, 0]
    theta = now.theta + step
    theta[:, 1] = np.maximum(theta[:, 1], LEAST_SLOPE)
    first_step, second_step = step[course, 0], step[course, 1]
    level = base - lean[0] * first_step - lean[1] * second_step
    change = seen.g - seen.h_theta[0] * first_step - seen.h_theta[1] * second_step + about * (level - now.log_max)
    log_max = now.log_max + np.clip(change / total, -LARGEST_STEP, LARGEST_STEP)
    return Solved(Fitted(theta, level, log_max), seen, chain, np.stack(lean), schur, total, kept)


def level_chain(joined: Joined, diagonal: Floats, drift: Floats) -> Chain:
    """The chain of levels: what each day says (rows,), tied from day to day by the drift (courses,)."""
    tie = 1.0 / (drift[joined.course[1:]] * np.maximum(np.diff(joined.day), 1))
    tie[joined.first[1:] - 1] = 0.0
    whole = diagonal.copy()
    whole[1:] += tie
    whole[:-1] += tie
    whole[joined.first] += 1.0 / FIRST_SD**2
    return factorise(whole, -tie)


@dataclass(frozen=True, slots=True)
class Certainty:
    """theta (courses, 2, 2), last_with_theta (courses, 2) and level_var, log_max_var (rows,)."""

    theta: Floats
    last_with_theta: Floats
    level_var: Floats
    log_max_var: Floats


def certainty(joined: Joined, solved: Solved) -> Certainty:
    """Covariances at a fit."""
    alone, lean = solved.chain.variances(), solved.lean
    theta = np.asarray(np.linalg.inv(solved.schur), dtype=np.float64)
    pull = solved.seen.h_theta / solved.total + solved.kept * lean

    def spread(rows: Floats) -> Floats:
        aa, ab, bb = (theta[joined.course, a, b] for a, b in ((0, 0), (0, 1), (1, 1)))
        return np.asarray(aa * rows[0] ** 2 + 2 * ab * rows[0] * rows[1] + bb * rows[1] ** 2)

    log_max_var = 1.0 / solved.total + solved.kept**2 * alone + spread(pull)
    last_with_theta = -np.einsum("ac,cab->cb", lean[:, joined.last], theta)
    return Certainty(theta, last_with_theta, alone + spread(lean), log_max_var)
