"""Drills on the wire: the catalogue, advice, prescriptions and what became of them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from barwright.analysis.technique.catalogue import CAUTIONS, Drill
from barwright.analysis.technique.drills import Advice, DrillAdvice
from barwright.analysis.technique.response import DrillResponse
from barwright.api.shapes.base import Answer, IdText, Name, Number, Told, Whole
from barwright.api.shapes.sets import Figure
from barwright.workflows.prescribe import ToldPrescription
from barwright.workflows.review_technique import EarlierDrill

Code = Annotated[str, Field(min_length=2, max_length=64, pattern="^[a-z][a-z0-9_]*$")]
Percent = Annotated[Number, Field(ge=5, le=150)]
Count = Annotated[Whole, Field(ge=1, le=20)]
Words = Annotated[str, Field(min_length=1, max_length=1000)]


class DrillAnswer(Answer):
    """One drill. percent, beginner: of the maximum of the lift `of`; own_max: its own maximum over that one's."""

    code: str
    title: str
    of: str = Field(description="lift whose maximum the percentages are of")
    percent: tuple[float, float]
    beginner: float = Field(description="ceiling in percent for novices and minors")
    own_max: float
    sets: tuple[int, int]
    reps: tuple[int, int]
    primer: bool = Field(description="done light, before the main drill")
    record_as: str | None = Field(description="lift it is recorded as")
    form: str
    why: str
    caution: str | None
    source: str
    faults: list[str] = Field(description="codes of the faults it is tried for")
    forbidden: bool
    own: bool = Field(description="added or changed by the club")

    @classmethod
    def of_drill(cls, drill: Drill) -> DrillAnswer:
        """From the catalogue."""
        return cls(
            code=drill.code,
            title=drill.title,
            of=drill.of,
            percent=drill.percent,
            beginner=drill.beginner,
            own_max=drill.own_max,
            sets=drill.sets,
            reps=drill.reps,
            primer=drill.primer,
            record_as=drill.record_as,
            form=drill.form,
            why=drill.why,
            caution=drill.caution,
            source=drill.source,
            faults=list(drill.faults),
            forbidden=drill.forbidden,
            own=drill.own,
        )


class DrillPage(Answer):
    """All drills; next is always null."""

    items: list[DrillAnswer]
    next: str | None
    cautions: list[str]


def _rising(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] > pair[1]:
        raise ValueError("the first must not be above the second.")
    return pair


PercentRange = Annotated[tuple[Percent, Percent], AfterValidator(_rising)]
CountRange = Annotated[tuple[Count, Count], AfterValidator(_rising)]


class DrillChanges(Told):
    """What is to change of a drill for this club; what is left out stays."""

    title: Name | None = None
    percent: PercentRange | None = None
    beginner: Percent | None = None
    sets: CountRange | None = None
    reps: CountRange | None = None
    form: Words | None = None
    why: Words | None = None
    caution: Words | None = None
    faults: list[IdText] | None = Field(default=None, max_length=40)
    forbidden: bool | None = None

    def changes(self) -> dict[str, Any]:
        """Members that were told, as plain JSON values."""
        told = self.model_dump(mode="json", exclude_unset=True)
        return {name: value for name, value in told.items() if value is not None}


class NewDrill(Told):
    """A drill of the club's own."""

    code: Code
    title: Name
    of: Annotated[str, Field(pattern="^(snatch|clean|jerk)$")] = Field(description="snatch, clean or jerk")
    percent: PercentRange
    beginner: Percent
    sets: CountRange
    reps: CountRange
    form: Words
    why: Words
    caution: Words | None = None
    primer: bool = False
    faults: list[IdText] = Field(default_factory=list, max_length=40)

    def facts(self) -> dict[str, Any]:
        """Everything but the code, as plain JSON values."""
        told = self.model_dump(mode="json", exclude={"code"})
        ceiling = min(told["beginner"], told["percent"][1])
        return {**told, "beginner": ceiling, "source": "the club's own"}


class DrillAdviceAnswer(Answer):
    """A drill with its load for today; at_most_kg is its ceiling for this lifter, caps what held it down."""

    drill: str
    title: str
    percent: tuple[float, float]
    of: str
    load: Figure
    at_most_kg: float | None
    sets: int
    reps: int
    because: str
    caps: list[str]
    caution: str | None

    @classmethod
    def of_advice(cls, advice: DrillAdvice) -> DrillAdviceAnswer:
        """From the choice."""
        return cls(
            drill=advice.drill.code,
            title=advice.drill.title,
            percent=advice.percent,
            of=advice.drill.of,
            load=Figure.of(advice.load),
            at_most_kg=advice.at_most_kg,
            sets=advice.sets,
            reps=advice.reps,
            because=advice.because,
            caps=list(advice.caps),
            caution=advice.drill.caution,
        )


class ResponseAnswer(Answer):
    """What became of the fault: helped, no change seen, got worse or too early; change is after less before."""

    response: str
    before: Figure | None
    after: Figure | None
    change: Figure | None
    low: float | None = Field(description="95 % interval of the change")
    high: float | None
    better: float | None = Field(description="probability that the fault is smaller")
    sessions_before: int
    sessions_after: int
    swap: bool = Field(description="three weeks without a response: the next drill is due")
    words: str

    @classmethod
    def of(cls, found: DrillResponse) -> ResponseAnswer:
        """From the analysis."""
        return cls(
            response=found.response.value,
            before=None if found.before is None else Figure.of(found.before),
            after=None if found.after is None else Figure.of(found.after),
            change=None if found.change is None else Figure.of(found.change),
            low=found.low,
            high=found.high,
            better=found.better,
            sessions_before=found.sessions_before,
            sessions_after=found.sessions_after,
            swap=found.swap,
            words=found.words,
        )


class NewPrescriptionTold(Told):
    """A drill to give. Without `drill` and `fault` the advice is taken; another drill than advised needs a reason."""

    lift: IdText
    fault: IdText | None = None
    drill: IdText | None = None
    on: date | None = Field(default=None, description="today when left out")
    load_kg: Annotated[Number, Field(gt=0, le=600)] | None = None
    sets: Count | None = None
    reps: Count | None = None
    reason: Words | None = None

    def told(self) -> ToldPrescription:
        """For the workflow."""
        return ToldPrescription(**self.model_dump())


class PrescriptionEnd(Told):
    """The last day of a drill."""

    ended_on: date | None = Field(default=None, description="today when left out")


class PrescriptionAnswer(Answer):
    """A drill that was given. advised and reason: which drill was advised instead, and why it was not given."""

    id: str
    athlete_id: str
    lift: str
    fault: str
    fault_title: str | None
    drill: str
    drill_title: str | None
    given_on: date
    ended_on: date | None
    load_kg: float | None
    sets: int
    reps: int
    advised: str | None
    reason: str | None
    response: ResponseAnswer | None
    created_at: datetime
    cautions: list[str]

    @classmethod
    def of(cls, one: EarlierDrill) -> PrescriptionAnswer:
        """From what is kept and what became of it."""
        kept, told = one.prescription, one.prescription.told
        return cls(
            id=kept.id,
            athlete_id=kept.athlete_id,
            lift=told.lift,
            fault=told.fault,
            fault_title=one.fault_title,
            drill=told.drill,
            drill_title=one.drill_title,
            given_on=told.given_on,
            ended_on=kept.ended_on,
            load_kg=told.load_kg,
            sets=told.sets,
            reps=told.reps,
            advised=told.advised,
            reason=told.reason,
            response=None if one.response is None else ResponseAnswer.of(one.response),
            created_at=kept.created_at,
            cautions=list(CAUTIONS),
        )


class PrescriptionPage(Answer):
    """Drills that were given, the latest first."""

    items: list[PrescriptionAnswer]
    next: str | None


class AdviceAnswer(Answer):
    """One primer and one main drill for the earliest fault. others: what is tried after the main one."""

    fault: str
    main: DrillAdviceAnswer | None
    primer: DrillAdviceAnswer | None
    others: list[str]
    given: str | None = Field(description="id of the prescription the main drill comes from; null when only advised")
    given_reason: str | None = Field(description="why the coach gave it instead of what was advised")
    words: list[str]
    cautions: list[str]

    @classmethod
    def of(cls, advice: Advice, given: Any) -> AdviceAnswer:
        """From the choice and the open prescription, if there is one."""
        return cls(
            fault=advice.fault.code,
            main=None if advice.main is None else DrillAdviceAnswer.of_advice(advice.main),
            primer=None if advice.primer is None else DrillAdviceAnswer.of_advice(advice.primer),
            others=list(advice.others),
            given=None if given is None else given.id,
            given_reason=None if given is None else given.told.reason,
            words=list(advice.words),
            cautions=list(advice.cautions),
        )
