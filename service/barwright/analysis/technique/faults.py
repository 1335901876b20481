"""Which phases stray: own good lifts first, wide limits second, the earliest first.

A fault is a median beyond a limit, seen in two of three comparable reps, and further from the reference than twice its
measurement uncertainty. No rule looks at the greatest height alone: made and forward-missed snatches of world-class
lifters do not differ in it (Nagao et al. 2020).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.technique.limits import PHASES, PathLimit
from barwright.analysis.technique.seen import SeenRep, latest_comparable, own_good_lifts

Floats = NDArray[np.float64]
OWN = "own"
WIDE = "wide"
FEWEST_REPS = 2


@dataclass(frozen=True, slots=True)
class FaultParams:
    """How a fault is told from a lift's usual wandering (tuned on simulated lifters, see docs/technique.md).

    fewest_own: fewer own good lifts are no reference. spreads: an own limit is at least so many sds from the own usual.
    belief: weight in lifts of the usual spread against the own one. beyond_u: a deviation has to be so many
    measurement uncertainties. least_sure: smallest probability of being beyond the limit. too_coarse: a measurement
    uncertainty greater than this share of the limit's distance cannot judge.
    """

    fewest_own: int = 4
    spreads: float = 2.3
    belief: float = 6.0
    beyond_u: float = 2.0
    least_sure: float = 0.6
    too_coarse: float = 0.8


@dataclass(frozen=True, slots=True)
class Fault:
    """A phase that strays. size: the median over the reps; reference: the own usual (None for a wide limit).

    limit: what it is beyond, against `against` (own or wide); sure: probability that the lifts are beyond it on the
    whole. in_reps of of_reps strayed. echo_of: the code of the earlier fault of which this is likely the echo.
    """

    code: str
    phase: str
    measure: str
    title: str
    says: str
    size: Estimate
    reference: Estimate | None
    limit: float
    against: str
    source: str
    sure: float
    in_reps: int
    of_reps: int
    echo_of: str | None = None


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A symptom nothing can be said of, and why."""

    code: str
    phase: str
    measure: str
    why: str


@dataclass(frozen=True, slots=True)
class Findings:
    """faults: earliest first. recent: the reps judged; own: the good lifts they were held against."""

    faults: tuple[Fault, ...] = ()
    not_judged: tuple[NotJudged, ...] = ()
    recent: tuple[SeenRep, ...] = ()
    own: tuple[SeenRep, ...] = ()
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Usual:
    """An athlete's own usual of one measure at a load: where it lies, how it spreads from rep to rep, from how many."""

    centre: float
    spread: float
    count: int


@dataclass(frozen=True, slots=True)
class Asked:
    """What is known besides the reps. stature_m: for limits that are shares of it.

    kept_until: for a code, own good lifts count only until then: its fault was known from then on.
    """

    stature_m: float | None = None
    kept_until: Mapping[str, datetime] = field(default_factory=dict)


def find_faults(
    reps: Sequence[SeenRep], limits: Sequence[PathLimit], asked: Asked | None = None, params: FaultParams | None = None
) -> Findings:
    """Faults of an athlete's last comparable reps of one lift, held against all earlier ones."""
    asked, p = asked or Asked(), params or FaultParams()
    recent = latest_comparable(reps)
    if len(recent) < FEWEST_REPS:
        return Findings(recent=tuple(recent), words=(_too_few(recent),))
    own = own_good_lifts(reps, recent)
    found: list[Fault] = []
    left: list[NotJudged] = []
    for limit in limits:
        until = asked.kept_until.get(limit.code)
        mine = own if until is None else [rep for rep in own if rep.at < until]
        one = judge(limit, recent, mine, asked.stature_m, p)
        if isinstance(one, Fault):
            found.append(one)
        elif isinstance(one, NotJudged):
            left.append(one)
    order = [limit.code for limit in limits]
    found.sort(key=lambda f: (PHASES.index(f.phase), order.index(f.code)))
    words = () if len(own) >= p.fewest_own else (_few_own(len(own), p.fewest_own),)
    return Findings(_with_echoes(found), tuple(left), tuple(recent), tuple(own), words)


def judge(
    limit: PathLimit, recent: Sequence[SeenRep], own: Sequence[SeenRep], stature_m: float | None, p: FaultParams
) -> Fault | NotJudged | None:
    """One symptom: a fault, not to be judged, or None when all is well."""
    told = [(rep, rep.figures[limit.measure]) for rep in recent if limit.measure in rep.figures]
    known = [(rep, f) for rep, f in told if f.value is not None]
    if len(known) < FEWEST_REPS:
        why = next((f.reason for _, f in told if f.reason), None)
        return _not(limit, why or "these lifts do not show this phase")
    if limit.fore_aft and not all(rep.forward_known for rep, _ in known):
        return _not(limit, "which way is forward is not known: tell the device's bar axis")
    values = np.array([f.value for _, f in known], dtype=float)
    u = float(np.sqrt(np.mean([float(f.u or 0.0) ** 2 for _, f in known])))
    load = float(np.mean([rep.load_kg for rep, _ in known]))
    usual = usual_of(limit, own, load, p)
    if usual is not None and limit.own is not None:
        margin = max(limit.own, p.spreads * usual.spread * math.sqrt(1 + 1 / usual.count))
        if u > p.too_coarse * margin:
            return _not(limit, f"the sensor tells this to {u:.3f} {limit.unit} only, the limit lies {margin:.3f} away")
        fault = _beyond(limit, values, u, usual.centre + limit.way * margin, usual, p)
        if fault is not None:
            return fault
    wide = limit.wide
    if wide is not None and limit.of_stature:
        wide = None if stature_m is None else wide * stature_m
    if wide is None:
        return None if usual is not None and limit.own is not None else _not(limit, _no_reference(limit, p))
    if usual is None and u > p.too_coarse * max(abs(wide), limit.own or 0.0):
        return _not(limit, f"the sensor tells this to {u:.3f} {limit.unit} only")
    return _beyond(limit, values, u, wide, None, p, usual)


def usual_of(limit: PathLimit, own: Sequence[SeenRep], load_kg: float, p: FaultParams) -> Usual | None:
    """The own usual of a measure, brought to one load; None when too few good lifts show it.

    The centre is the median; the spread joins that of the own lifts with the usual one, weighted `belief` lifts.
    """
    values = []
    for rep in own:
        figure = rep.figures.get(limit.measure)
        if figure is not None and figure.value is not None and (rep.forward_known or not limit.fore_aft):
            values.append(figure.value + limit.per_load * (load_kg / rep.load_kg - 1.0 if rep.load_kg > 0 else 0.0))
    if len(values) < p.fewest_own:
        return None
    found = np.array(values)
    centre = float(np.median(found))
    squares = float(np.sum(np.minimum(np.abs(found - centre), 4 * limit.spread) ** 2))
    spread = math.sqrt((p.belief * limit.spread**2 + squares) / (p.belief + len(values) - 1))
    return Usual(centre, spread, len(values))


def _beyond(
    limit: PathLimit,
    values: Floats,
    u: float,
    edge: float,
    usual: Usual | None,
    p: FaultParams,
    own: Usual | None = None,
) -> Fault | None:
    """A fault when the values are beyond the edge; usual: the reference for an own limit."""
    over = int(np.sum((values - edge) * limit.way > 0))
    middle = float(np.median(values))
    spread = (usual or own).spread if (usual or own) is not None else limit.spread  # type: ignore[union-attr]
    from scipy.special import ndtr  # a start of the service should not wait for it

    sure = float(ndtr((middle - edge) * limit.way / math.hypot(spread / math.sqrt(len(values)), u)))
    far = (middle - (edge if usual is None else usual.centre)) * limit.way
    needed = u if usual is None else p.beyond_u * u
    if over < FEWEST_REPS or far <= needed or sure < p.least_sure:
        return None
    reference = None
    if usual is not None:
        reference = Estimate(usual.centre, usual.spread / math.sqrt(usual.count), limit.unit)
    return Fault(
        limit.code, limit.phase, limit.measure, limit.title, limit.says, Estimate(middle, u, limit.unit), reference,
        edge, WIDE if usual is None else OWN, limit.source, sure, over, len(values),
    )  # fmt: skip


def _with_echoes(found: Sequence[Fault]) -> tuple[Fault, ...]:
    """Later faults are likely echoes of the first: a bar that starts in the wrong direction is hard to bring back."""
    return tuple(f if k == 0 else replace(f, echo_of=found[0].code) for k, f in enumerate(found))


def _not(limit: PathLimit, why: str) -> NotJudged:
    return NotJudged(limit.code, limit.phase, limit.measure, why)


def _no_reference(limit: PathLimit, p: FaultParams) -> str:
    if limit.of_stature:
        return "neither own good lifts at a like load nor the athlete's stature are known"
    return f"this is only held against own good lifts at a like load; {p.fewest_own} are needed"


def _too_few(recent: Sequence[SeenRep]) -> str:
    if not recent:
        return "No made lift was recorded yet: nothing to judge."
    return "A fault has to show in two of three comparable lifts; only one made lift at this load was recorded lately."


def _few_own(count: int, fewest: int) -> str:
    found = (
        "1 own good lift at a like load was found"
        if count == 1
        else f"{count} own good lifts at a like load were found"
    )
    return f"{found}, {fewest} are needed: the wide limits of the trade are used, which fit nobody's build."
