"""Two lifts of one athlete laid over each other at lift-off, with the band of the last good ones."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

import numpy as np

from barwright.access.caller import Caller
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.technique.compare import Aligned, Band, Style, aligned, band_of, style_of
from barwright.analysis.technique.seen import SeenRep, alike, in_order
from barwright.storage.sets import SetStore
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts
from barwright.workflows.technique_data import gather

BEST, LAST = "best", "last"
_REP = re.compile(r"([A-Za-z0-9_]{1,64}):(\d{1,6})")


@dataclass(frozen=True, slots=True)
class ComparedLift:
    """One of the two. path: aligned at lift-off."""

    rep: SeenRep
    path: Aligned
    style: Style | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """first, second: the lifts. changes: second less first for every figure both have.

    band: of good lifts at a load like the second's. forward_known: whether x points away from the lifter in both.
    """

    first: ComparedLift
    second: ComparedLift
    changes: dict[str, Estimate]
    band: Band | None
    forward_known: bool


def compare_lifts(
    parts: Parts, caller: Caller, athlete_id: str, lift: str, first: str, second: str, count: int
) -> Comparison:
    """first, second: `best`, `last`, a day, or SET:REP. count: good lifts in the band. Raises Cannot."""
    data = gather(parts, caller, athlete_id, lift)
    reps = in_order(data.reps)
    one, other = _chosen(reps, first, "first"), _chosen(reps, second, "second")
    good = [rep for rep in reps if rep.made and alike(rep.load_kg, other.load_kg)]
    good = [rep for rep in good if (rep.set_id, rep.index) != (other.set_id, other.index)][-count:]
    with parts.database.reading() as session:
        store = SetStore(session, caller.club_id)
        mine, theirs = _compared(store, one), _compared(store, other)
        paths = [path for rep in good if (path := store.path(rep.set_id, rep.index)) is not None]
    band = band_of([aligned(path) for path in paths])
    return Comparison(mine, theirs, _changes(one, other), band, one.forward_known and other.forward_known)


def _chosen(reps: list[SeenRep], wanted: str, pointer: str) -> SeenRep:
    if not reps:
        raise Cannot("not-found", "No rep of this lift is recorded yet: there is nothing to compare.")
    if wanted == LAST:
        return reps[-1]
    if wanted == BEST:
        made = [rep for rep in reps if rep.made]
        if not made:
            raise Cannot("not-found", "No made rep of this lift is recorded yet: there is no best one.", pointer)
        return max(made, key=lambda rep: (rep.load_kg, _peak(rep), rep.at))
    named = _REP.fullmatch(wanted)
    if named is not None:
        found = [rep for rep in reps if (rep.set_id, rep.index) == (named[1], int(named[2]))]
        if not found:
            raise Cannot("not-found", f"This athlete has no rep {wanted!r} of this lift.", pointer)
        return found[0]
    try:
        day = date.fromisoformat(wanted)
    except ValueError as error:
        raise Cannot(
            "request-invalid",
            f"`{pointer}` is {wanted!r}; `best`, `last`, a day such as 2026-11-02, or SET:REP (set_4k0m:0) is right.",
            pointer,
        ) from error
    found = [rep for rep in reps if rep.at.date() == day]
    if not found:
        raise Cannot("not-found", f"No rep of this lift is recorded on {day}.", pointer)
    made = [rep for rep in found if rep.made]
    return max(made or found, key=lambda rep: (rep.load_kg, rep.at, rep.index))


def _peak(rep: SeenRep) -> float:
    figure = rep.figures.get("peak_velocity")
    return figure.value if figure is not None and figure.value is not None else 0.0


def _compared(store: SetStore, rep: SeenRep) -> ComparedLift:
    path = store.path(rep.set_id, rep.index)
    if path is None or len(path.t_s) < 3:
        raise Cannot("not-found", f"Rep {rep.index} of set {rep.set_id!r} has no path to be laid over another.")
    return ComparedLift(rep, aligned(path), style_of(path) if rep.forward_known else None)


def _changes(one: SeenRep, other: SeenRep) -> dict[str, Estimate]:
    out = {}
    for name, before in one.figures.items():
        after = other.figures.get(name)
        if after is None or before.value is None or after.value is None:
            continue
        u = float(np.hypot(before.u or 0.0, after.u or 0.0))
        out[name] = Estimate(after.value - before.value, u, after.unit)
    return out
