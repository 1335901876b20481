"""Sets, reps and paths for one caller."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from barwright.access.caller import Caller
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import RepPath
from barwright.storage.sets import SetFilter, SetStore, StoredSet
from barwright.workflows.cannot import Cannot, not_found, unknown_lift
from barwright.workflows.parts import Parts


def read_set(parts: Parts, caller: Caller, set_id: str) -> StoredSet:
    """One set."""
    with parts.database.reading() as session:
        found = SetStore(session, caller.club_id).get(set_id)
    if found is None:
        raise not_found("set", set_id)
    return found


def list_sets(
    parts: Parts, caller: Caller, asked: SetFilter, after: tuple[datetime, str] | None, limit: int
) -> list[StoredSet]:
    """Sets, the latest first. Raises Cannot for a lift that is not known."""
    if asked.lift is not None and asked.lift not in LIFTS:
        raise unknown_lift(asked.lift, "lift")
    with parts.database.reading() as session:
        return SetStore(session, caller.club_id).page(asked, after, limit)


@dataclass(frozen=True, slots=True)
class KnownPath:
    """The bar's path over one rep. forward_known: x points away from the lifter; else it may be mirrored."""

    path: RepPath
    forward_known: bool


def read_path(parts: Parts, caller: Caller, set_id: str, index: int) -> KnownPath:
    """The bar's path over one rep."""
    with parts.database.reading() as session:
        store = SetStore(session, caller.club_id)
        found = store.get(set_id)
        if found is None:
            raise not_found("set", set_id)
        path = store.path(set_id, index)
    if path is None or found.quality is None:
        raise Cannot("not-found", f"Set {set_id!r} has no rep {index}; the set itself lists its reps.")
    return KnownPath(path, found.quality.forward_known)
