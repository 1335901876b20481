"""Line and strength of many courses fitted together: every day at once, in closed form and a few rounds.

The model (docs/profiles.md): rep j of day i moves at one_rep + slope (1 - x_ij) + bend bow(x_ij) + error, with
x_ij = load_ij / exp(m_i); m_i is normal about s_i with the course's day_sd; s_i wanders from day to day with variance
drift per day. Given the line, m is eliminated day by day and s is a chain; line and chain meet in a Schur complement.
Rounds are Gauss-Newton with Student-t weights.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from barwright.analysis.profiles.columns import Floats, Joined
from barwright.analysis.profiles.curve import bow, curving, held
from barwright.analysis.profiles.evidence import BOUND_FELT, attempt_evidence
from barwright.analysis.profiles.priors import FIRST_SD, FIRST_SHARE, LEAST_SLOPE, LiftPrior
from barwright.analysis.profiles.robust import day_weights, weights
from barwright.analysis.profiles.tridiagonal import Chain, factorise

LARGEST_STEP = 0.3  # of a log maximum in one round
PARTS = 3  # of a line: one_rep, slope, bend


@dataclass(frozen=True, slots=True)
class Line:
    """Of each course: prior mean and sd of (one_rep, slope, bend), (courses, 3), and a first guess of log maximum."""

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
    """theta (courses, 3): one_rep, slope and bend; level (rows,): s; log_max (rows,): m."""

    theta: Floats
    level: Floats
    log_max: Floats


@dataclass(frozen=True, slots=True)
class Evidence:
    """What each day says at a fit. Of each row: information h and gradient g of m, h_theta (3, rows) of m with theta.

    Of each course: information theta (courses, 3, 3) and gradient g_theta (courses, 3). turn (3, rows): half of how h
    changes with m, slope and bend.
    """

    h: Floats
    g: Floats
    h_theta: Floats
    theta: Floats
    g_theta: Floats
    turn: Floats


def line_of(joined: Joined, priors: list[LiftPrior]) -> Line:
    """Priors as columns, and a first guess of each course's maximum from its heaviest loads or its maxima."""
    heavy = joined.heaviest_log - math.log(FIRST_SHARE)
    np.maximum.at(heavy, joined.try_row, joined.try_log - np.where(joined.try_made, 0.0, 0.05))
    heavy[joined.max_row] = joined.max_log
    sums = joined.by_course(heavy)
    counts = joined.last - joined.first + 1
    mean = np.array([[p.one_rep, p.slope, p.bend] for p in priors])
    sd = np.array([[p.one_rep_sd, p.slope_sd, p.bend_sd] for p in priors])
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


@dataclass(frozen=True, slots=True)
class Misses:
    """Of each point: velocity less the curve's, m/s; derivatives of the curve by log maximum and by slope and bend.

    turn (3, points): derivatives of by_max itself by log maximum, slope and bend.
    """

    miss: Floats
    by_max: Floats
    by_slope: Floats
    by_bend: Floats
    turn: tuple[Floats, Floats, Floats]


def misses(joined: Joined, now: Fitted) -> Misses:
    """How far the points lie from the curves."""
    share = joined.load_kg * np.exp(-now.log_max)[joined.point_row]
    one_rep, slope, bend = now.theta.T[:, joined.point_course]
    bowed, steep = bow(share)
    light = 1.0 - share
    miss = joined.velocity - one_rep - slope * light - bend * bowed
    by_max = share * (slope - bend * steep)
    turn = (share**2 * bend * curving(share) - by_max, share, -share * steep)
    return Misses(miss, by_max, light, bowed, turn)


def evidence(joined: Joined, now: Fitted, spreads: Spreads) -> Evidence:
    """What the points, maxima and attempts of each day say at this fit."""
    seen = misses(joined, now)
    variance = joined.u**2 + (spreads.spread**2)[joined.point_course]
    w = weights(seen.miss, variance) / variance
    pull, wr = w * seen.by_max, w * seen.miss
    h, g = joined.by_row(pull * seen.by_max), joined.by_row(pull * seen.miss)
    h_theta = np.stack([joined.by_row(pull), joined.by_row(pull * seen.by_slope), joined.by_row(pull * seen.by_bend)])
    by_slope, by_bend = w * seen.by_slope, w * seen.by_bend
    of_slope, of_bend = joined.of_course(by_slope), joined.of_course(by_bend)
    both = joined.of_course(by_slope * seen.by_bend)
    theta = _symmetric(
        joined.of_course(w), of_slope, of_bend,
        joined.of_course(by_slope * seen.by_slope), both, joined.of_course(by_bend * seen.by_bend),
    )  # fmt: skip
    g_theta = [joined.of_course(x) for x in (wr, by_slope * seen.miss, by_bend * seen.miss)]
    turn = np.stack([joined.by_row(pull * x) for x in seen.turn])
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
    return Evidence(h, g, h_theta, theta, np.stack(g_theta, axis=1), turn)


def _symmetric(aa: Floats, ab: Floats, ac: Floats, bb: Floats, bc: Floats, cc: Floats) -> Floats:
    return np.stack([np.stack(row, 1) for row in ((aa, ab, ac), (ab, bb, bc), (ac, bc, cc))], 1)


@dataclass(frozen=True, slots=True)
class Solved:
    """One round: where it went, and what is needed to say how certain it is."""

    fitted: Fitted
    seen: Evidence
    chain: Chain
    lean: Floats  # (3, rows): how the level leans on theta
    schur: Floats  # (courses, 3, 3): information of theta
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
    # days are averaged over, not only put at their likeliest: each brings -log(total) / 2, which changes with the line
    turn = seen.turn / total
    g = seen.g - turn[0]
    right = kept * (seen.h * now.log_max + g)
    right[first] += line.start / FIRST_SD**2
    chain = level_chain(joined, kept * seen.h, spreads.drift)
    with_theta = kept * seen.h_theta
    base, *lean = chain.solve(np.stack([right, *with_theta]))
    shift = now.log_max - base
    schur, wanted = seen.theta.copy(), seen.g_theta + (line.mean - now.theta) / line.sd**2
    wanted[:, 1] -= joined.by_course(turn[1])
    wanted[:, 2] -= joined.by_course(turn[2])
    for a in range(PARTS):
        schur[:, a, a] += 1.0 / line.sd[:, a] ** 2
        wanted[:, a] += joined.by_course(with_theta[a] * shift - seen.h_theta[a] * g / total)
        for b in range(PARTS):
            schur[:, a, b] -= joined.by_course(seen.h_theta[a] * seen.h_theta[b] / total + with_theta[a] * lean[b])
    step = np.linalg.solve(schur, wanted[:, :, None])[:, :, 0]
    theta = now.theta + step
    theta[:, 1] = np.maximum(theta[:, 1], LEAST_SLOPE)
    theta[:, 2] = held(theta[:, 1], theta[:, 2])
    steps = step.T[:, course]
    level = base - np.sum(np.stack(lean) * steps, axis=0)
    change = g - np.sum(seen.h_theta * steps, axis=0) + about * (level - now.log_max)
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
    """theta (courses, 3, 3), last_with_theta (courses, 3) and level_var, log_max_var (rows,)."""

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
        whole, parts = theta[joined.course], range(PARTS)
        return np.asarray(sum(whole[:, a, b] * rows[a] * rows[b] for a in parts for b in parts))

    log_max_var = 1.0 / solved.total + solved.kept**2 * alone + spread(pull)
    last_with_theta = -np.einsum("ac,cab->cb", lean[:, joined.last], theta)
    return Certainty(theta, last_with_theta, alone + spread(lean), log_max_var)
