"""Planned sets with their loads, as the pages show them."""

from __future__ import annotations

from barwright.analysis.readiness.plates import Equipment, nearest_load
from barwright.coach.numbers import trimmed
from barwright.coach.views.today import LoadToday
from barwright.storage.plans import PlannedSet
from barwright.workflows.plan_loads import LoadOfSet


def load_today(one: LoadOfSet, equipment: Equipment) -> LoadToday:
    """The load that holds: the coach's own, else the suggestion, else none with the reason."""
    suggested = one.suggested
    load_kg = None if suggested is None else suggested.load_kg
    each_side = () if suggested is None else suggested.each_side
    decided = ""
    if one.decided is not None and one.decided.told.load_kg is not None:
        decided = one.decided.told.reason
        load_kg = one.decided.told.load_kg
        built = nearest_load(load_kg, equipment)
        load_kg, each_side = built.load_kg, built.each_side
    why = suggested.reasons if suggested is not None else ((one.reason,) if one.reason else ())
    return LoadToday(
        number=one.number,
        lift=one.planned.lift,
        reps=one.planned.reps,
        sets=one.planned.sets,
        target=target_words(one.planned),
        load_kg=load_kg,
        each_side=each_side,
        why=why,
        decided=decided,
        suggested_kg=None if suggested is None else suggested.load_kg,
    )


def target_words(planned: PlannedSet) -> str:
    """For example `80 %`, `1.6 m/s`, or a zone by its name."""
    if planned.percent is not None:
        return f"{trimmed(planned.percent, 1)} %"
    if planned.velocity is not None:
        return f"{trimmed(planned.velocity, 2)} m/s"
    return (planned.zone or "").replace("_", " ")
