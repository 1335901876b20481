"""Twelve invented weeks of an invented club: who lifted what how fast, what is planned. The same each time."""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass
from datetime import date, timedelta

WEEKS = 12
_SEED = 30_12
_SNATCH, _JERK, _SQUAT = "snatch", "clean_and_jerk", "back_squat"


@dataclass(frozen=True, slots=True)
class Line:
    """How fast one lift moves for one lifter: velocity (m/s) at the maximum, and how much more per kg below it."""

    lift: str
    max_kg: float
    at_max: float
    per_kg: float


@dataclass(frozen=True, slots=True)
class Lifter:
    """One invented lifter. gain: how much stronger they get in the twelve weeks, %."""

    name: str
    sex: str
    birth_year: int
    body_mass_kg: float
    stature_m: float
    level: str
    lines: tuple[Line, ...]
    gain: float


def _line(lift: str, max_kg: float) -> Line:
    at_max, whole = {_SNATCH: (1.62, 1.45), _JERK: (1.26, 1.85), _SQUAT: (0.30, 2.05)}[lift]
    return Line(lift, max_kg, at_max, whole / max_kg)


# Those whose recordings are sent along; their lines go through what the recordings show.
_KNOWN = (
    Lifter("Imke", "female", 1999, 64.0, 1.66, "advanced", (Line(_SNATCH, 84, 1.64, 0.0177), _line(_JERK, 104)), 3.5),
    Lifter("Tomas", "male", 1996, 88.0, 1.78, "advanced", (_line(_SNATCH, 114), Line(_JERK, 140, 1.25, 0.0135)), 2.0),
    Lifter("Rana", "female", 2001, 59.0, 1.62, "intermediate", (_line(_SNATCH, 62), Line(_SQUAT, 105, 0.3, 0.02)), 5.0),
    Lifter("Oskar", "male", 1994, 95.0, 1.83, "advanced", (Line(_SNATCH, 112, 1.62, 0.013), _line(_JERK, 138)), 1.5),
    Lifter("Lucja", "female", 2010, 67.0, 1.70, "novice", (_line(_SNATCH, 38), _line(_SQUAT, 62)), 9.0),
)
KNOWN = len(_KNOWN)
_TODAY = {"Cato": -9.0, "Hedda": -8.0, "Milo": 7.0}  # %, how some are today against the usual
_NAMES = (
    ("Ailsa", "f"), ("Bram", "m"), ("Cato", "m"), ("Dagny", "f"), ("Emeka", "m"), ("Fenna", "f"), ("Goran", "m"),
    ("Hedda", "f"), ("Ilir", "m"), ("Jorun", "f"), ("Kaito", "m"), ("Leonie", "f"), ("Milo", "m"), ("Nilufar", "f"),
    ("Otis", "m"), ("Petra", "f"), ("Quirin", "m"), ("Rosalind", "f"), ("Stellan", "m"), ("Tindra", "f"), ("Ugo", "m"),
    ("Vesna", "f"), ("Wim", "m"), ("Yrsa", "f"), ("Zoltan", "m"),
)  # fmt: skip


def lifters() -> tuple[Lifter, ...]:
    """All thirty."""
    dice = random.Random(_SEED)
    return _KNOWN + tuple(_invented(name, sex, dice) for name, sex in _NAMES)


def _invented(name: str, sex: str, dice: random.Random) -> Lifter:
    level = dice.choice(("novice", "intermediate", "intermediate", "advanced"))
    mass = dice.uniform(56, 74) if sex == "f" else dice.uniform(66, 102)
    share = {"novice": 0.62, "intermediate": 0.85, "advanced": 1.08}[level] * (0.88 if sex == "f" else 1.0)
    snatch = mass * share * dice.uniform(0.92, 1.08)
    lines = [_line(_SNATCH, snatch), _line(_JERK, snatch * dice.uniform(1.22, 1.28))]
    if level != "advanced":
        lines.append(_line(_SQUAT, snatch * dice.uniform(1.6, 1.8)))
    born = dice.randint(2010, 2011) if level == "novice" and dice.random() < 0.4 else dice.randint(1990, 2006)
    stature = 1.35 + mass / 230 + dice.uniform(-0.03, 0.03)
    gain = {"novice": 9.0, "intermediate": 5.0, "advanced": 2.5}[level] * dice.uniform(0.4, 1.3)
    word = "female" if sex == "f" else "male"
    return Lifter(name, word, born, round(mass, 1), round(stature, 2), level, tuple(lines), gain)


def history_of(one: Lifter, today: date, warms_up: bool) -> bytes:
    """Their twelve weeks as a file the service imports, with a tested maximum or two; warms_up: sets of today too."""
    dice = random.Random(f"{_SEED} {one.name}")
    rows: list[list[object]] = []
    first = today - timedelta(weeks=WEEKS)
    for week in range(WEEKS):
        for place, weekday in enumerate((0, 2, 4)):
            day = first + timedelta(weeks=week, days=weekday)
            if day < today and dice.random() < 0.93:
                rows += _session(one, day, (day - first).days / (7 * WEEKS), place, dice)
    for line in one.lines[:2]:
        for at in (0.25, 0.92):
            day = first + timedelta(days=round(7 * WEEKS * at))
            kg = round(line.max_kg * (1 - one.gain / 100 * (1 - at)) * dice.uniform(0.985, 1.0))
            rows.append([day.isoformat(), line.lift, "max", "", kg, 1, "", "", ""])
    if warms_up:
        usual = line_max(one, one.lines[0], 1.0) * (1 + _TODAY.get(one.name, 0.0) / 100)
        rows += _sets(one.lines[0], today, usual, dice, (0.55, 0.65, 0.75))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["date", "lift", "kind", "set", "load", "reps", "missed", "velocity", "velocity_u"])
    writer.writerows(rows)
    return out.getvalue().encode()


def line_max(one: Lifter, line: Line, at: float) -> float:
    """The maximum at a share of the twelve weeks, kg."""
    return line.max_kg * (1 - one.gain / 100 * (1 - at))


def _session(one: Lifter, day: date, at: float, place: int, dice: random.Random) -> list[list[object]]:
    shares = ((0.6, 0.7, 0.78, 0.84), (0.6, 0.7, 0.8), (0.65, 0.75, 0.85, 0.9))[place]
    rows: list[list[object]] = []
    for line in one.lines[:2] if place != 1 else one.lines[-2:]:
        rows += _sets(line, day, line_max(one, line, at), dice, shares)
    return rows


def _sets(line: Line, day: date, max_kg: float, dice: random.Random, shares: tuple[float, ...]) -> list[list[object]]:
    """Sets of one lift of one day. Days differ by 2 %, reps by 0.03 m/s: common practice, no source."""
    days_max = max_kg * (1 + dice.gauss(0, 0.02))
    out: list[list[object]] = []
    for number, share in enumerate(shares, 1):
        kg = round(max_kg * share)
        velocity = line.at_max + line.per_kg * (days_max - kg) + dice.gauss(0, 0.03)
        missed = 1 if share >= 0.88 and dice.random() < 0.25 else ""
        reps = 3 if share < 0.72 else 2 if share < 0.86 else 1
        out.append([day.isoformat(), line.lift, "set", number, kg, reps, missed, f"{velocity:.3f}", "0.02"])
    return out


def plan_of(one: Lifter, weekday: int, today: int) -> list[tuple[str, float, int, int]]:
    """(lift, percent, reps, sets) planned for a weekday, 0 is Monday; empty on the day of rest.

    That is the one before today's weekday, so that there is something to look at whenever somebody does.
    """
    main, second = one.lines[0].lift, one.lines[1].lift
    if weekday == (today - 1) % 7:
        return []
    if weekday % 2 == 0:
        return [(main, 75, 2, 2), (main, 82, 1, 3), (second, 78, 2, 3)]
    return [(second, 72, 2, 3), (main, 70, 2, 3)]
