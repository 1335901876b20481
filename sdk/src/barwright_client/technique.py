"""What technique answers, as frozen dataclasses: faults, drills, responses, comparisons, the review list."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from barwright_client.figures import Figure, figure

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Fault:
    """A phase that strays. limit: in the unit of size. against: own (own good lifts) or wide. sure: a probability.

    echo_of: code of the earlier fault it is likely an echo of; None for the earliest.
    """

    code: str
    phase: str
    measure: str
    title: str
    says: str
    size: Figure
    reference: Figure | None
    limit: float
    against: str
    source: str
    sure: float
    in_reps: int
    of_reps: int
    echo_of: str | None

    @classmethod
    def read(cls, document: Json) -> Fault:
        """From the service's JSON."""
        return cls(
            code=document["code"],
            phase=document["phase"],
            measure=document["measure"],
            title=document["title"],
            says=document["says"],
            size=figure(document["size"]),
            reference=_figure(document.get("reference")),
            limit=document["limit"],
            against=document["against"],
            source=document["source"],
            sure=document["sure"],
            in_reps=document["in_reps"],
            of_reps=document["of_reps"],
            echo_of=document.get("echo_of"),
        )


@dataclass(frozen=True, slots=True)
class DrillAdvice:
    """A drill with its load for today. at_most_kg: its ceiling for this lifter; caps: what held the load down."""

    drill: str
    title: str
    percent: tuple[float, float]
    of: str
    load: Figure
    at_most_kg: float | None
    sets: int
    reps: int
    because: str
    caps: tuple[str, ...]
    caution: str | None

    @classmethod
    def read(cls, document: Json) -> DrillAdvice:
        """From the service's JSON."""
        return cls(
            drill=document["drill"],
            title=document["title"],
            percent=_pair(document["percent"]),
            of=document["of"],
            load=figure(document["load"]),
            at_most_kg=document.get("at_most_kg"),
            sets=document["sets"],
            reps=document["reps"],
            because=document["because"],
            caps=tuple(document.get("caps") or ()),
            caution=document.get("caution"),
        )


@dataclass(frozen=True, slots=True)
class Advice:
    """One main drill and a primer for the earliest fault. given: the prescription the main drill comes from, if any."""

    fault: str
    main: DrillAdvice | None
    primer: DrillAdvice | None
    others: tuple[str, ...]
    given: str | None
    given_reason: str | None
    words: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def read(cls, document: Json) -> Advice:
        """From the service's JSON."""
        main, primer = document.get("main"), document.get("primer")
        return cls(
            fault=document["fault"],
            main=None if main is None else DrillAdvice.read(main),
            primer=None if primer is None else DrillAdvice.read(primer),
            others=tuple(document.get("others") or ()),
            given=document.get("given"),
            given_reason=document.get("given_reason"),
            words=tuple(document.get("words") or ()),
            cautions=tuple(document["cautions"]),
        )


@dataclass(frozen=True, slots=True)
class DrillResponse:
    """What became of a fault: helped, no change seen, got worse or too early. change: after less before.

    low, high: 95 % interval of the change. better: probability that the fault is smaller. swap: the next drill is due.
    """

    response: str
    before: Figure | None
    after: Figure | None
    change: Figure | None
    low: float | None
    high: float | None
    better: float | None
    sessions_before: int
    sessions_after: int
    swap: bool
    words: str

    @classmethod
    def read(cls, document: Json) -> DrillResponse:
        """From the service's JSON."""
        return cls(
            response=document["response"],
            before=_figure(document.get("before")),
            after=_figure(document.get("after")),
            change=_figure(document.get("change")),
            low=document.get("low"),
            high=document.get("high"),
            better=document.get("better"),
            sessions_before=document["sessions_before"],
            sessions_after=document["sessions_after"],
            swap=document["swap"],
            words=document["words"],
        )


@dataclass(frozen=True, slots=True)
class Prescription:
    """A drill that was given. advised, reason: which drill was advised instead, and why it was not given."""

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
    response: DrillResponse | None
    cautions: tuple[str, ...] = ()

    @classmethod
    def read(cls, document: Json) -> Prescription:
        """From the service's JSON."""
        ended, response = document.get("ended_on"), document.get("response")
        return cls(
            id=document["id"],
            athlete_id=document["athlete_id"],
            lift=document["lift"],
            fault=document["fault"],
            fault_title=document.get("fault_title"),
            drill=document["drill"],
            drill_title=document.get("drill_title"),
            given_on=date.fromisoformat(document["given_on"]),
            ended_on=None if ended is None else date.fromisoformat(ended),
            load_kg=document.get("load_kg"),
            sets=document["sets"],
            reps=document["reps"],
            advised=document.get("advised"),
            reason=document.get("reason"),
            response=None if response is None else DrillResponse.read(response),
            cautions=tuple(document.get("cautions") or ()),
        )


@dataclass(frozen=True, slots=True)
class Technique:
    """One lift of one athlete: faults the earliest first, one drill for the first of them, what earlier drills did.

    reps, style, lost, not_judged, phases: as the service writes them. own_lifts: how many it was held against.
    """

    lift: str
    on: date
    load_kg: float | None
    own_lifts: int
    faults: tuple[Fault, ...]
    advice: Advice | None
    earlier_drills: tuple[Prescription, ...]
    phases: tuple[Json, ...]
    not_judged: tuple[Json, ...]
    reps: tuple[Json, ...]
    lost: tuple[Json, ...]
    style: Json | None
    words: tuple[str, ...]
    cautions: tuple[str, ...]

    @classmethod
    def read(cls, document: Json) -> Technique:
        """From the service's JSON."""
        advice = document.get("advice")
        return cls(
            lift=document["lift"],
            on=date.fromisoformat(document["on"]),
            load_kg=document.get("load_kg"),
            own_lifts=document["own_lifts"],
            faults=tuple(Fault.read(each) for each in document["faults"]),
            advice=None if advice is None else Advice.read(advice),
            earlier_drills=tuple(Prescription.read(each) for each in document["earlier_drills"]),
            phases=tuple(document["phases"]),
            not_judged=tuple(document["not_judged"]),
            reps=tuple(document["reps"]),
            lost=tuple(document["lost"]),
            style=document.get("style"),
            words=tuple(document["words"]),
            cautions=tuple(document["cautions"]),
        )


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill of the club. percent, and beginner (the ceiling for novices and minors): of the maximum of `of`."""

    code: str
    title: str
    of: str
    percent: tuple[float, float]
    beginner: float
    sets: tuple[int, int]
    reps: tuple[int, int]
    primer: bool
    form: str
    why: str
    caution: str | None
    source: str
    faults: tuple[str, ...]
    forbidden: bool
    own: bool

    @classmethod
    def read(cls, document: Json) -> Drill:
        """From the service's JSON."""
        return cls(
            code=document["code"],
            title=document["title"],
            of=document["of"],
            percent=_pair(document["percent"]),
            beginner=document["beginner"],
            sets=_pair(document["sets"]),
            reps=_pair(document["reps"]),
            primer=document["primer"],
            form=document["form"],
            why=document["why"],
            caution=document.get("caution"),
            source=document["source"],
            faults=tuple(document["faults"]),
            forbidden=document["forbidden"],
            own=document["own"],
        )


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two lifts aligned at lift-off. first, second, band: columns as the service writes them.

    changes: second less first by name of the figure.
    """

    first: Json
    second: Json
    changes: dict[str, Figure]
    band: Json | None
    forward_known: bool

    @classmethod
    def read(cls, document: Json) -> Comparison:
        """From the service's JSON."""
        changes = {name: figure(each) for name, each in document["changes"].items()}
        return cls(document["first"], document["second"], changes, document.get("band"), document["forward_known"])


@dataclass(frozen=True, slots=True)
class Waiting:
    """A set nobody has looked at yet; the greater its worry the sooner it should be."""

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
    reasons: tuple[str, ...]
    faults: tuple[Fault, ...]

    @classmethod
    def read(cls, document: Json) -> Waiting:
        """From the service's JSON."""
        return cls(
            set_id=document["set_id"],
            athlete_id=document["athlete_id"],
            athlete=document["athlete"],
            lift=document["lift"],
            load_kg=document["load_kg"],
            started_at=datetime.fromisoformat(document["started_at"].replace("Z", "+00:00")),
            state=document["state"],
            reps=document["reps"],
            made=document["made"],
            worry=document["worry"],
            reasons=tuple(document["reasons"]),
            faults=tuple(Fault.read(each) for each in document["faults"]),
        )


def _figure(document: Any) -> Figure | None:
    return None if document is None else figure(document)


def _pair(document: Any) -> Any:
    first, second = document
    return first, second
