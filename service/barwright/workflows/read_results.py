"""Sets, reps and paths for one caller."""

from __future__ import annotations

from datetime import datetime

from barwright.access.caller import Caller
from barwright.analysis.reps.results import RepPath
from barwright.storage.sets import SetFilter, SetStore, StoredSet
from barwright.workflows.cannot import Cannot, not_found
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
    """Sets, the latest first."""
    with parts.database.reading() as session:
        return SetStore(session, caller.club_id).page(asked, after, limit)


def read_path(parts: Parts, caller: Caller, set_id: str, index: int) -> RepPath:
    """The bar's path over one rep."""
    with parts.database.reading() as session:
        store = SetStore(session, caller.club_id)
        if store.state(set_id) is None:
            raise not_found("set", set_id)
        path = store.path(set_id, index)
    if path is None:
        raise Cannot("not-found", f"Set {set_id!r} has no rep {index}; the set itself lists its reps.")
    return path
