"""At which velocity loss a set is to be stopped: as asked when it began, else as the day's plan says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.velocity_loss import VelocityLoss, velocity_loss
from barwright.analysis.quantities.estimate import Estimate
from barwright.live.run import KnownRep
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.plans import PlanStore
from barwright.storage.streams import Stream


@dataclass(frozen=True, slots=True)
class StopLimit:
    """percent of the fastest rep's velocity. told_by: asked or plan."""

    percent: float
    told_by: str


@dataclass(frozen=True, slots=True)
class LossSoFar:
    """What the made reps of a set have lost. rep: index of the last, fastest: of the fastest."""

    found: VelocityLoss
    limit: StopLimit | None
    rep: int
    fastest: int


def stop_limit(session: Session, club_id: str, stream: Stream) -> StopLimit | None:
    """The limit of a stream of this club; None when nobody told one."""
    asked = LiveRunStore(session, club_id).get(stream.id).velocity_loss
    return stop_limits(session, club_id, [stream], {stream.id: asked}).get(stream.id)


def stop_limits(
    session: Session, club_id: str, streams: Sequence[Stream], asked: Mapping[str, float | None]
) -> dict[str, StopLimit]:
    """The limits of streams of this club, by id, where there is one. asked: % by stream, as told when it began."""
    limits = {one: StopLimit(loss, "asked") for one, loss in asked.items() if loss is not None}
    by_day: dict[date, list[Stream]] = {}
    silent = [one for one in streams if one.id not in limits]
    zone = ClubSettingsStore(session, club_id).zone() if silent else None
    for one in silent:
        by_day.setdefault(one.told.started_at.astimezone(zone).date(), []).append(one)
    for day, begun in by_day.items():
        plans = PlanStore(session, club_id).that_count(day, [one.told.athlete_id for one in begun])
        for one in begun:
            plan = plans.get(one.told.athlete_id)
            sets = () if plan is None else plan.sets
            planned = [each.velocity_loss for each in sets if each.lift == one.told.lift and each.velocity_loss]
            if planned:
                limits[one.id] = StopLimit(planned[0], "plan")
    return limits


def loss_so_far(reps: Iterable[KnownRep], limit: StopLimit | None) -> LossSoFar | None:
    """The loss within a set; None before there are two made reps with a velocity."""
    made = [rep for rep in reps if rep.outcome == "made" and rep.velocity is not None and rep.velocity > 0]
    if len(made) < 2:
        return None
    figures = [Estimate(rep.velocity, rep.u, "m/s") for rep in made]
    try:
        found = velocity_loss(figures, None if limit is None else limit.percent)
    except NotPlausible:
        return None
    return LossSoFar(found, limit, made[-1].index, max(made, key=lambda rep: rep.velocity or 0.0).index)
