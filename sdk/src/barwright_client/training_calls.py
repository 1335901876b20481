"""What can be asked about profiles, readiness, plans, loads and histories. No network here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from barwright_client.answers import Athlete, Json, SetResult
from barwright_client.bodies import File, Whole, json_body, upload_of
from barwright_client.call import Call, Pages, document_of, listing, new_key, nothing, part, query, without_none
from barwright_client.calls import id_of
from barwright_client.replies import Reply
from barwright_client.training import (
    Imported,
    Loads,
    Maximum,
    Plan,
    Profile,
    Readiness,
    VelocityLoss,
    Zones,
)


@dataclass(frozen=True, slots=True)
class TextCall(Call[str]):
    """A call that is answered in CSV."""

    def headers(self) -> dict[str, str]:
        """Everything but who is calling."""
        return {"Accept": "text/csv"}

    def read_answer(self, reply: Reply) -> str:
        """The text."""
        return reply.body.decode()


def profile(athlete: Athlete | str, lift: str, *, on: date | None = None) -> Call[Profile]:
    """The load-velocity line of an athlete (or the id of one) and lift at the end of a day, today when left out."""
    return Call("GET", f"{_of(athlete)}/profiles/{part(lift)}", Profile.read, _on(on))


def zones(athlete: Athlete | str, lift: str, *, velocity: float | None = None, on: date | None = None) -> Call[Zones]:
    """Velocity zones of an athlete (or the id of one); with velocity (m/s) the zone, % and kg it stands for."""
    params = {**_on(on), **query(velocity=None if velocity is None else f"{velocity:g}")}
    return Call("GET", f"{_of(athlete)}/zones/{part(lift)}", Zones.read, params)


def readiness(athlete: Athlete | str, *, on: date | None = None, lift: str | None = None) -> Call[Readiness]:
    """Is this athlete (or the id of one) ready on a day, today when left out; lift: only this one."""
    return Call("GET", f"{_of(athlete)}/readiness", Readiness.read, {**_on(on), **query(lift=lift)})


def club_readiness(*, on: date | None = None) -> Call[tuple[Readiness, ...]]:
    """The whole club on a day, today when left out, in order of name."""
    return Call("GET", "/v1/readiness", lambda found: tuple(map(Readiness.read, found["items"])), _on(on))


def plan(
    athlete: Athlete | str, sets: Sequence[Mapping[str, Any]], *, on: date | None = None, note: str | None = None
) -> Call[Plan]:
    """Plan a day, today when left out; the newest plan for a day counts.

    sets: {"lift": "snatch", "percent": 80, "reps": 2, "sets": 5} each; in the place of percent `velocity` (m/s) or
    `zone`; velocity_loss: percent at which to stop a set.
    """
    told = without_none(sets=[dict(one) for one in sets], on=None if on is None else on.isoformat(), note=note)
    return Call("POST", f"{_of(athlete)}/plans", Plan.read, body=json_body(told), key=new_key())


def plans(athlete: Athlete | str) -> Pages[Plan]:
    """Plans of an athlete (or the id of one), the newest first."""
    return listing(f"{_of(athlete)}/plans", Plan.read)


def loads(athlete: Athlete | str, *, on: date | None = None) -> Call[Loads]:
    """Kilograms for the plan of a day, today when left out: estimates, not an instruction."""
    return Call("GET", f"{_of(athlete)}/loads", Loads.read, _on(on))


def decide_load(
    athlete: Athlete | str, set_number: int, load_kg: float, *, reason: str, on: date | None = None
) -> Call[Json]:
    """Give a line of the day's plan (1 is the first) another load, with a reason that is kept."""
    return _decide(athlete, on, kind="load", set=set_number, load_kg=load_kg, reason=reason)


def lift_cap(athlete: Athlete | str, lift: str, *, reason: str, on: date | None = None) -> Call[Json]:
    """Let the day's loads of a lift leave the club's daily cap, with a reason that is kept."""
    return _decide(athlete, on, kind="lift_cap", lift=lift, reason=reason)


def tell_maximum(
    athlete: Athlete | str, lift: str, load_kg: float, *, on: date | None = None, note: str | None = None
) -> Call[Maximum]:
    """Tell a maximum that was tested and made; on: the day, today when left out."""
    told = without_none(lift=lift, load_kg=load_kg, on=None if on is None else on.isoformat(), note=note)
    return Call("POST", f"{_of(athlete)}/maxima", Maximum.read, body=json_body(told), key=new_key())


def maxima(athlete: Athlete | str, lift: str | None = None) -> Pages[Maximum]:
    """Tested maxima of an athlete (or the id of one), the oldest first."""
    return listing(f"{_of(athlete)}/maxima", Maximum.read, lift=lift)


def take_back_maximum(maximum: Maximum) -> Call[None]:
    """Take back a maximum that was told by mistake."""
    return Call("DELETE", f"{_of(maximum.athlete_id)}/maxima/{part(maximum.id)}", nothing)


def import_history(athlete: Athlete | str, file: File, *, skip_known: bool = False) -> Call[Imported]:
    """Import sets and maxima of years past from CSV: a path, bytes or an open file; every row, or none of them.

    skip_known: leave out rows that are there already, in the place of refusing the file.
    """
    content = b"".join(upload_of(file, "history.csv").open())
    params = query(known="skip" if skip_known else "refuse")
    body = Whole(content, "text/csv")
    return Call("POST", f"{_of(athlete)}/history", Imported.read, params, body=body, key=new_key(), wait_s=60.0)


def history_csv(athlete: Athlete | str, *, lift: str | None = None) -> Call[str]:
    """Every set and tested maximum of an athlete (or the id of one) as CSV, ready to be imported elsewhere."""
    return TextCall("GET", f"{_of(athlete)}/history.csv", str, query(lift=lift))


def velocity_loss(set_id: str, *, limit_percent: float | None = None) -> Call[VelocityLoss]:
    """How much slower the last made rep of a set was than its fastest; limit: else the plan's."""
    params = query(limit=None if limit_percent is None else f"{limit_percent:g}")
    return Call("GET", f"/v1/sets/{part(set_id)}/velocity_loss", VelocityLoss.read, params)


def correct_set(
    set_id: str,
    *,
    load_kg: float | None = None,
    lift: str | None = None,
    athlete: Athlete | str | None = None,
    reason: str | None = None,
) -> Call[SetResult]:
    """Correct load, lift or athlete of a set; a changed lift is analysed again."""
    who = None if athlete is None else id_of(athlete)
    told = without_none(load_kg=load_kg, lift=lift, athlete_id=who, reason=reason)
    return Call("PATCH", f"/v1/sets/{part(set_id)}", SetResult.read, body=json_body(told), wait_s=30.0)


def correct_rep(
    set_id: str, index: int, *, outcome: str | None = None, excluded: bool | None = None, reason: str | None = None
) -> Call[SetResult]:
    """Say how a rep ended (made, failed, partial), or that it is not to count; the analysis's own stays beside it."""
    told = without_none(outcome=outcome, excluded=excluded, reason=reason)
    return Call("PATCH", f"/v1/sets/{part(set_id)}/reps/{index}", SetResult.read, body=json_body(told))


def club() -> Call[Json]:
    """What the club told of itself: time zone, bars, plates, limits, zones."""
    return Call("GET", "/v1/club", document_of)


def change_club(**told: Any) -> Call[Json]:
    """Change what the club tells of itself, such as time_zone="Europe/Vienna", step_kg=2.5; the rest stays."""
    return Call("PATCH", "/v1/club", document_of, body=json_body(told))


def rep_max(load_kg: float, reps: int, *, lift: str | None = None) -> Call[Json]:
    """The maximum from repetitions to failure by five published formulas, side by side."""
    return Call("GET", "/v1/rep_max", document_of, query(load=f"{load_kg:g}", reps=str(reps), lift=lift))


def _decide(athlete: Athlete | str, on: date | None, **told: Any) -> Call[Json]:
    day = {} if on is None else {"on": on.isoformat()}
    return Call("POST", f"{_of(athlete)}/decisions", document_of, body=json_body({**told, **day}), key=new_key())


def _of(athlete: Athlete | str) -> str:
    return f"/v1/athletes/{part(id_of(athlete))}"


def _on(on: date | None) -> dict[str, str]:
    return query(on=None if on is None else on.isoformat())
