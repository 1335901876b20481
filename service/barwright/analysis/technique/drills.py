"""One primer and one main drill for the earliest fault, at a load the lifter may take."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.technique.catalogue import CAUTIONS, Catalogue, Drill, Try
from barwright.analysis.technique.faults import Fault

NOVICE = "novice"
ADVANCED = "advanced"
ADULT = 18
SKILLED_PERCENT = 80.0  # heavier only for lifters who make it cleanly there twice: here, advanced ones
LOW_DAY_POINTS = 7.5  # 5-10 points less on a low day (common practice, no source)


@dataclass(frozen=True, slots=True)
class Lifter:
    """What caps a drill's load. level: novice, intermediate, advanced or None. age: in years, the least it may be.

    low_day: readiness is down. maxima: lift code -> maximum for today (kg); where from: max_from.
    """

    level: str | None = None
    age: int | None = None
    low_day: bool = False
    maxima: dict[str, Estimate] | None = None
    max_from: str = "the day's maximum"

    @property
    def beginner(self) -> bool:
        """Novices, minors, and those of whom neither is known to be otherwise."""
        return self.level in (None, NOVICE) or (self.age is not None and self.age < ADULT)


@dataclass(frozen=True, slots=True)
class DrillAdvice:
    """A drill with its load. percent: (low, high) after all caps. load: in kg, before rounding to plates.

    at_most_kg: the drill's ceiling for this lifter. because: one sentence. caps: what held the load down.
    """

    drill: Drill
    percent: tuple[float, float]
    load: Estimate
    at_most_kg: float | None
    sets: int
    reps: int
    because: str
    caps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Advice:
    """main: for the earliest fault; primer before it; others: what is tried after it. cautions go wherever loads go."""

    fault: Fault
    main: DrillAdvice | None
    primer: DrillAdvice | None
    others: tuple[str, ...]
    cautions: tuple[str, ...]
    words: tuple[str, ...] = ()


def choose_drills(
    faults: tuple[Fault, ...], catalogue: Catalogue, lifter: Lifter, spent: Collection[str] = ()
) -> Advice | None:
    """Advice for the first of the faults; None without one. spent: drills that were given and did not help."""
    if not faults:
        return None
    fault = faults[0]
    tries = [t for t in catalogue.tries.get(fault.code, ()) if not catalogue.drills[t.drill].forbidden]
    left = [t for t in tries if t.drill not in spent]
    words: tuple[str, ...] = ()
    if not left and tries:
        words = ("Every drill for this fault was tried without a response: look at the lift anew before going on.",)
    elif not tries:
        words = ("No drill for this fault is left: the club forbids all of them.",)
    main = advise(catalogue.drills[left[0].drill], left[0], fault, lifter) if left else None
    primer = _primer(catalogue, fault, lifter, main)
    return Advice(fault, main, primer, tuple(t.drill for t in left[1:]), CAUTIONS, words)


def _primer(catalogue: Catalogue, fault: Fault, lifter: Lifter, main: DrillAdvice | None) -> DrillAdvice | None:
    drill = catalogue.drills.get(catalogue.primers.get(fault.code, ""))
    if drill is None or drill.forbidden or (main is not None and main.drill.code == drill.code):
        return None
    return advise(drill, Try(drill.code, drill.percent, drill.sets[0], drill.reps[0]), fault, lifter)


def advise(drill: Drill, what: Try, fault: Fault | None, lifter: Lifter) -> DrillAdvice:
    """A drill's load in kg: percent of the maximum, under every cap that applies."""
    low, high, caps = _capped(drill, what, lifter)
    maximum = (lifter.maxima or {}).get(drill.of)
    at_most = None
    if maximum is None or maximum.value is None or maximum.u is None:
        load = unknown("kg", f"no maximum of the {drill.of} is known yet: take {low:.0f}-{high:.0f} % of it")
    else:
        middle = (low + high) / 200
        load = Estimate(middle * maximum.value, middle * maximum.u, "kg")
        at_most = high / 100 * maximum.value
        if lifter.max_from:
            caps = (*caps, f"from {lifter.max_from}, {maximum.value:.0f} ± {maximum.u:.0f} kg")
    return DrillAdvice(drill, (low, high), load, at_most, what.sets, what.reps, _because(drill, fault), caps)


def _capped(drill: Drill, what: Try, lifter: Lifter) -> tuple[float, float, tuple[str, ...]]:
    low, high = what.percent
    caps: list[str] = []
    own = 100 * drill.own_max
    if high > 0.95 * own:
        high = 0.95 * own
        caps.append(f"the drill's own maximum is about {own:.0f} % of the {drill.of}")
    if lifter.low_day:
        low, high = low - LOW_DAY_POINTS, high - LOW_DAY_POINTS
        caps.append(f"{LOW_DAY_POINTS:g} points less on a low day")
    if lifter.beginner:
        if high > drill.beginner:
            high = drill.beginner
            caps.append(f"ceiling for novices and minors: {drill.beginner:.0f} %")
    elif lifter.level != ADVANCED and SKILLED_PERCENT < high <= 100.0:
        high = SKILLED_PERCENT
        caps.append(f"heavier than {SKILLED_PERCENT:.0f} % only once it is made cleanly there twice")
    return max(min(low, high - 5.0), 5.0), max(high, 5.0), tuple(caps)


def _because(drill: Drill, fault: Fault | None) -> str:
    if fault is None:
        return f"{drill.title}: it {drill.why}."
    return f"{drill.title}, because {fault.says}: it {drill.why}."
