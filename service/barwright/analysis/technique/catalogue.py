"""The drills as data: what each one is, for which fault it is tried, how heavy."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from typing import Any

CAUTIONS = (
    "Loads come from estimates with an error of several kilograms; they are not an instruction to lift them.",
    "Snatch, clean and jerk have no spotters: clear platform, bumper plates, and know how to miss. Where a drill calls "
    "for safeties or a rack, set them. Minors and novices lift with a qualified coach present.",
    "Stop on pain, dizziness or loss of control. This is not medical advice; the coach's eye and local rules overrule.",
)


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill. percent, beginner: of the maximum of the lift `of`; own_max: its own maximum over that one's.

    sets, reps: customary (least, most). primer: light, before the main drill. record_as: the lift it is recorded as.
    forbidden: the club does not want it. own: added or changed by the club.
    """

    code: str
    title: str
    of: str
    percent: tuple[float, float]
    beginner: float
    sets: tuple[int, int]
    reps: tuple[int, int]
    form: str
    why: str
    source: str
    record_as: str | None = None
    own_max: float = 1.0
    primer: bool = False
    caution: str | None = None
    forbidden: bool = False
    own: bool = False
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Try:
    """One drill tried for a fault: percent of the maximum, sets and reps."""

    drill: str
    percent: tuple[float, float]
    sets: int
    reps: int


@dataclass(frozen=True, slots=True)
class Catalogue:
    """drills by code; tries: per fault the drills in the order in which they are tried; primers: per fault."""

    drills: Mapping[str, Drill]
    tries: Mapping[str, tuple[Try, ...]] = field(default_factory=dict)
    primers: Mapping[str, str] = field(default_factory=dict)


@cache
def published() -> Catalogue:
    """The catalogue that comes with the service (`drills.toml` beside this file)."""
    told = tomllib.loads(files("barwright.analysis.technique").joinpath("drills.toml").read_text("utf-8"))
    tries = {
        one["fault"]: tuple(Try(t[0], (float(t[1]), float(t[2])), t[3], t[4]) for t in one["tries"])
        for one in told["remedy"]
    }
    primers = {one["fault"]: one["primer"] for one in told["remedy"]}
    drills = {}
    for code, facts in told["drill"].items():
        used = tuple(fault for fault, row in tries.items() if any(t.drill == code for t in row))
        drills[code] = drill_of(code, {**facts, "faults": used})
    return Catalogue(drills, tries, primers)


def drill_of(code: str, facts: Mapping[str, Any]) -> Drill:
    """A drill from plain members, lists where it has tuples."""
    return Drill(code=code, **_members(facts))


def _members(facts: Mapping[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in facts.items()}


def with_club(catalogue: Catalogue, own: Mapping[str, Mapping[str, Any]]) -> Catalogue:
    """The catalogue with a club's own drills and changes: code -> members that differ (all of them for a new one).

    A new drill is tried first for the faults it names: the coach added it for them.
    """
    drills, tries = dict(catalogue.drills), dict(catalogue.tries)
    for code, changes in own.items():
        before = drills.get(code)
        facts = {**changes, "own": True}
        if before is None:
            drills[code] = drill_of(code, facts)
        else:
            drills[code] = replace(before, **_members(facts))
        drill = drills[code]
        for fault in drill.faults:
            if fault in tries and all(t.drill != code for t in tries[fault]):
                tries[fault] = (Try(code, drill.percent, drill.sets[0], drill.reps[0]), *tries[fault])
    return Catalogue(drills, tries, catalogue.primers)
