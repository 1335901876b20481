"""A set or one of its reps corrected by a person; what the analysis found stays beside it."""

from __future__ import annotations

from concurrent.futures import Future
from dataclasses import dataclass

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.quantities.lifts import LIFTS
from barwright.storage.athletes import AthleteStore
from barwright.storage.audit import note_deed
from barwright.storage.corrections import Correction, CorrectionStore, RepCorrection
from barwright.storage.efforts import EffortStore
from barwright.storage.sets import SetStore, StoredRep, StoredSet
from barwright.workflows.cannot import Cannot, not_found, unknown_lift
from barwright.workflows.close_stream import check_raw
from barwright.workflows.loads_told import load_in_kg
from barwright.workflows.parts import Parts
from barwright.workflows.refresh_profile import refresh_profile
from barwright.workflows.set_queue import SetQueue
from barwright.workflows.tell_readiness import tell_readiness

NO_REASON = "no reason given"


@dataclass(frozen=True, slots=True)
class SetChanges:
    """What is to change of a set; None leaves it. unit: of load (UCUM), None: kg."""

    load: float | None = None
    unit: str | None = None
    lift: str | None = None
    athlete_id: str | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class RepChanges:
    """What is to change of a rep; None leaves it."""

    outcome: str | None = None
    excluded: bool | None = None
    reason: str | None = None


def correct_set(parts: Parts, queue: SetQueue, caller: Caller, set_id: str, told: SetChanges) -> Future[None] | None:
    """Changes load, lift or athlete. A changed lift is analysed anew, which the answer waits for. Raises Cannot."""
    if told.lift is not None and told.lift not in LIFTS:
        raise unknown_lift(told.lift)
    load_kg = None if told.load is None else load_in_kg(told.load, told.unit)
    with parts.database.writing(caller.club_id) as session:
        store = SetStore(session, caller.club_id)
        found = _set(store, set_id)
        if told.athlete_id is not None and AthleteStore(session, caller.club_id).get(told.athlete_id) is None:
            raise not_found("athlete", told.athlete_id, "/athlete_id")
        wanted = {"load_kg": load_kg, "lift": told.lift, "athlete_id": told.athlete_id}
        changes = {
            name: [getattr(found, name), value]
            for name, value in wanted.items()
            if value is not None and value != getattr(found, name)
        }
        if not changes:
            return None
        again = "lift" in changes and found.state != "open"
        if again:
            check_raw(session, caller.club_id, set_id)
        store.correct(set_id, {name: after for name, (_, after) in changes.items()})
        correction = Correction(None, changes, told.reason or NO_REASON, parts.now())
        CorrectionStore(session, caller.club_id).add(set_id, correction)
        note_deed(session, caller, "set.corrected", set_id, parts.now(), changes)
        if again:
            store.mark_analysing(set_id)
        elif found.state == "analysed":
            touched = EffortStore(session, caller.club_id).refresh(set_id)
            tell_readiness(parts, session, caller.club_id, touched)
    refresh_profile(parts, caller.club_id, {found.athlete_id, told.athlete_id or found.athlete_id})
    return queue.request(caller.club_id, set_id) if again else None


def correct_rep(parts: Parts, caller: Caller, set_id: str, index: int, told: RepChanges) -> None:
    """Says how a rep ended, or that it is not to count. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        found = _set(SetStore(session, caller.club_id), set_id)
        rep = next((one for one in found.reps if one.index == index), None)
        if rep is None:
            raise Cannot("not-found", f"Set {set_id!r} has no rep {index}; the set itself lists its reps.")
        changes = _rep_changes(rep, told)
        if not changes:
            return
        _keep_rep(parts, session, caller, found, rep, told, changes)
    refresh_profile(parts, caller.club_id, [found.athlete_id])


def _keep_rep(
    parts: Parts,
    session: Session,
    caller: Caller,
    found: StoredSet,
    rep: StoredRep,
    told: RepChanges,
    changes: dict[str, list[object]],
) -> None:
    outcome = told.outcome or rep.outcome
    reason = told.reason or NO_REASON
    holds = RepCorrection(
        rep.start_s,
        rep.stop_s,
        None if outcome == rep.analysed_outcome else outcome,
        rep.excluded if told.excluded is None else told.excluded,
        reason,
    )
    store = CorrectionStore(session, caller.club_id)
    store.put_rep(found.id, holds, parts.now())
    store.add(found.id, Correction(rep.index, changes, reason, parts.now()))
    note_deed(session, caller, "rep.corrected", found.id, parts.now(), {"index": rep.index, **changes})
    touched = EffortStore(session, caller.club_id).refresh(found.id)
    tell_readiness(parts, session, caller.club_id, touched)


def _rep_changes(rep: StoredRep, told: RepChanges) -> dict[str, list[object]]:
    changes: dict[str, list[object]] = {}
    if told.outcome not in (None, rep.outcome):
        changes["outcome"] = [rep.outcome, told.outcome]
    if told.excluded not in (None, rep.excluded):
        changes["excluded"] = [rep.excluded, told.excluded]
    return changes


def _set(store: SetStore, set_id: str) -> StoredSet:
    found = store.get(set_id)
    if found is None:
        raise not_found("set", set_id)
    return found
