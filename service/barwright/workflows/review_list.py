"""Lifts nobody has looked at yet, the most worrying first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.access.caller import Caller
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.technique.faults import Asked, Fault, find_faults
from barwright.analysis.technique.limits import limits_for
from barwright.analysis.technique.misses import how_lost
from barwright.analysis.technique.seen import SeenRep
from barwright.storage.athletes import AthleteStore
from barwright.storage.reviews import ReviewStore
from barwright.storage.sets import SetFilter, SetStore, StoredSet
from barwright.workflows.cannot import not_found
from barwright.workflows.parts import Parts
from barwright.workflows.technique_data import MOST_SETS, seen_reps

MOST_WAITING = 100
LOST, NO_DATA, POOR, FAULT, HEAVIEST = 3.0, 2.0, 1.0, 2.0, 1.0  # weights of what worries (common practice, no source)

Past = Sequence[tuple[StoredSet, list[SeenRep]]]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A set to look at. worry: the greater the sooner; reasons: in plain words, the weightiest first."""

    lift_set: StoredSet
    worry: float
    reasons: tuple[str, ...]
    faults: tuple[Fault, ...]


def review_list(parts: Parts, caller: Caller, everybody: bool) -> list[Waiting]:
    """Sets of remote athletes (everybody: of all) nobody has looked at, the most worrying first."""
    with parts.database.reading() as session:
        ids = ReviewStore(session, caller.club_id).waiting(everybody, MOST_WAITING)
        store = SetStore(session, caller.club_id)
        sets = [found for set_id in ids if (found := store.get(set_id)) is not None]
        histories = {
            pair: store.page(SetFilter(*pair), None, MOST_SETS) for pair in {(one.athlete_id, one.lift) for one in sets}
        }
        statures = {a.id: a.facts.stature_m for a in AthleteStore(session, caller.club_id).all()}
    past = {pair: [(one, seen_reps(one)) for one in found] for pair, found in histories.items()}
    waiting = [_waiting(one, past[one.athlete_id, one.lift], statures.get(one.athlete_id)) for one in sets]
    return sorted(waiting, key=lambda w: (-w.worry, -w.lift_set.started_at.timestamp(), w.lift_set.id))


def look_at(parts: Parts, caller: Caller, set_ids: Sequence[str]) -> None:
    """Marks sets as looked at, all or none. Raises Cannot for one the club does not have."""
    with parts.database.writing(caller.club_id) as session:
        unknown = ReviewStore(session, caller.club_id).look_at(set_ids, parts.now())
        if unknown:
            wrong = next(k for k, set_id in enumerate(set_ids) if set_id in unknown)
            raise not_found("set", set_ids[wrong], f"/set_ids/{wrong}")


def set_remote(parts: Parts, caller: Caller, athlete_id: str, remote: bool) -> None:
    """Whether an athlete's sets are put up for review. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        if not ReviewStore(session, caller.club_id).set_remote(athlete_id, remote):
            raise not_found("athlete", athlete_id)


def is_remote(parts: Parts, caller: Caller, athlete_id: str) -> bool:
    """Whether an athlete's sets are put up for review. Raises Cannot."""
    with parts.database.reading() as session:
        if AthleteStore(session, caller.club_id).get(athlete_id) is None:
            raise not_found("athlete", athlete_id)
        return athlete_id in ReviewStore(session, caller.club_id).remote()


def _waiting(one: StoredSet, past: Past, stature_m: float | None) -> Waiting:
    worries: list[tuple[float, str]] = []
    mine = seen_reps(one)
    lost = [rep for rep in mine if rep.outcome == "failed"]
    if lost:
        ways = sorted({how_lost(rep).way.replace("_", " ") for rep in lost} - {"not told"})
        worries.append((LOST * len(lost), f"{len(lost)} of {len(mine)} lost{': ' + ', '.join(ways) if ways else ''}"))
    if one.state == "failed":
        worries.append((NO_DATA, f"it could not be analysed: {one.reason}"))
    elif one.quality is not None and one.quality.verdict in ("poor", "unusable"):
        worries.append((POOR, f"the samples are {one.quality.verdict}"))
    faults = _faults(one, mine, past, stature_m)
    for fault in faults:
        weight = FAULT * fault.sure * (1.0 if fault.echo_of is None else 0.3)
        worries.append((weight, f"{fault.title.lower()} ({fault.in_reps} of {fault.of_reps})"))
    before = [h.load_kg for h, reps in past if h.started_at < one.started_at and any(rep.made for rep in reps)]
    if before and one.load_kg > max(before):
        worries.append((HEAVIEST, f"heaviest so far: {one.load_kg:g} kg, {max(before):g} kg before"))
    worries.sort(key=lambda w: -w[0])
    return Waiting(one, sum(w for w, _ in worries), tuple(words for _, words in worries), faults)


def _faults(one: StoredSet, mine: Sequence[SeenRep], past: Past, stature_m: float | None) -> tuple[Fault, ...]:
    """Faults of this set's own reps against the lifts before it."""
    if one.lift not in LIFTS or not mine:
        return ()
    before = [rep for h, reps in past if h.started_at.date() < one.started_at.date() for rep in reps]
    return find_faults([*before, *mine], limits_for(LIFTS[one.lift]), Asked(stature_m)).faults
