"""One simulated lifter with a history: good lifts on some days, then a day with faults (or without)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from barsim import LIFTERS, Options, RepTruth, SimulatedRecording, Unmodelled, simulate
from barsim.technique import faulty, own_style
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import Rep
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.analysis.technique.seen import SeenRep
from bench.scoring import matching

FIRST_DAY = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Day:
    """One set of a lifter: what was seen, and what was true of each rep that was found."""

    seen: tuple[SeenRep, ...]
    pairs: tuple[tuple[Rep, RepTruth], ...]
    simulated: SimulatedRecording


def one_day(
    lift: str, device: str, seed: int, day: int, sizes: dict[str, float], typical: bool = False, **options: object
) -> Day:
    """A set of three of one lifter (told by the seed) on a day; sizes: faults by code, in multiples of a deviation."""
    own = np.random.default_rng([seed, 7])
    lifter = str(own.choice(sorted(LIFTERS)))
    share = float(own.uniform(0.70, 0.88))
    style = own_style(lift, own) if lift != "jerk" else None
    draw = np.random.default_rng([seed, 8, day])
    load = round(LIFTERS[lifter].max_kg(lift) * share * float(draw.uniform(0.98, 1.02)))
    unmodelled = Unmodelled.typical(draw) if typical else Unmodelled.off()
    simulated = simulate(
        lift, rng=np.random.default_rng([seed, 9, day]), device=device, reps=3, lifter=lifter, load_kg=load,
        options=Options(style=style, faults=faulty(sizes), finish="lowered" if lift == "jerk" else None, **options),  # type: ignore[arg-type]
        unmodelled=unmodelled,
    )  # fmt: skip
    reps = analyse_set(simulated.recording, LIFTS[lift]).reps
    at = FIRST_DAY + timedelta(days=3 * day)
    seen = tuple(
        SeenRep(f"set_{day}", rep.index, at, load, rep.outcome, {**rep.measures, **rep.path_measures}) for rep in reps
    )
    pairs = tuple((rep, true) for true in simulated.truth.reps if (rep := matching(reps, true)) is not None)
    return Day(seen, pairs, simulated)
