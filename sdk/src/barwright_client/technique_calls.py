"""What can be asked of the service about technique and drills: one function, one call. No network here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from barwright_client.answers import Athlete
from barwright_client.bodies import json_body
from barwright_client.call import Call, Pages, listing, new_key, nothing, part, query, without_none
from barwright_client.calls import id_of
from barwright_client.technique import Comparison, Drill, Prescription, Technique, Waiting


def technique(athlete: Athlete | str, lift: str) -> Call[Technique]:
    """Which phase of a lift leaks first, one drill for it with its load, and what earlier drills did."""
    return Call("GET", _lift(athlete, lift), Technique.read)


def compare(
    athlete: Athlete | str, lift: str, first: str = "best", second: str = "last", *, band: int = 10
) -> Call[Comparison]:
    """Two lifts laid over each other at lift-off, with the band of the last good ones.

    first, second: "best", "last", a day such as "2026-11-02", or "SET:REP".
    """
    params = query(first=first, second=second, band=str(band))
    return Call("GET", f"{_lift(athlete, lift)}/compare", Comparison.read, params)


def give_drill(
    athlete: Athlete | str,
    lift: str,
    *,
    drill: str | None = None,
    fault: str | None = None,
    on: date | None = None,
    load_kg: float | None = None,
    sets: int | None = None,
    reps: int | None = None,
    reason: str | None = None,
) -> Call[Prescription]:
    """Give a drill: the advised one, or another with the reason for it, which is kept."""
    day = None if on is None else on.isoformat()
    told = without_none(
        lift=lift, drill=drill, fault=fault, on=day, load_kg=load_kg, sets=sets, reps=reps, reason=reason
    )
    return Call("POST", _given(athlete), Prescription.read, body=json_body(told), key=new_key())


def given_drills(athlete: Athlete | str) -> Pages[Prescription]:
    """Drills given to an athlete (or the id of one) with what became of each, the latest first."""
    return listing(_given(athlete), Prescription.read)


def end_drill(prescription: Prescription, on: date | None = None) -> Call[Prescription]:
    """The drill is done no longer, from a day on (today when left out)."""
    path = f"{_given(prescription.athlete_id)}/{part(prescription.id)}/end"
    told = without_none(ended_on=None if on is None else on.isoformat())
    return Call("POST", path, Prescription.read, body=json_body(told))


def drills() -> Pages[Drill]:
    """Every drill as the club has it."""
    return listing("/v1/drills", Drill.read)


def drill(code: str) -> Call[Drill]:
    """One drill."""
    return Call("GET", f"/v1/drills/{part(code)}", Drill.read)


def add_drill(
    code: str,
    title: str,
    *,
    of: str,
    percent: Sequence[float],
    beginner: float,
    sets: Sequence[int],
    reps: Sequence[int],
    form: str,
    why: str,
    caution: str | None = None,
    primer: bool = False,
    faults: Iterable[str] = (),
) -> Call[Drill]:
    """Add a drill of the club's own; it is tried first for the faults it names.

    percent, sets, reps: (least, most). percent, and beginner (the ceiling for novices and minors): of the maximum of
    the lift `of`.
    """
    told = without_none(
        code=code, title=title, of=of, percent=list(percent), beginner=beginner, sets=list(sets), reps=list(reps),
        form=form, why=why, caution=caution, primer=primer, faults=list(faults),
    )  # fmt: skip
    return Call("POST", "/v1/drills", Drill.read, body=json_body(told), key=new_key())


def change_drill(code: str, **changes: Any) -> Call[Drill]:
    """Change a drill for the club, such as percent=[50, 60], or forbidden=True."""
    return Call("PATCH", f"/v1/drills/{part(code)}", Drill.read, body=json_body(changes))


def restore_drill(code: str) -> Call[None]:
    """Delete a drill of the club's own, or take back its changes of a published one."""
    return Call("DELETE", f"/v1/drills/{part(code)}", nothing)


def review(*, everybody: bool = False) -> Pages[Waiting]:
    """Sets of remote athletes (everybody: of all) nobody has looked at, the most worrying first."""
    return listing("/v1/review", Waiting.read, everybody="true" if everybody else None)


def looked_at(set_ids: Iterable[str]) -> Call[None]:
    """Mark sets as looked at."""
    return Call("POST", "/v1/review/looked", nothing, body=json_body({"set_ids": list(set_ids)}))


def set_remote(athlete: Athlete | str, remote: bool = True) -> Call[None]:
    """Say whether an athlete trains where the coach cannot stand beside: then their sets are put up for review."""
    return Call("PUT", f"/v1/athletes/{part(id_of(athlete))}/remote", nothing, body=json_body({"remote": remote}))


def _lift(athlete: Athlete | str, lift: str) -> str:
    return f"/v1/athletes/{part(id_of(athlete))}/technique/{part(lift)}"


def _given(athlete: Athlete | str) -> str:
    return f"/v1/athletes/{part(id_of(athlete))}/prescriptions"
