"""What events say, as it goes on the wire."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Protocol

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import Phase
from barwright.storage.live_events import NewEvent
from barwright.storage.sets import StoredRep, StoredSet
from barwright.storage.streams import Stream
from barwright.workflows.stop_limit import LossSoFar


class RepLike(Protocol):
    """A rep of an open window, or of a finished analysis."""

    @property
    def outcome(self) -> str: ...
    @property
    def start_s(self) -> float: ...
    @property
    def stop_s(self) -> float: ...
    @property
    def measures(self) -> dict[str, Estimate]: ...
    @property
    def phases(self) -> tuple[Phase, ...]: ...
    @property
    def path_measures(self) -> dict[str, Estimate]: ...
    @property
    def notes(self) -> tuple[str, ...]: ...


def event(kind: str, stream: Stream, **more: Any) -> NewEvent:
    """An event of a stream: what was told of it, and more."""
    told = stream.told
    data = {
        "stream_id": stream.id,
        "set_id": stream.set_id,
        "athlete_id": told.athlete_id,
        "athlete": stream.athlete_name,
        "device_id": told.device_id,
        "device": stream.device_name,
        "lift": told.lift,
        "load_kg": told.load_kg,
        **more,
    }
    return NewEvent(kind, stream.id, told.athlete_id, data)


def rep_json(index: int, rep: RepLike) -> dict[str, Any]:
    """A rep as GET /v1/sets/{id} has it."""
    stored = rep if isinstance(rep, StoredRep) else None
    return {
        "index": index,
        "outcome": rep.outcome,
        "analysed_outcome": rep.outcome if stored is None else stored.analysed_outcome,
        "excluded": stored is not None and stored.excluded,
        "correction": None if stored is None else stored.correction,
        "start_s": rep.start_s,
        "stop_s": rep.stop_s,
        "measures": _figures(rep.measures),
        "phases": [asdict(phase) for phase in rep.phases],
        "path_measures": _figures(rep.path_measures),
        "notes": list(rep.notes),
    }


def figure_json(figure: Estimate) -> dict[str, Any]:
    """A figure; with its reason where there is no value."""
    told: dict[str, Any] = {"value": figure.value, "u": figure.u, "unit": figure.unit}
    return told if figure.reason is None else {**told, "reason": figure.reason}


def set_closed_json(lift_set: StoredSet) -> dict[str, Any]:
    """The set in short; the rest is in GET /v1/sets/{id}."""
    measure = LIFTS[lift_set.lift].key_velocity
    reps = [
        {"index": rep.index, "outcome": rep.outcome, measure: figure_json(rep.measures[measure])}
        for rep in lift_set.reps
        if measure in rep.measures
    ]
    quality = lift_set.quality
    return {
        "state": lift_set.state,
        "revision": lift_set.revision,
        "verdict": None if quality is None else quality.verdict,
        "words": [] if quality is None else list(quality.words),
        "reason": lift_set.reason,
        "measure": measure,
        "reps": reps,
        "made": sum(rep.outcome == "made" for rep in lift_set.reps),
    }


def loss_json(lost: LossSoFar) -> dict[str, Any]:
    """Velocity lost, and what it was held against."""
    return {
        "rep": lost.rep,
        "fastest_rep": lost.fastest,
        "loss": figure_json(lost.found.loss),
        "limit_percent": None if lost.limit is None else lost.limit.percent,
        "limit_from": None if lost.limit is None else lost.limit.told_by,
        "chance": lost.found.chance,
        "words": lost.found.words,
    }


def _figures(figures: dict[str, Estimate]) -> dict[str, Any]:
    return {name: figure_json(one) for name, one in figures.items()}
