"""Loads as people tell them, in kilograms or pounds."""

from __future__ import annotations

from barwright.analysis.profiles.bounds import MOST_KG
from barwright.analysis.quantities.units import UnknownUnit, factor_to_si
from barwright.ingest.refusals import Refusal
from barwright.workflows.cannot import Cannot


def load_in_kg(load: float, unit: str | None, pointer: str = "/load_kg") -> float:
    """The load in kg, above 0 and at most 600. Raises Cannot, and Refusal for a unit that is not one of mass."""
    try:
        load_kg = load * factor_to_si(unit or "kg", "mass")
    except UnknownUnit as unknown:
        raise Refusal("unknown-unit", unknown.detail, "/units/load") from unknown
    if not 0 < load_kg <= MOST_KG:
        raise Cannot("bad-load", f"The load is {load_kg:g} kg; above 0 and at most {MOST_KG:g} kg is right.", pointer)
    return round(load_kg, 4)
