"""Which phase leaks first, the drill for it, and what became of earlier drills."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.quantities.chances import in_percent
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.technique.drills import DrillAdvice
from barwright.analysis.technique.faults import Fault
from barwright.analysis.technique.response import Response, Session
from barwright.coach.charts.drawing import Chart
from barwright.coach.charts.over_days import ShareOn, response_chart
from barwright.coach.numbers import Display, counted, day_words, figure
from barwright.coach.words import Tag, phase_title
from barwright.workflows.review_technique import EarlierDrill, Technique

_RESPONSES = {
    Response.HELPED: Tag("✓", "Helped", "is-good"),
    Response.NO_CHANGE: Tag("●", "No change seen", "is-plain"),
    Response.WORSE: Tag("✕", "Got worse", "is-bad"),
    Response.TOO_EARLY: Tag("…", "Too early to tell", "is-plain"),
}
_SHOWN = {"m": ("cm", 100.0), "m/s": ("m/s", 1.0), "s": ("s", 1.0), "rad": ("°", 57.29577951308232)}


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault that is seen. echo: it may well be the echo of an earlier one."""

    title: str
    phase: str
    says: str
    size: str
    limit: str
    where: str
    sure: str
    echo: bool


@dataclass(frozen=True, slots=True)
class DrillRow:
    """A drill with its load."""

    title: str
    how: str
    load: str
    times: str
    because: str
    caps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EarlierRow:
    """A drill that was given."""

    title: str
    fault: str
    given: str
    tag: Tag
    words: str


@dataclass(frozen=True, slots=True)
class TechniqueView:
    """The whole block. judged: whether there was a lift to judge.

    fault_code and drill_code go with the form that gives the drill; empty when one is given.
    """

    first: FaultRow | None
    later: tuple[FaultRow, ...]
    judged: bool
    seen: str
    style: str
    main: DrillRow | None
    primer: DrillRow | None
    given: str
    fault_code: str
    drill_code: str
    cautions: tuple[str, ...]
    words: tuple[str, ...]
    lost: tuple[str, ...]
    earlier: tuple[EarlierRow, ...]
    chart: Chart | None


@dataclass(frozen=True, slots=True)
class SessionsAround:
    """Sessions of a fault's measure around the newest drill given for it; limit's unit is SI."""

    earlier: EarlierDrill
    sessions: tuple[Session, ...]
    unit: str


def technique_view(found: Technique, around: SessionsAround | None, display: Display) -> TechniqueView:
    """Of one lift of one athlete."""
    faults = found.findings.faults
    advice = found.advice
    given = found.given is not None
    main = advice.main if advice is not None else None
    return TechniqueView(
        first=_fault(faults[0]) if faults else None,
        later=tuple(_fault(one) for one in faults[1:]),
        judged=bool(found.findings.recent),
        seen=_seen(found, display),
        style="" if found.style is None else found.style.words,
        main=None if main is None else _drill(main, display),
        primer=None if advice is None or advice.primer is None else _drill(advice.primer, display),
        given="" if found.given is None else f"given {day_words(found.given.told.given_on)}",
        fault_code="" if given or not faults else faults[0].code,
        drill_code="" if given or main is None else main.drill.code,
        cautions=() if advice is None else advice.cautions,
        words=(() if advice is None else advice.words) + found.findings.words,
        lost=tuple(f"{display.weight(one.load_kg)}, {display.day(one.at)}: {one.miss.words}" for one in found.lost),
        earlier=tuple(_earlier(one) for one in reversed(found.earlier)),
        chart=None if around is None else _chart(around),
    )


def _seen(found: Technique, display: Display) -> str:
    recent = found.findings.recent
    if not recent:
        return ""  # the findings' own words say so
    own = len(found.findings.own)
    against = f" against {counted(own, 'own good lift')}" if own else ""
    return f"Judged on {counted(len(recent), 'lift')} about {display.weight(found.load_kg)}{against}."


def _fault(one: Fault) -> FaultRow:
    unit = one.size.unit
    limit = figure(Estimate(one.limit, 0.0, unit)).split(" ±")[0] + f" {_SHOWN.get(unit, (unit, 1.0))[0]}"
    own = "own good lifts" if one.against == "own" else "the wide limit of the trade"
    return FaultRow(
        title=one.title,
        phase=phase_title(one.phase),
        says=one.says,
        size=figure(one.size),
        limit=f"limit {limit}, from {own}",
        where=f"in {one.in_reps} of {one.of_reps} lifts",
        sure=f"{in_percent(one.sure)} sure",
        echo=one.echo_of is not None,
    )


def _drill(one: DrillAdvice, display: Display) -> DrillRow:
    low, high = one.percent
    share = f"{low:.0f} to {high:.0f} %" if high - low >= 1 else f"{low:.0f} %"
    load = display.weight(one.load.value, 1) if one.load.value is not None else share
    return DrillRow(one.drill.title, one.drill.form, load, f"{one.sets} × {one.reps}", one.because, one.caps)


def _earlier(one: EarlierDrill) -> EarlierRow:
    told = one.prescription.told
    response = one.response
    return EarlierRow(
        title=one.drill_title or told.drill,
        fault=one.fault_title or told.fault,
        given=day_words(told.given_on),
        tag=_RESPONSES[response.response if response is not None else Response.TOO_EARLY],
        words="" if response is None else response.words,
    )


def _chart(around: SessionsAround) -> Chart | None:
    told = around.earlier.prescription.told
    unit, factor = _SHOWN.get(around.unit, (around.unit, 1.0))
    drawn = [ShareOn(one.day, factor * one.value, factor * one.u) for one in around.sessions]
    before = [one for one in drawn if one.day <= told.given_on]
    after = [one for one in drawn if one.day > told.given_on]
    words = around.earlier.response.words if around.earlier.response is not None else ""
    title = around.earlier.fault_title or told.fault
    return response_chart(before, after, told.given_on, title, unit, words, "response")


def newest_with_sessions(earlier: Sequence[EarlierDrill]) -> EarlierDrill | None:
    """The drill given last whose response can be drawn."""
    return next((one for one in reversed(earlier) if one.response is not None), None)
