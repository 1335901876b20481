"""A drill's load on the club's own bar and plates, never above its ceiling."""

from __future__ import annotations

from dataclasses import replace

from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.readiness.plates import nearest_load
from barwright.analysis.technique.drills import DrillAdvice
from barwright.storage.club_settings import ClubSettings
from barwright.workflows.change_club import equipment_of


def on_the_bar(settings: ClubSettings, advice: DrillAdvice, sex: str | None) -> DrillAdvice:
    """The advice with its load rounded to what can be put on the bar; too light for the empty bar: no load, and why."""
    if advice.load.value is None or advice.load.u is None or advice.at_most_kg is None:
        return advice
    equipment = equipment_of(settings, sex)
    empty = equipment.bar_kg + equipment.collars_kg
    if empty > advice.at_most_kg + 1e-9:
        most = f"{advice.at_most_kg:.0f} kg, the ceiling here"
        why = f"the empty bar ({empty:g} kg) is above {most}: take a lighter bar or a stick"
        return replace(advice, load=unknown("kg", why))
    found = nearest_load(advice.load.value, equipment, advice.at_most_kg)
    return replace(advice, load=Estimate(found.load_kg, advice.load.u, "kg"))
