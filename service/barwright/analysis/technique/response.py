"""Did a drill help: the same measure before and after it was given, same lift, like load, against its daily wandering.

Sessions, not reps, are counted: lifts of one day share that day. After the drill the measure may move bit by bit, so a
straight line is laid from the mean before it through the sessions after it; the change is what that line has come to at
the last session. The spread of sessions is learnt from both sides about a belief (a scaled inverse chi-square of
`belief` sessions), which makes the change's error a Student t (Gelman et al. 2013, Bayesian Data Analysis, ch. 3).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.chances import in_percent
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.technique.limits import PathLimit
from barwright.analysis.technique.seen import SeenRep, alike

Floats = NDArray[np.float64]


class Response(StrEnum):
    """What became of a fault after its drill was given."""

    HELPED = "helped"
    NO_CHANGE = "no change seen"
    WORSE = "got worse"
    TOO_EARLY = "too early"


@dataclass(frozen=True, slots=True)
class ResponseParams:
    """When a response is called.

    before_days, most_before: sessions before the drill that count, the last ones; older ones may lie before the fault.
    fewest_before, fewest_after: sessions
    needed on each side. sure: probability of a change in one direction that is called one. belief: weight in sessions
    of the usual spread. swap_days: without a response for so long, the next drill is tried. interval: of the change.
    """

    before_days: int = 42
    most_before: int = 4
    fewest_before: int = 2
    fewest_after: int = 3
    sure: float = 0.97
    belief: float = 3.0
    swap_days: int = 21
    interval: float = 0.95


@dataclass(frozen=True, slots=True)
class Session:
    """One day's comparable lifts: the mean of a measure over them."""

    day: date
    value: float
    u: float
    reps: int


@dataclass(frozen=True, slots=True)
class DrillResponse:
    """change: after less before, negative or positive as the measure is; low, high: its interval; None when too early.

    better: probability that the fault is smaller. swap: three weeks without a response, the next drill is due.
    """

    response: Response
    before: Estimate | None
    after: Estimate | None
    change: Estimate | None
    low: float | None
    high: float | None
    better: float | None
    sessions_before: int
    sessions_after: int
    swap: bool
    words: str


def sessions_of(reps: Sequence[SeenRep], limit: PathLimit, load_kg: float) -> list[Session]:
    """Days with made reps at a like load that show the measure, the oldest first; values brought to one load."""
    days: dict[date, list[tuple[float, float]]] = {}
    for rep in reps:
        figure = rep.figures.get(limit.measure)
        if not rep.made or not alike(rep.load_kg, load_kg) or figure is None or figure.value is None:
            continue
        if limit.fore_aft and not rep.forward_known:
            continue
        value = figure.value + limit.per_load * (load_kg / rep.load_kg - 1.0 if rep.load_kg > 0 else 0.0)
        days.setdefault(rep.at.date(), []).append((value, figure.u or 0.0))
    return [
        Session(day, float(np.mean([v for v, _ in found])), float(np.mean([u for _, u in found])), len(found))
        for day, found in sorted(days.items())
    ]


def response_to(
    sessions: Sequence[Session], limit: PathLimit, given: date, today: date, params: ResponseParams | None = None
) -> DrillResponse:
    """The response of a fault's measure to a drill given on a day."""
    p = params or ResponseParams()
    since = given - timedelta(days=p.before_days)
    before = [s for s in sessions if since <= s.day <= given][-p.most_before :]  # lifts of the day itself led to it
    after = [s for s in sessions if s.day > given]
    if len(before) < p.fewest_before:
        return _early(limit, before, after, f"only {len(before)} sessions before the drill show it")
    if len(after) < p.fewest_after:
        return _early(limit, before, after, f"{len(after)} of at least {p.fewest_after} sessions since the drill")
    change, error, df = _change(before, after, limit, p)
    from scipy.special import stdtr, stdtrit  # a start of the service should not wait for it

    better = float(stdtr(df, -limit.way * change / error))
    half = float(stdtrit(df, 0.5 + p.interval / 2)) * error
    if better >= p.sure:
        called = Response.HELPED
    elif better <= 1 - p.sure:
        called = Response.WORSE
    else:
        called = Response.NO_CHANGE
    swap = called is not Response.HELPED and today - given >= timedelta(days=p.swap_days)
    words = (
        f"{called}: changed by {change:+.3f} {limit.unit} over {len(after)} sessions "
        f"({100 * p.interval:.0f} % between {change - half:+.3f} and {change + half:+.3f}); "
        f"smaller with a probability of {in_percent(better)}"
    )
    return DrillResponse(
        called, _mean(before, limit), _mean(after, limit), Estimate(change, error, limit.unit), change - half,
        change + half, better, len(before), len(after), swap, words,
    )  # fmt: skip


def _change(
    before: Sequence[Session], after: Sequence[Session], limit: PathLimit, p: ResponseParams
) -> tuple[float, float, float]:
    """Change at the last session, its standard error, and the degrees of freedom behind it."""
    n, m = len(before), len(after)
    y = np.array([s.value for s in (*before, *after)])
    step = np.concatenate((np.zeros(n), (1 + np.arange(m)) / m))
    design = np.column_stack((np.ones(n + m), step))
    inverse = np.linalg.inv(design.T @ design)
    fit = inverse @ design.T @ y
    squares = float(np.sum((y - design @ fit) ** 2))
    usual = limit.spread**2  # reps of a day share that day: a session's mean spreads hardly less than a rep
    df = n + m - 2 + p.belief
    variance = (squares + p.belief * usual) / df
    return float(fit[1]), math.sqrt(variance * float(inverse[1, 1])), df


def _mean(sessions: Sequence[Session], limit: PathLimit) -> Estimate:
    values = [s.value for s in sessions]
    spread = max(float(np.std(values, ddof=1)) if len(values) > 1 else limit.spread, 0.25 * limit.spread)
    u = math.hypot(spread / math.sqrt(len(values)), float(np.mean([s.u for s in sessions])))
    return Estimate(float(np.mean(values)), u, limit.unit)


def _early(limit: PathLimit, before: Sequence[Session], after: Sequence[Session], why: str) -> DrillResponse:
    return DrillResponse(
        Response.TOO_EARLY,
        _mean(before, limit) if before else None,
        _mean(after, limit) if after else None,
        None, None, None, None, len(before), len(after), False, f"too early: {why}",
    )  # fmt: skip
