"""Athletes: the list, one of them, their facts and maxima, their file, their erasure."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response, StreamingResponse

from barwright.coach.at_the_door import CoachOf, FieldsOf, PageRoute, PartsOf, go_to
from barwright.coach.forms import Fields
from barwright.coach.frame import display_of, page
from barwright.coach.numbers import Display
from barwright.coach.technique_of import technique_of
from barwright.coach.views.athlete import PathsSeen, athlete_view, athletes_view
from barwright.coach.views.sets import set_line
from barwright.storage.athletes import AthleteFacts
from barwright.storage.sets import SetFilter, StoredSet
from barwright.workflows.athletes_and_devices import add_athlete, change_athlete, find_athlete, list_athletes
from barwright.workflows.cannot import Cannot
from barwright.workflows.check_readiness import check_readiness
from barwright.workflows.export_zip import export_zip
from barwright.workflows.forget_athlete import forget_athlete
from barwright.workflows.import_history import write_history
from barwright.workflows.parts import Parts
from barwright.workflows.prescribe import ToldPrescription, prescribe
from barwright.workflows.read_profile import read_profile, read_zones
from barwright.workflows.read_results import list_sets, read_path
from barwright.workflows.readiness_history import lifts_of_athlete, readiness_history
from barwright.workflows.review_list import is_remote, set_remote
from barwright.workflows.sign_in import SignedIn
from barwright.workflows.tell_maxima import tell_maximum

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_SETS_SHOWN = 12
_OWN_PATHS = 5


@router.get("/athletes")
def athletes_page(request: Request, parts: PartsOf, coach: CoachOf) -> Response:
    """All athletes, and a form for a new one."""
    return page(
        request, coach, "athletes.html", "athletes", athletes_view(list_athletes(parts, coach.caller, None, 2000))
    )


@router.post("/athletes")
def new_athlete(parts: PartsOf, coach: CoachOf, fields: FieldsOf) -> Response:
    """Adds one."""
    facts = AthleteFacts(**_facts(fields))
    athlete_id = add_athlete(parts, coach.caller, facts, None, lambda one: one.id.encode()).decode()
    return go_to(f"/athletes/{athlete_id}")


@router.get("/athletes/{athlete_id}")
def athlete_page(request: Request, parts: PartsOf, coach: CoachOf, athlete_id: str, lift: str = "") -> Response:
    """One athlete and one lift: the one asked for, else the one today is about, else the latest."""
    display = display_of(parts, coach)
    lifts = lifts_of_athlete(parts, coach.caller, athlete_id)
    today = check_readiness(parts, coach.caller, athlete_id, None, lift or None)
    if not lift:
        lift = today.main.lift if today.main is not None else (lifts[0] if lifts else "")
        today = check_readiness(parts, coach.caller, athlete_id, None, lift) if lift else today
    if lift and lift not in lifts:
        lifts = [lift, *lifts]
    sets = list_sets(parts, coach.caller, SetFilter(athlete_id=athlete_id), None, _SETS_SHOWN)
    profile = read_profile(parts, coach.caller, athlete_id, lift, None) if lift else None
    zones = None
    if profile is not None and profile.profile is not None:
        zones = read_zones(parts, coach.caller, athlete_id, lift, None, None)
    view = athlete_view(
        today,
        lifts,
        lift,
        profile,
        readiness_history(parts, coach.caller, athlete_id, lift) if lift else (),
        zones,
        _paths(parts, coach, athlete_id, lift, display) if lift else None,
        [set_line(one, display, with_day=True) for one in sets],
        display,
    )
    technique = technique_of(parts, coach, athlete_id, lift, display) if lift else None
    remote = is_remote(parts, coach.caller, athlete_id)
    return page(request, coach, "athlete.html", "athletes", view, technique=technique, remote=remote)


@router.post("/athletes/{athlete_id}")
def change_facts(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """Keeps changed facts."""
    change_athlete(parts, coach.caller, athlete_id, _facts(fields))
    return go_to(f"/athletes/{athlete_id}")


@router.post("/athletes/{athlete_id}/remote")
def change_remote(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """Whether their sets are put up for review."""
    set_remote(parts, coach.caller, athlete_id, fields.text("remote") == "yes")
    return go_to(f"/athletes/{athlete_id}")


@router.post("/athletes/{athlete_id}/drills")
def give_drill(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """Gives the drill that is advised."""
    lift = fields.text("lift", 60)
    told = ToldPrescription(lift, fields.text("fault", 60) or None, fields.text("drill", 60) or None)
    prescribe(parts, coach.caller, athlete_id, told, None, lambda _: b"")
    return go_to(f"/athletes/{athlete_id}?lift={lift}")


@router.post("/athletes/{athlete_id}/maxima")
def tell_max(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """Keeps a tested maximum."""
    kg = display_of(parts, coach).to_kg(fields.number("load", "The maximum", 1, 1400))
    lift = fields.text("lift", 60)
    told = (lift, kg, None, fields.day("day"), fields.text("note", 200) or None)
    tell_maximum(parts, coach.caller, athlete_id, told, None, lambda _: b"")
    return go_to(f"/athletes/{athlete_id}?lift={lift}")


@router.get("/athletes/{athlete_id}/history.csv")
def history_file(parts: PartsOf, coach: CoachOf, athlete_id: str) -> Response:
    """Every set and maximum as a file."""
    name = find_athlete(parts, coach.caller, athlete_id).facts.name
    safe = "".join(letter if letter.isascii() and letter.isalnum() else "_" for letter in name)
    headers = {"Content-Disposition": f'attachment; filename="{safe}.csv"', "X-Content-Type-Options": "nosniff"}
    return Response(write_history(parts, coach.caller, athlete_id), 200, headers, "text/csv; charset=utf-8")


@router.get("/athletes/{athlete_id}/export.zip")
def export_file(parts: PartsOf, coach: CoachOf, athlete_id: str) -> Response:
    """Everything that is kept of the athlete, raw samples too, as files."""
    headers = {"Content-Disposition": f'attachment; filename="{athlete_id}.zip"', "X-Content-Type-Options": "nosniff"}
    return StreamingResponse(export_zip(parts, coach.caller, athlete_id), 200, headers, "application/zip")


@router.get("/athletes/{athlete_id}/erase")
def erase_page(request: Request, parts: PartsOf, coach: CoachOf, athlete_id: str) -> Response:
    """Asks once more."""
    one = find_athlete(parts, coach.caller, athlete_id)
    return page(request, coach, "erase.html", "athletes", one)


@router.post("/athletes/{athlete_id}/erase")
def erase(parts: PartsOf, coach: CoachOf, fields: FieldsOf, athlete_id: str) -> Response:
    """Erases for good; the name typed has to be the athlete's."""
    name = find_athlete(parts, coach.caller, athlete_id).facts.name
    if fields.text("name", 200) != name:
        raise Cannot("request-invalid", f"Nothing was erased: to erase, type the name exactly, {name!r}.", "/name")
    forget_athlete(parts, coach.caller, athlete_id)
    return go_to("/athletes")


def _facts(fields: Fields) -> dict[str, Any]:
    name = fields.text("name", 200)
    if not name:
        raise Cannot("request-invalid", "An athlete needs a name.", "/name")
    sex = fields.text("sex", 10) or None
    if sex not in (None, "female", "male", "other"):
        raise Cannot("request-invalid", "The bar goes by female, male or other.", "/sex")
    born = fields.number_or_none("birth_year", "The year of birth", 1900, 2100)
    return {
        "name": name,
        "birth_year": None if born is None else int(born),
        "sex": sex,
        "body_mass_kg": fields.number_or_none("body_mass_kg", "The body mass in kilograms", 20, 400),
        "stature_m": fields.number_or_none("stature_m", "The stature in metres", 0.5, 2.6),
        "level": fields.text("level", 40) or None,
        "consent_on": fields.day("consent_on") if fields.text("consent_on") else None,
        "guardian_note": fields.text("guardian_note", 500) or None,
    }


def _paths(parts: Parts, coach: SignedIn, athlete_id: str, lift: str, display: Display) -> PathsSeen | None:
    """The latest made rep with a path, and one made rep of each of the sets before it."""
    found = []
    for one in list_sets(parts, coach.caller, SetFilter(athlete_id=athlete_id, lift=lift), None, 12):
        rep = next((rep for rep in one.reps if rep.outcome == "made"), None)
        if rep is None or one.quality is None or not one.quality.horizontal:
            continue
        path = read_path(parts, coach.caller, one.id, rep.index).path
        stop = next((phase.stop_s for phase in rep.phases if phase.phase == "catch"), None)
        found.append((_path_words(one, display), path, stop))
        if len(found) > _OWN_PATHS:
            break
    if not found:
        return None
    words, path, stop = found[0]
    return PathsSeen(words, path, stop, tuple((said, one) for said, one, _ in found[1:]))


def _path_words(one: StoredSet, display: Display) -> str:
    return f"{display.day(one.started_at)}, {display.weight(one.load_kg)}"
