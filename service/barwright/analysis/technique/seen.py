"""A lift as technique looks at it: when, how heavy, how it ended, what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from barwright.analysis.quantities.estimate import Estimate

LIKE_LOAD = 0.05  # loads within this share of each other compare (common practice, no source)
OWN_DAYS = 180.0
MOST_OWN = 24
RECENT_DAYS = 14.0
RECENT_REPS = 3


@dataclass(frozen=True, slots=True)
class SeenRep:
    """One rep. figures: measures and path measures by name. forward_known: which way is forward was told."""

    set_id: str
    index: int
    at: datetime
    load_kg: float
    outcome: str
    figures: Mapping[str, Estimate]
    forward_known: bool = True

    @property
    def made(self) -> bool:
        """Whether it counts as a good lift."""
        return self.outcome == "made"


def alike(load_kg: float, other_kg: float) -> bool:
    """Whether two loads compare."""
    return abs(load_kg - other_kg) <= LIKE_LOAD * max(load_kg, other_kg) + 1e-9


def in_order(reps: Iterable[SeenRep]) -> list[SeenRep]:
    """The oldest first."""
    return sorted(reps, key=lambda r: (r.at, r.set_id, r.index))


def latest_comparable(reps: Sequence[SeenRep], count: int = RECENT_REPS) -> list[SeenRep]:
    """The last made rep and those before it at a like load, at most `count`, within a fortnight; the oldest first."""
    made = [rep for rep in in_order(reps) if rep.made]
    if not made:
        return []
    last = made[-1]
    since = last.at - timedelta(days=RECENT_DAYS)
    return [rep for rep in made if rep.at >= since and alike(rep.load_kg, last.load_kg)][-count:]


def own_good_lifts(reps: Sequence[SeenRep], recent: Sequence[SeenRep]) -> list[SeenRep]:
    """Made reps at a like load on the days before the recent ones, the last 24 of half a year; the oldest first."""
    if not recent:
        return []
    first, load = min(rep.at for rep in recent), recent[-1].load_kg
    since = first - timedelta(days=OWN_DAYS)
    found = [
        rep
        for rep in in_order(reps)
        if rep.made and since <= rep.at and rep.at.date() < first.date() and alike(rep.load_kg, load)
    ]
    return found[-MOST_OWN:]
