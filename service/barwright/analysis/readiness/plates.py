"""Which loads a club can put on the bar, and with which plates."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import lru_cache

from barwright.analysis.profiles.bounds import MOST_KG, NotPlausible

BARS_KG = (20.0, 15.0)  # men's and women's bar of weightlifting; IWF technical rules
PLATES_KG = (25.0, 20.0, 15.0, 10.0, 5.0, 2.5, 2.0, 1.5, 1.0, 0.5)  # of weightlifting, by colour; IWF technical rules
SMALL_PLATE_KG = 1.25  # not of the competition set; without it there are no steps of 2.5 kg
_GRAM = 1000


@dataclass(frozen=True, slots=True)
class Equipment:
    """A bar, collars (kg for the pair) and plates as (kg, pairs) that a club owns; loads step by step_kg."""

    bar_kg: float = 20.0
    plates: tuple[tuple[float, int], ...] = (
        (25.0, 6), *((kg, 1) for kg in PLATES_KG if kg != 25.0), (SMALL_PLATE_KG, 1),
    )  # fmt: skip
    step_kg: float = 1.0
    collars_kg: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.bar_kg <= 50:
            raise NotPlausible("bar_kg", f"{self.bar_kg:g} kg is no bar; above 0 and at most 50 kg is right")
        if not 0.1 <= self.step_kg <= 10:
            raise NotPlausible("step_kg", f"{self.step_kg:g} kg is no step; 0.1 to 10 kg is right")
        if not 0 <= self.collars_kg <= 10:
            raise NotPlausible("collars_kg", f"{self.collars_kg:g} kg are no collars; 0 to 10 kg for the pair is right")
        for k, (kg, pairs) in enumerate(self.plates):
            if not (0.1 <= kg <= 50 and 0 <= pairs <= 50):
                detail = f"{pairs} pairs of {kg:g} kg; plates of 0.1 to 50 kg, up to 50 pairs, are right"
                raise NotPlausible(f"plates/{k}", detail)


@dataclass(frozen=True, slots=True)
class BarLoad:
    """A load that can be built: kg in all, and for each side the plates as (kg, count), heaviest first."""

    load_kg: float
    each_side: tuple[tuple[float, int], ...]


def nearest_load(wanted_kg: float, equipment: Equipment, at_most_kg: float = MOST_KG) -> BarLoad:
    """The load closest to wanted_kg that is not above at_most_kg; the lighter of two as close; at least the bar."""
    built, kg = _loads(equipment), _kilograms(equipment)
    last = max(bisect_right(kg, at_most_kg + 1e-9) - 1, 0)
    place = min(bisect_left(kg, wanted_kg), last)
    near = built[max(place - 1, 0) : place + 1]
    return min(near, key=lambda one: (round(abs(one.load_kg - wanted_kg), 6), one.load_kg))


@lru_cache(maxsize=64)
def _kilograms(equipment: Equipment) -> tuple[float, ...]:
    return tuple(one.load_kg for one in _loads(equipment))


@lru_cache(maxsize=64)
def _loads(equipment: Equipment) -> tuple[BarLoad, ...]:
    """Every load that can be built, lightest first, each with the fewest plates; on the club's steps."""
    empty = equipment.bar_kg + equipment.collars_kg
    half = (MOST_KG - empty) / 2
    sides: dict[int, tuple[int, tuple[tuple[float, int], ...]]] = {0: (0, ())}
    for kg, pairs in sorted(equipment.plates, reverse=True):
        grams = round(kg * _GRAM)
        for side, (count, used) in list(sides.items()):
            for more in range(1, pairs + 1):
                total = side + more * grams
                if total > half * _GRAM:
                    break
                one = (count + more, (*used, (kg, more)))
                if total not in sides or _simpler(one) < _simpler(sides[total]):
                    sides[total] = one
    step = round(equipment.step_kg * _GRAM)
    out = [
        BarLoad(round(empty + 2 * side / _GRAM, 3), used)
        for side, (_, used) in sorted(sides.items())
        if (2 * side) % step == 0
    ]
    return tuple(out)


def _simpler(side: tuple[int, tuple[tuple[float, int], ...]]) -> tuple[int, list[tuple[float, int]]]:
    """Fewer plates first, then the heavier ones."""
    return side[0], [(-kg, -count) for kg, count in side[1]]
