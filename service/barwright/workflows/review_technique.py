"""Which phase leaks first, which drill mends it, and did earlier ones help: one lift of one athlete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np

from barwright.access.caller import Caller
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.results import Phase
from barwright.analysis.technique.catalogue import Try
from barwright.analysis.technique.compare import Style, style_of
from barwright.analysis.technique.drills import Advice, DrillAdvice, advise, choose_drills
from barwright.analysis.technique.faults import Asked, Fault, Findings, find_faults
from barwright.analysis.technique.limits import PathLimit, limits_for
from barwright.analysis.technique.misses import Miss, how_lost
from barwright.analysis.technique.response import DrillResponse, Response, response_to, sessions_of
from barwright.analysis.technique.seen import SeenRep, alike, in_order
from barwright.storage.prescriptions import Prescription
from barwright.storage.sets import SetStore
from barwright.workflows.drill_loads import on_the_bar
from barwright.workflows.parts import Parts
from barwright.workflows.technique_data import TechniqueData, first_moment, gather, lifter_of

FEW_MISSES = 5


@dataclass(frozen=True, slots=True)
class PhaseSeen:
    """A phase over the judged reps: its mean length in s, how sure, and in how many of them it was told apart."""

    phase: str
    length: Estimate
    sure: float
    reps: int


@dataclass(frozen=True, slots=True)
class LostLift:
    """One failed rep and how it was lost."""

    set_id: str
    index: int
    at: datetime
    load_kg: float
    miss: Miss


@dataclass(frozen=True, slots=True)
class EarlierDrill:
    """A drill that was given, and what became of its fault. fault_title: None for a fault no longer known."""

    prescription: Prescription
    drill_title: str | None
    fault_title: str | None
    response: DrillResponse | None


@dataclass(frozen=True, slots=True)
class Technique:
    """The whole answer. given: the open prescription for the earliest fault, which takes the place of the advice."""

    athlete_id: str
    lift: str
    on: date
    load_kg: float | None
    phases: tuple[PhaseSeen, ...]
    findings: Findings
    style: Style | None
    lost: tuple[LostLift, ...]
    advice: Advice | None
    given: Prescription | None
    earlier: tuple[EarlierDrill, ...]


def review_technique(parts: Parts, caller: Caller, athlete_id: str, lift: str) -> Technique:
    """Phases, faults, advice and earlier drills. Raises Cannot."""
    data = gather(parts, caller, athlete_id, lift)
    limits = limits_for(data.lift)
    earlier = tuple(earlier_drill(data, limits, one) for one in data.prescriptions)
    asked = Asked(data.athlete.facts.stature_m, kept_until(earlier))
    findings = find_faults(data.reps, limits, asked)
    advice, given = advice_for(parts, caller, data, findings.faults, earlier)
    return Technique(
        athlete_id,
        lift,
        data.today,
        findings.recent[-1].load_kg if findings.recent else None,
        _phases(data, findings.recent),
        findings,
        _style(parts, caller, findings.recent),
        _lost(data),
        advice,
        given,
        earlier,
    )


def earlier_drill(data: TechniqueData, limits: Sequence[PathLimit], one: Prescription) -> EarlierDrill:
    """A prescription with the response to it."""
    limit = next((limit for limit in limits if limit.code == one.told.fault), None)
    drill = data.catalogue.drills.get(one.told.drill)
    response = None
    if limit is not None:
        load = one.told.against_kg or _load_before(data.reps, one.told.given_on)
        if load is not None:
            sessions = sessions_of(data.reps, limit, load)
            response = response_to(sessions, limit, one.told.given_on, data.today)
    title = None if drill is None else drill.title
    return EarlierDrill(one, title, None if limit is None else limit.title, response)


def kept_until(earlier: Sequence[EarlierDrill]) -> dict[str, datetime]:
    """For faults with a drill and no response yet: own good lifts count until the first drill was given."""
    latest: dict[str, EarlierDrill] = {one.prescription.told.fault: one for one in earlier}
    out: dict[str, datetime] = {}
    for one in earlier:
        told, last = one.prescription.told, latest[one.prescription.told.fault]
        helped = last.response is not None and last.response.response is Response.HELPED
        if not helped and told.fault not in out:
            out[told.fault] = first_moment(told.given_on)
    return out


def advice_for(
    parts: Parts, caller: Caller, data: TechniqueData, faults: tuple[Fault, ...], earlier: Sequence[EarlierDrill]
) -> tuple[Advice | None, Prescription | None]:
    """Advice for the earliest fault, and the open prescription for it where there is one."""
    if not faults:
        return None, None
    code = faults[0].code
    mine = [one for one in earlier if one.prescription.told.fault == code]
    spent = {one.prescription.told.drill for one in mine if one.response is not None and one.response.swap}
    given = next(
        (
            one.prescription
            for one in reversed(mine)
            if one.prescription.ended_on is None and one.prescription.told.drill not in spent
        ),
        None,
    )
    of = {data.catalogue.drills[t.drill].of for t in data.catalogue.tries.get(code, ())}
    if given is not None and given.told.drill in data.catalogue.drills:
        of.add(data.catalogue.drills[given.told.drill].of)
    lifter = lifter_of(parts, caller, data, of)
    advice = choose_drills(faults, data.catalogue, lifter, spent)
    if advice is None:
        return None, None
    if given is not None and given.told.drill in data.catalogue.drills:
        drill = data.catalogue.drills[given.told.drill]
        what = Try(drill.code, drill.percent, given.told.sets, given.told.reps)
        known = next((t for t in data.catalogue.tries.get(code, ()) if t.drill == drill.code), what)
        main = advise(drill, replace(known, sets=given.told.sets, reps=given.told.reps), faults[0], lifter)
        advice = replace(advice, main=main, others=tuple(o for o in advice.others if o != drill.code))
    sex = data.athlete.facts.sex
    return replace(advice, main=_rounded(data, advice.main, sex), primer=_rounded(data, advice.primer, sex)), given


def _rounded(data: TechniqueData, advice: DrillAdvice | None, sex: str | None) -> DrillAdvice | None:
    return None if advice is None else on_the_bar(data.settings, advice, sex)


def _load_before(reps: Sequence[SeenRep], day: date) -> float | None:
    before = [rep for rep in in_order(reps) if rep.made and rep.at.date() <= day]
    return before[-1].load_kg if before else None


def _phases(data: TechniqueData, recent: Sequence[SeenRep]) -> tuple[PhaseSeen, ...]:
    wanted = {(rep.set_id, rep.index) for rep in recent}
    found: dict[str, list[Phase]] = {}
    for one in data.sets:
        for rep in one.reps:
            if (one.id, rep.index) in wanted:
                for phase in rep.phases:
                    found.setdefault(phase.phase, []).append(phase)
    return tuple(_phase_seen(name, each) for name, each in found.items())


def _phase_seen(name: str, each: Sequence[Phase]) -> PhaseSeen:
    lengths = [one.stop_s - one.start_s for one in each]
    u = [float(np.hypot(one.start_u_s or 0.0, one.stop_u_s or 0.0)) for one in each]
    spread = float(np.std(lengths, ddof=1)) / len(lengths) ** 0.5 if len(lengths) > 1 else 0.0
    length = Estimate(float(np.mean(lengths)), float(np.hypot(np.mean(u), spread)), "s")
    return PhaseSeen(name, length, min(one.sure for one in each), len(each))


def _style(parts: Parts, caller: Caller, recent: Sequence[SeenRep]) -> Style | None:
    if not recent or not recent[-1].forward_known:
        return None
    with parts.database.reading() as session:
        path = SetStore(session, caller.club_id).path(recent[-1].set_id, recent[-1].index)
    return None if path is None else style_of(path)


def _lost(data: TechniqueData) -> tuple[LostLift, ...]:
    failed = [rep for rep in in_order(data.reps) if rep.outcome == "failed"][-FEW_MISSES:]
    out = []
    for rep in reversed(failed):
        peaks = [
            float(other.figures["peak_velocity"].value)
            for other in data.reps
            if other.made
            and alike(other.load_kg, rep.load_kg)
            and "peak_velocity" in other.figures
            and other.figures["peak_velocity"].value is not None
        ]
        usual = float(np.median(peaks)) if len(peaks) >= 3 else None
        out.append(LostLift(rep.set_id, rep.index, rep.at, rep.load_kg, how_lost(rep, usual)))
    return tuple(out)
