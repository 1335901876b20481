"""A drill given to an athlete on a day, and what became of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.technique.limits import limits_for
from barwright.storage.prescriptions import NewPrescription, Prescription, PrescriptionStore
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.days import day_asked
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts
from barwright.workflows.review_technique import EarlierDrill, earlier_drill, review_technique
from barwright.workflows.technique_data import gather
from barwright.workflows.tell_maxima import athlete_of


@dataclass(frozen=True, slots=True)
class ToldPrescription:
    """What the coach tells. fault, drill None: those advised. on None: today. load_kg None: none was told."""

    lift: str
    fault: str | None = None
    drill: str | None = None
    on: date | None = None
    load_kg: float | None = None
    sets: int | None = None
    reps: int | None = None
    reason: str | None = None


def prescribe(
    parts: Parts,
    caller: Caller,
    athlete_id: str,
    told: ToldPrescription,
    retry: Retry | None,
    answer: Callable[[EarlierDrill], bytes],
) -> bytes:
    """Gives a drill. Another than the advised one needs a reason, which is kept. Raises Cannot."""
    data = gather(parts, caller, athlete_id, told.lift)
    day = day_asked(parts, data.settings, told.on, "/on")
    technique = review_technique(parts, caller, athlete_id, told.lift)
    advice = technique.advice
    fault = told.fault or (advice.fault.code if advice else None)
    if fault is None:
        raise Cannot(
            "nothing-advised",
            f"No fault of the {data.lift.title.lower()} is seen now, so none can be taken from the advice; name the "
            "`fault` the drill is for.",
            "/fault",
        )
    if fault not in [limit.code for limit in limits_for(data.lift)]:
        known = ", ".join(limit.code for limit in limits_for(data.lift)) or "none"
        raise Cannot("not-plausible", f"{fault!r} is no fault of this lift; {known} are.", "/fault")
    advised = advice.main.drill.code if advice and advice.main and advice.fault.code == fault else None
    drill = told.drill or advised
    if drill is None:
        raise Cannot("nothing-advised", "No drill is advised for this fault now; name the `drill` to give.", "/drill")
    if drill not in data.catalogue.drills:
        raise not_found("drill", drill, "/drill")
    if data.catalogue.drills[drill].forbidden:
        raise Cannot("drill-forbidden", f"The club forbids {drill!r}; allow it first, or give another.", "/drill")
    if advised is not None and drill != advised and not told.reason:
        raise Cannot(
            "reason-needed",
            f"{advised!r} is advised here; giving {drill!r} instead needs a `reason`, which is kept.",
            "/reason",
        )
    main = advice.main if advice and advice.main and advice.main.drill.code == drill else None
    found = data.catalogue.drills[drill]
    new = NewPrescription(
        told.lift,
        fault,
        drill,
        day,
        told.load_kg if told.load_kg is not None else (main.load.value if main else None),
        told.sets or (main.sets if main else found.sets[0]),
        told.reps or (main.reps if main else found.reps[0]),
        advised if advised != drill else None,
        told.reason,
        technique.load_kg,
    )

    def keep(session: Session) -> EarlierDrill:
        athlete_of(session, caller, athlete_id)
        made = PrescriptionStore(session, caller.club_id).create(athlete_id, new, parts.now())
        return earlier_drill(data, limits_for(data.lift), made)

    return create_once(parts, caller, retry, keep, answer)


def list_prescriptions(
    parts: Parts, caller: Caller, athlete_id: str, after: tuple[datetime, str] | None, limit: int
) -> list[EarlierDrill]:
    """Drills given to an athlete with what became of them, the latest first."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        found = PrescriptionStore(session, caller.club_id).page(athlete_id, after, limit)
    return _with_responses(parts, caller, athlete_id, found)


def read_prescription(parts: Parts, caller: Caller, athlete_id: str, prescription_id: str) -> EarlierDrill:
    """One drill that was given. Raises Cannot."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        found = PrescriptionStore(session, caller.club_id).get(athlete_id, prescription_id)
    if found is None:
        raise not_found("prescription", prescription_id)
    return _with_responses(parts, caller, athlete_id, [found])[0]


def end_prescription(
    parts: Parts, caller: Caller, athlete_id: str, prescription_id: str, on: date | None
) -> EarlierDrill:
    """The drill is done no longer. Raises Cannot."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        before = PrescriptionStore(session, caller.club_id).get(athlete_id, prescription_id)
    if before is None:
        raise not_found("prescription", prescription_id)
    data = gather(parts, caller, athlete_id, before.told.lift)
    day = day_asked(parts, data.settings, on, "/ended_on")
    if day < before.told.given_on:
        raise Cannot(
            "not-plausible", f"It was given on {before.told.given_on}; a day from then on is right.", "/ended_on"
        )
    with parts.database.writing(caller.club_id) as session:
        ended = PrescriptionStore(session, caller.club_id).end(athlete_id, prescription_id, day)
    if ended is None:
        raise not_found("prescription", prescription_id)
    return earlier_drill(data, limits_for(data.lift), ended)


def _with_responses(parts: Parts, caller: Caller, athlete_id: str, found: list[Prescription]) -> list[EarlierDrill]:
    lifts = {one.told.lift: gather(parts, caller, athlete_id, one.told.lift) for one in found}
    return [earlier_drill(lifts[one.told.lift], limits_for(lifts[one.told.lift].lift), one) for one in found]
