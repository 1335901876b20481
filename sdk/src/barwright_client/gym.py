"""What a screen beside the platform shows, as frozen dataclasses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from barwright_client.figures import Figure, figure

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class GymRep:
    """A rep in short; provisional while its set is open. zone: its name, None outside all zones."""

    index: int
    outcome: str
    velocity: Figure
    zone: str | None = None
    provisional: bool = False

    @classmethod
    def read(cls, document: Json) -> GymRep:
        """From the service's JSON."""
        zone = document.get("zone")
        return cls(
            document["index"],
            document["outcome"],
            figure(document["velocity"]),
            None if zone is None else zone["name"],
            bool(document.get("provisional")),
        )


@dataclass(frozen=True, slots=True)
class StopAdvice:
    """Velocity lost in the set so far, in %. advised: None without a limit. chance: that the limit is truly reached."""

    loss: Figure
    words: str
    advised: bool | None = None
    limit_percent: float | None = None
    chance: float | None = None

    @classmethod
    def read(cls, document: Json) -> StopAdvice:
        """From the service's JSON."""
        more = {name: document.get(name) for name in ("advised", "limit_percent", "chance")}
        return cls(figure(document["loss"]), document["words"], **more)


@dataclass(frozen=True, slots=True)
class GymScreen:
    """The athlete's last set, going on or done, and what comes next by today's plan.

    next: the line of the plan as GET /v1/athletes/{id}/loads has it; None for next_reason. last_event_id: everything up
    to this event is in here.
    """

    athlete_id: str
    athlete: str
    on: date
    last_event_id: int
    caution: str
    set_id: str | None = None
    stream_id: str | None = None
    state: str | None = None
    lift: str | None = None
    load_kg: float | None = None
    measure: str | None = None
    reps: tuple[GymRep, ...] = ()
    stop: StopAdvice | None = None
    next: Json | None = None
    sets_left: int | None = None
    next_reason: str | None = None

    @classmethod
    def read(cls, document: Json) -> GymScreen:
        """From the service's JSON."""
        plain = ("set_id", "stream_id", "state", "lift", "load_kg", "measure", "next", "sets_left", "next_reason")
        stop = document.get("stop")
        return cls(
            athlete_id=document["athlete_id"],
            athlete=document["athlete"],
            on=date.fromisoformat(document["on"]),
            last_event_id=document["last_event_id"],
            caution=document["caution"],
            reps=tuple(GymRep.read(each) for each in document.get("reps") or ()),
            stop=None if stop is None else StopAdvice.read(stop),
            **{name: document.get(name) for name in plain},
        )
