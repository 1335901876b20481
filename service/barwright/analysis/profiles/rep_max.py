"""The one-rep maximum from repetitions to failure: five published formulas side by side, for days without velocity."""

from __future__ import annotations

import math
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import NotPlausible, check_load

MOST_REPS = 10  # beyond it the formulas part ways; under 10 is advised (Ruf et al. 2018, introduction)
WORDS = "made from repetitions to failure, not from velocity; formulas differ by several per cent, more with more reps"


@dataclass(frozen=True, slots=True)
class RepMax:
    """Estimates in kg by the formula's author, lowest and highest of them, and what to know about them."""

    load_kg: float
    reps: int
    by_formula: dict[str, float]
    lowest_kg: float
    highest_kg: float
    words: str = WORDS


def rep_max(load_kg: float, reps: int) -> RepMax:
    """Maximum in kg from `reps` repetitions to failure with load_kg, by each formula; one rep is its own maximum.

    Formulas from memory, as commonly printed: Epley 1985, Brzycki 1993, Lombardi 1989, Wathan 1994, O'Conner et al.
    1989. Raises NotPlausible for reps outside 1 to `MOST_REPS`. Not meaningful for snatch, clean and jerk.
    """
    check_load(load_kg)
    if not 1 <= reps <= MOST_REPS:
        raise NotPlausible("reps", f"{reps} repetitions; 1 to {MOST_REPS} can be used")
    names = ("epley", "brzycki", "lombardi", "wathan", "oconner")
    if reps == 1:
        found = dict.fromkeys(names, load_kg)
    else:
        found = {
            "epley": load_kg * (1 + reps / 30),
            "brzycki": load_kg * 36 / (37 - reps),
            "lombardi": load_kg * reps**0.10,
            "wathan": 100 * load_kg / (48.8 + 53.8 * math.exp(-0.075 * reps)),
            "oconner": load_kg * (1 + 0.025 * reps),
        }
    return RepMax(load_kg, reps, found, min(found.values()), max(found.values()))
