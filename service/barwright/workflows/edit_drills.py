"""The club's drills: look, add, change, forbid, take the changes back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.technique.catalogue import Catalogue, Drill, published, with_club
from barwright.analysis.technique.limits import CLEAN, JERK, SNATCH
from barwright.storage.audit import note_deed
from barwright.storage.prescriptions import ClubDrillStore
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts
from barwright.workflows.technique_data import club_catalogue

MOST_OWN = 200
FAULTS = tuple(limit.code for limit in (*SNATCH, *CLEAN, *JERK))


def read_drills(parts: Parts, caller: Caller) -> Catalogue:
    """Every drill as this club has it."""
    with parts.database.reading() as session:
        return club_catalogue(session, caller)


def read_drill(parts: Parts, caller: Caller, code: str) -> Drill:
    """One drill. Raises Cannot when there is none."""
    found = read_drills(parts, caller).drills.get(code)
    if found is None:
        raise not_found("drill", code)
    return found


def add_drill(
    parts: Parts,
    caller: Caller,
    code: str,
    facts: dict[str, Any],
    retry: Retry | None,
    answer: Callable[[Drill], bytes],
) -> bytes:
    """A drill of the club's own. Raises Cannot when the code is in use or a fault is not known."""
    _check_faults(facts)

    def keep(session: Session) -> Drill:
        store = ClubDrillStore(session, caller.club_id)
        own = store.all()
        if code in with_club(published(), own).drills:
            raise Cannot("name-taken", f"There is a drill {code!r} already; change it, or take another code.", "/code")
        if len(own) >= MOST_OWN:
            raise Cannot("not-plausible", f"A club keeps {MOST_OWN} drills of its own at most; delete some first.")
        store.put(code, facts, parts.now())
        note_deed(session, caller, "drill.changed", code, parts.now(), {"added": True})
        return with_club(published(), {code: facts}).drills[code]

    return create_once(parts, caller, retry, keep, answer)


def change_drill(parts: Parts, caller: Caller, code: str, changes: dict[str, Any]) -> Drill:
    """Sets what is named in `changes`, for this club only. Raises Cannot."""
    _check_faults(changes)
    with parts.database.writing(caller.club_id) as session:
        store = ClubDrillStore(session, caller.club_id)
        own = store.all()
        if code not in with_club(published(), own).drills:
            raise not_found("drill", code)
        facts = {**own.get(code, {}), **changes}
        found = with_club(published(), {code: facts}).drills[code]
        if found.percent[0] > found.percent[1] or found.beginner > found.percent[1]:
            raise Cannot(
                "not-plausible",
                f"`percent` goes from {found.percent[0]:g} to {found.percent[1]:g}, `beginner` is {found.beginner:g}: "
                "the first percent must not be above the second, nor the beginners' ceiling.",
                "/percent",
            )
        store.put(code, facts, parts.now())
        note_deed(session, caller, "drill.changed", code, parts.now(), {"changed": sorted(changes)})
    return found


def restore_drill(parts: Parts, caller: Caller, code: str) -> None:
    """Deletes a drill of the club's own, or takes back its changes of a published one. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        if not ClubDrillStore(session, caller.club_id).delete(code):
            if code in published().drills:
                raise Cannot("not-found", f"The club changed nothing of {code!r}: there is nothing to take back.")
            raise not_found("drill", code)
        note_deed(session, caller, "drill.changed", code, parts.now(), {"taken_back": True})


def _check_faults(facts: dict[str, Any]) -> None:
    for k, fault in enumerate(facts.get("faults", ())):
        if fault not in FAULTS:
            raise Cannot("not-plausible", f"{fault!r} is no fault; {', '.join(FAULTS)} are.", f"/faults/{k}")
