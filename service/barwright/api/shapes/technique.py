"""Technique on the wire: phases, faults, lost lifts, comparisons, the review list."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

from pydantic import Field

from barwright.analysis.technique.catalogue import CAUTIONS
from barwright.analysis.technique.compare import Band, Style
from barwright.analysis.technique.faults import Fault
from barwright.analysis.technique.seen import SeenRep
from barwright.api.shapes.base import Answer, IdText, Told
from barwright.api.shapes.drills import AdviceAnswer, PrescriptionAnswer
from barwright.api.shapes.sets import Figure
from barwright.workflows.compare_lifts import ComparedLift, Comparison
from barwright.workflows.review_list import Waiting
from barwright.workflows.review_technique import LostLift, Technique


class RepSeen(Answer):
    """A rep by its set and index."""

    set_id: str
    index: int
    at: datetime
    load_kg: float
    outcome: str

    @classmethod
    def of(cls, rep: SeenRep) -> RepSeen:
        """From a rep technique looked at."""
        return cls(set_id=rep.set_id, index=rep.index, at=rep.at, load_kg=rep.load_kg, outcome=rep.outcome)


class PhaseLength(Answer):
    """A phase over the judged reps: its mean length, the least sure of them, in how many it was told apart."""

    phase: str
    length: Figure
    sure: float
    reps: int


class FaultAnswer(Answer):
    """A phase that strays. sure: probability that these lifts are beyond the limit on the whole."""

    code: str
    phase: str
    measure: str
    title: str
    says: str
    size: Figure = Field(description="median over the reps")
    reference: Figure | None = Field(description="the athlete's own usual; null against a wide limit")
    limit: float = Field(description="in the unit of size")
    against: str = Field(description="own: own good lifts at a like load; wide: the trade's wide limit")
    source: str
    sure: float
    in_reps: int
    of_reps: int
    echo_of: str | None = Field(description="code of the earlier fault it is likely an echo of")

    @classmethod
    def of(cls, fault: Fault) -> FaultAnswer:
        """From the analysis."""
        return cls(
            code=fault.code,
            phase=fault.phase,
            measure=fault.measure,
            title=fault.title,
            says=fault.says,
            size=Figure.of(fault.size),
            reference=None if fault.reference is None else Figure.of(fault.reference),
            limit=fault.limit,
            against=fault.against,
            source=fault.source,
            sure=fault.sure,
            in_reps=fault.in_reps,
            of_reps=fault.of_reps,
            echo_of=fault.echo_of,
        )


class NotJudgedAnswer(Answer):
    """A symptom nothing can be said of, and why."""

    code: str
    phase: str
    measure: str
    why: str


class StyleAnswer(Answer):
    """How the last judged path goes about the vertical through its start. Never a grade."""

    crossings: list[str]
    letter: str = Field(description="A, B, C or other; see docs/technique.md")
    words: str

    @classmethod
    def of(cls, style: Style) -> StyleAnswer:
        """From the analysis."""
        return cls(crossings=list(style.crossings), letter=style.letter, words=style.words)


class LostAnswer(Answer):
    """A failed rep. way: forward, behind, not_enough_height or not_told."""

    set_id: str
    index: int
    at: datetime
    load_kg: float
    way: str
    words: str

    @classmethod
    def of(cls, lost: LostLift) -> LostAnswer:
        """From the analysis."""
        return cls(
            set_id=lost.set_id,
            index=lost.index,
            at=lost.at,
            load_kg=lost.load_kg,
            way=lost.miss.way,
            words=lost.miss.words,
        )


class TechniqueAnswer(Answer):
    """One lift of one athlete: faults the earliest first, one main drill for the first of them, earlier drills."""

    athlete_id: str
    lift: str
    on: date
    load_kg: float | None = Field(description="load of the judged reps; null without any")
    reps: list[RepSeen] = Field(description="the comparable reps that were judged, the oldest first")
    own_lifts: int = Field(description="own good lifts at a like load they were held against")
    phases: list[PhaseLength]
    faults: list[FaultAnswer] = Field(description="the earliest first")
    not_judged: list[NotJudgedAnswer]
    style: StyleAnswer | None
    lost: list[LostAnswer] = Field(description="the last failed reps, the latest first")
    advice: AdviceAnswer | None
    earlier_drills: list[PrescriptionAnswer] = Field(description="the oldest first")
    words: list[str]
    cautions: list[str]

    @classmethod
    def of(cls, found: Technique) -> TechniqueAnswer:
        """From the workflow."""
        findings = found.findings
        return cls(
            athlete_id=found.athlete_id,
            lift=found.lift,
            on=found.on,
            load_kg=found.load_kg,
            reps=[RepSeen.of(rep) for rep in findings.recent],
            own_lifts=len(findings.own),
            phases=[
                PhaseLength(phase=p.phase, length=Figure.of(p.length), sure=p.sure, reps=p.reps) for p in found.phases
            ],
            faults=[FaultAnswer.of(fault) for fault in findings.faults],
            not_judged=[
                NotJudgedAnswer(code=n.code, phase=n.phase, measure=n.measure, why=n.why) for n in findings.not_judged
            ],
            style=None if found.style is None else StyleAnswer.of(found.style),
            lost=[LostAnswer.of(lost) for lost in found.lost],
            advice=None if found.advice is None else AdviceAnswer.of(found.advice, found.given),
            earlier_drills=[PrescriptionAnswer.of(one) for one in found.earlier],
            words=list(findings.words),
            cautions=list(CAUTIONS),
        )


class ComparedAnswer(Answer):
    """One of two lifts; columns on even steps since lift-off, x_m and u_x null without fore-aft motion."""

    rep: RepSeen
    t_s: list[float]
    z_m: list[float]
    vz: list[float]
    u_z: list[float]
    x_m: list[float] | None
    u_x: list[float] | None
    style: StyleAnswer | None

    @classmethod
    def of(cls, one: ComparedLift) -> ComparedAnswer:
        """From the workflow."""
        path = one.path
        return cls(
            rep=RepSeen.of(one.rep),
            t_s=path.t_s.round(4).tolist(),
            z_m=path.z_m.tolist(),
            vz=path.vz.tolist(),
            u_z=path.u_z.tolist(),
            x_m=None if path.x_m is None else path.x_m.tolist(),
            u_x=None if path.u_x is None else path.u_x.tolist(),
            style=None if one.style is None else StyleAnswer.of(one.style),
        )


class BandAnswer(Answer):
    """Middle and sd of the last good lifts at each moment since lift-off."""

    count: int
    t_s: list[float]
    z_m: list[float]
    z_sd: list[float]
    x_m: list[float] | None
    x_sd: list[float] | None

    @classmethod
    def of(cls, band: Band) -> BandAnswer:
        """From the analysis."""
        return cls(
            count=band.count,
            t_s=band.t_s.round(4).tolist(),
            z_m=band.z_m.tolist(),
            z_sd=band.z_sd.tolist(),
            x_m=None if band.x_m is None else band.x_m.tolist(),
            x_sd=None if band.x_sd is None else band.x_sd.tolist(),
        )


class ComparisonAnswer(Answer):
    """Two lifts aligned at lift-off; changes are second less first."""

    first: ComparedAnswer
    second: ComparedAnswer
    changes: dict[str, Figure]
    band: BandAnswer | None
    forward_known: bool

    @classmethod
    def of(cls, found: Comparison) -> ComparisonAnswer:
        """From the workflow."""
        return cls(
            first=ComparedAnswer.of(found.first),
            second=ComparedAnswer.of(found.second),
            changes={name: Figure.of(figure) for name, figure in found.changes.items()},
            band=None if found.band is None else BandAnswer.of(found.band),
            forward_known=found.forward_known,
        )


class WaitingAnswer(Answer):
    """A set nobody has looked at; the greater its worry the sooner it should be."""

    set_id: str
    athlete_id: str
    athlete: str
    lift: str
    load_kg: float
    started_at: datetime
    state: str
    reps: int
    made: int
    worry: float
    reasons: list[str]
    faults: list[FaultAnswer]

    @classmethod
    def of(cls, one: Waiting) -> WaitingAnswer:
        """From the workflow."""
        found = one.lift_set
        return cls(
            set_id=found.id,
            athlete_id=found.athlete_id,
            athlete=found.athlete_name,
            lift=found.lift,
            load_kg=found.load_kg,
            started_at=found.started_at,
            state=found.state,
            reps=len(found.reps),
            made=sum(rep.outcome == "made" for rep in found.reps),
            worry=round(one.worry, 3),
            reasons=list(one.reasons),
            faults=[FaultAnswer.of(fault) for fault in one.faults],
        )


class ReviewPage(Answer):
    """Sets to look at, the most worrying first; next is always null."""

    items: list[WaitingAnswer]
    next: str | None


class LookedAt(Told):
    """Sets that were looked at."""

    set_ids: Annotated[list[IdText], Field(min_length=1, max_length=200)]


class Remote(Told):
    """Whether an athlete's sets are put up for review."""

    remote: bool


class RemoteAnswer(Answer):
    """Whether an athlete's sets are put up for review."""

    athlete_id: str
    remote: bool
