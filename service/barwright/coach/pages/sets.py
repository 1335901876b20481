"""Sets: the list, and one set with its reps."""

from __future__ import annotations

import contextlib
from concurrent.futures import TimeoutError as FutureTimeout
from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, QueueOf, go_to
from barwright.coach.frame import display_of, page
from barwright.coach.numbers import trimmed
from barwright.coach.views.sets import Opened, Overlay, set_list_view, set_view
from barwright.coach.words import lift_title
from barwright.storage.sets import SetFilter, StoredSet
from barwright.workflows.athletes_and_devices import find_device, list_athletes
from barwright.workflows.cannot import Cannot
from barwright.workflows.correct_set import RepChanges, SetChanges, correct_rep, correct_set
from barwright.workflows.parts import Parts
from barwright.workflows.read_results import list_sets, read_path, read_set
from barwright.workflows.set_queue import ShuttingDownError
from barwright.workflows.sign_in import SignedIn

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_PAGE = 40
_OVERLAY_SETS = 8


@router.get("/sets")
def sets_page(
    request: Request, parts: PartsOf, coach: CoachOf, athlete: str = "", lift: str = "", after: str = ""
) -> Response:
    """The club's sets, the latest first."""
    asked = SetFilter(athlete_id=athlete or None, lift=lift or None)
    found = list_sets(parts, coach.caller, asked, _cursor(after), _PAGE + 1)
    more = None
    if len(found) > _PAGE:
        found = found[:_PAGE]
        more = f"/sets?athlete={athlete}&lift={lift}&after={found[-1].started_at.timestamp()!r}~{found[-1].id}"
    names = [(one.id, one.facts.name) for one in list_athletes(parts, coach.caller, None, 1000)]
    view = set_list_view(found, names, (athlete, lift), more, display_of(parts, coach))
    return page(request, coach, "sets.html", "sets", view)


@router.get("/sets/{set_id}")
def set_page(
    request: Request,
    parts: PartsOf,
    coach: CoachOf,
    set_id: str,
    rep: Annotated[int | None, Query()] = None,
    over: str = "",
) -> Response:
    """One set with one rep opened: the one asked for, else the first that was made."""
    one = read_set(parts, coach.caller, set_id)
    device = find_device(parts, coach.caller, one.device_id).facts.name
    opened = _opened(parts, coach, one, rep, over)
    overlays = () if opened is None else _overlays(parts, coach, one, opened.index, over)
    names = [(each.id, each.facts.name) for each in list_athletes(parts, coach.caller, None, 2000)]
    view = set_view(one, device, opened, overlays, display_of(parts, coach), names, over)
    return page(request, coach, "set.html", "sets", view)


@router.post("/sets/{set_id}/reps/{index}")
def fix_rep(parts: PartsOf, coach: CoachOf, fields: FieldsOf, set_id: str, index: int) -> Response:
    """How a rep ended, or that it is not to count; the day's figures follow at once."""
    outcome = fields.text("outcome", 20) or None
    if outcome not in (None, "made", "failed", "partial"):
        raise Cannot("request-invalid", "A rep was made, failed or partial.", "/outcome")
    counts = fields.text("counts", 5)
    excluded = None if not counts else counts == "no"
    told = RepChanges(outcome=outcome, excluded=excluded, reason=fields.text("reason", 200) or None)
    correct_rep(parts, coach.caller, set_id, index, told)
    return go_to(f"/sets/{set_id}?rep={index}")


@router.post("/sets/{set_id}")
def fix_set(parts: PartsOf, queue: QueueOf, coach: CoachOf, fields: FieldsOf, set_id: str) -> Response:
    """Another load, lift or athlete; another lift is analysed anew, which this waits for."""
    display = display_of(parts, coach)
    typed = fields.number_or_none("load", "The load", 0.1, 1400)
    one = read_set(parts, coach.caller, set_id)
    as_it_was = typed is not None and display.weight_number(one.load_kg) == trimmed(typed, 2)
    told = SetChanges(
        load=None if typed is None or as_it_was else display.to_kg(typed),
        lift=fields.text("lift", 60) or None,
        athlete_id=fields.text("athlete", 60) or None,
        reason=fields.text("reason", 200) or None,
    )
    again = correct_set(parts, queue, coach.caller, set_id, told)
    if again is not None:
        with contextlib.suppress(FutureTimeout, ShuttingDownError):  # the page then says that it is still due
            again.result(timeout=20)
    return go_to(f"/sets/{set_id}")


def _opened(parts: Parts, coach: SignedIn, one: StoredSet, wanted: int | None, over: str) -> Opened | None:
    if not one.reps:
        return None
    if wanted is None:
        wanted = next((rep.index for rep in one.reps if rep.outcome == "made"), one.reps[0].index)
    known = read_path(parts, coach.caller, one.id, wanted)
    other, words = None, ""
    if over:
        try:
            set_id, _, index = over.partition(".")
            other = read_path(parts, coach.caller, set_id, int(index)).path
            words = _overlay_words(parts, coach, one, set_id, int(index))
        except (Cannot, ValueError):
            other = None  # it was erased, or never was: the rep itself is still there to see
    return Opened(wanted, known.path, known.forward_known, other, words)


def _overlays(parts: Parts, coach: SignedIn, one: StoredSet, index: int, over: str) -> tuple[Overlay, ...]:
    display = display_of(parts, coach)
    out = []
    for number, rep in enumerate(one.reps, 1):
        if rep.index != index:
            value = f"{one.id}.{rep.index}"
            out.append(Overlay(value, f"Rep {number} of this set, {rep.outcome}", value == over))
    asked = SetFilter(athlete_id=one.athlete_id, lift=one.lift)
    for other in list_sets(parts, coach.caller, asked, None, _OVERLAY_SETS):
        made = [(n, rep) for n, rep in enumerate(other.reps, 1) if rep.outcome == "made"]
        if other.id == one.id or not made:
            continue
        wanted = next((each for each in made if f"{other.id}.{each[1].index}" == over), made[0])
        number, rep = wanted
        value = f"{other.id}.{rep.index}"
        words = f"{display.day(other.started_at)}, {display.weight(other.load_kg)}, rep {number}"
        out.append(Overlay(value, words, value == over))
    return tuple(out)


def _overlay_words(parts: Parts, coach: SignedIn, one: StoredSet, set_id: str, index: int) -> str:
    display = display_of(parts, coach)
    other = one if set_id == one.id else read_set(parts, coach.caller, set_id)
    number = [rep.index for rep in other.reps].index(index) + 1
    if other.id == one.id:
        return f"rep {number} of this set"
    return f"{lift_title(other.lift)}, {display.day(other.started_at)}, {display.weight(other.load_kg)}, rep {number}"


def _cursor(after: str) -> tuple[datetime, str] | None:
    at, _, set_id = after.partition("~")
    try:
        return (datetime.fromtimestamp(float(at), UTC), set_id) if after else None
    except (ValueError, OverflowError, OSError) as error:
        raise Cannot("request-invalid", "This page of the list is not known; begin with the first.") from error
