"""The screen beside the platform on the wire."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import Field

from barwright.analysis.readiness.loads import CAUTION
from barwright.api.shapes.base import Answer
from barwright.api.shapes.plans import LoadAnswer, LoadsAnswer
from barwright.api.shapes.profiles import ZoneAnswer
from barwright.api.shapes.sets import Figure
from barwright.workflows.gym_screen import Screen, ScreenRep
from barwright.workflows.stop_limit import LossSoFar


class GymRep(Answer):
    """A rep in short; provisional while its set is open. zone: null outside all zones, or without a velocity."""

    index: int
    outcome: str
    velocity: Figure
    zone: ZoneAnswer | None
    provisional: bool

    @classmethod
    def of(cls, one: ScreenRep) -> GymRep:
        """From the workflow's answer."""
        rep = one.rep
        velocity = Figure(value=rep.velocity, u=rep.u, unit="m/s")
        if rep.velocity is None:
            velocity = Figure(value=None, u=None, unit="m/s", reason="the velocity of this rep could not be had")
        zone = None if one.zone is None else ZoneAnswer.of(one.zone)
        return cls(index=rep.index, outcome=rep.outcome, velocity=velocity, zone=zone, provisional=one.provisional)


class StopAnswer(Answer):
    """Velocity lost in the set so far. advised: null without a limit; limit_from: asked, plan or null."""

    advised: bool | None
    loss: Figure
    limit_percent: float | None
    limit_from: Literal["asked", "plan"] | None
    chance: float | None = Field(description="That the loss truly is at or past the limit, 0 to 1.")
    rep: int
    fastest_rep: int
    words: str

    @classmethod
    def of(cls, lost: LossSoFar) -> StopAnswer:
        """From the workflow's answer."""
        return cls.model_validate(
            {
                "advised": lost.found.stop,
                "loss": Figure.of(lost.found.loss),
                "limit_percent": None if lost.limit is None else lost.limit.percent,
                "limit_from": None if lost.limit is None else lost.limit.told_by,
                "chance": lost.found.chance,
                "rep": lost.rep,
                "fastest_rep": lost.fastest,
                "words": lost.found.words,
            }
        )


class GymAnswer(Answer):
    """The athlete's last set, going on or done, and what comes next by today's plan.

    stop: null before there are two made reps with a velocity. next: the line of the plan, null for next_reason;
    sets_left: of that line. last_event_id: everything up to this event is in here.
    """

    athlete_id: str
    athlete: str
    on: date
    last_event_id: int
    stream_id: str | None
    set_id: str | None
    state: Literal["open", "analysing", "analysed", "failed"] | None
    lift: str | None
    load_kg: float | None
    measure: str | None
    reps: list[GymRep]
    stop: StopAnswer | None
    next: LoadAnswer | None
    sets_left: int | None
    next_reason: str | None
    caution: str

    @classmethod
    def of(cls, athlete_id: str, screen: Screen) -> GymAnswer:
        """From the workflow's answer."""
        known, last = screen.known, screen.known.lift_set
        following = None
        if screen.loads is not None and screen.next_set is not None:
            following = LoadsAnswer.of(screen.loads).sets[screen.next_set.number - 1]
        return cls.model_validate(
            {
                "athlete_id": athlete_id,
                "athlete": known.athlete_name,
                "on": known.on,
                "last_event_id": known.last_event_id,
                "stream_id": None if last is None else last.stream_id,
                "set_id": None if last is None else last.id,
                "state": None if last is None else last.state,
                "lift": None if last is None else last.lift,
                "load_kg": None if last is None else last.load_kg,
                "measure": screen.measure,
                "reps": [GymRep.of(rep) for rep in screen.reps],
                "stop": None if known.lost is None else StopAnswer.of(known.lost),
                "next": following,
                "sets_left": None if screen.next_set is None else screen.next_set.left,
                "next_reason": screen.next_reason,
                "caution": CAUTION,
            }
        )
