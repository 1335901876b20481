"""How figures, loads, times and odds are written on the pages."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from barwright.analysis.quantities.estimate import Estimate
from barwright.pictures.drawing import trimmed as trimmed

NOT_THERE = "–"
KG_PER_LB = 0.45359237  # exact, by the agreement of 1959
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SHOWN_IN = {"m": ("cm", 100.0, 1), "m/s": ("m/s", 1.0, 2), "s": ("s", 1.0, 2), "rad": ("°", 180.0 / math.pi, 1)}


@dataclass(frozen=True, slots=True)
class Display:
    """How one coach reads: kg or lb, and the club's time zone."""

    unit: str
    zone: tzinfo

    def weight(self, kg: float | None, decimals: int | None = None) -> str:
        """For example `82.5 kg`, or the pounds next to it in value."""
        return NOT_THERE if kg is None else f"{self.weight_number(kg, decimals)} {self.unit}"

    def weight_number(self, kg: float, decimals: int | None = None) -> str:
        """The number alone; without `decimals`, as many as a load on the bar needs."""
        value = kg if self.unit == "kg" else kg / KG_PER_LB
        if decimals is None:
            decimals = 2 if self.unit == "kg" else 1
        return trimmed(value, decimals)

    def weight_with_u(self, kg: float | None, u_kg: float | None) -> str:
        """For example `84 ± 4 kg`."""
        if kg is None or u_kg is None:
            return NOT_THERE
        u = max(u_kg if self.unit == "kg" else u_kg / KG_PER_LB, 0.1)
        value = kg if self.unit == "kg" else kg / KG_PER_LB
        decimals = 0 if u >= 0.95 else 1
        return f"{value:.{decimals}f} ± {u:.{decimals}f} {self.unit}"

    def weight_range(self, low_kg: float, high_kg: float) -> str:
        """For example `76 to 92 kg`."""
        return f"{self.weight_number(low_kg, 0)} to {self.weight_number(high_kg, 0)} {self.unit}"

    def to_kg(self, value: float) -> float:
        """What a coach typed, in kilograms."""
        return value if self.unit == "kg" else value * KG_PER_LB

    def clock(self, at: datetime) -> str:
        """For example `17:30`."""
        return f"{at.astimezone(self.zone):%H:%M}"

    def day(self, at: datetime) -> str:
        """For example `Tue 3 Mar 2026`."""
        return day_words(at.astimezone(self.zone).date())

    def when(self, at: datetime) -> str:
        """For example `Tue 3 Mar 2026, 17:30`."""
        return f"{self.day(at)}, {self.clock(at)}"

    def date_of(self, at: datetime) -> date:
        """The club's day at that time."""
        return at.astimezone(self.zone).date()


def day_words(day: date) -> str:
    """For example `Tue 3 Mar 2026`."""
    return f"{_DAYS[day.weekday()][:3]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


def short_day(day: date) -> str:
    """For example `3 Mar`."""
    return f"{day.day} {_MONTHS[day.month - 1]}"


def weekday(day: date) -> str:
    """For example `Tuesday`."""
    return _DAYS[day.weekday()]


def figure(estimate: Estimate | None, with_unit: bool = True) -> str:
    """A measured figure with its standard uncertainty: `1.82 ± 0.01 m/s`; lengths in cm."""
    if estimate is None or estimate.value is None or estimate.u is None:
        return NOT_THERE
    unit, factor, decimals = _SHOWN_IN.get(estimate.unit, (estimate.unit, 1.0, 2))
    u = max(estimate.u * factor, 10.0**-decimals)  # never shown as nought
    value = f"{estimate.value * factor:.{decimals}f}".replace("-", "−")
    return f"{value} ± {u:.{decimals}f}" + (f" {unit}" if with_unit else "")


def reason_for(estimate: Estimate | None) -> str:
    """Why a figure is not there; empty when it is."""
    return (estimate.reason or "") if estimate is not None and estimate.value is None else ""


def odds(probability: float) -> str:
    """A probability in words a hall understands: `9 in 10`, `19 in 20`, `even`."""
    if not math.isfinite(probability):
        return "odds not known"
    for limit, words in ((0.99, "99 in 100"), (0.95, "19 in 20"), (0.875, "9 in 10"), (0.775, "4 in 5")):
        if probability >= limit:
            return words
    return "3 in 4" if probability >= 0.7 else "2 in 3" if probability >= 0.6 else "even odds"


def ago(then: datetime | None, now: datetime) -> str:
    """For example `3 days ago`."""
    if then is None:
        return "never"
    gone = now - then
    for size, word in ((timedelta(days=365), "year"), (timedelta(days=30), "month"), (timedelta(days=1), "day")):
        if gone >= size:
            return _ago(gone // size, word)
    for size, word in ((timedelta(hours=1), "hour"), (timedelta(minutes=1), "minute")):
        if gone >= size:
            return _ago(gone // size, word)
    return "just now"


def counted(number: int, one: str, many: str | None = None) -> str:
    """`1 rep`, `3 reps`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def _ago(number: int, word: str) -> str:
    return f"{counted(number, word)} ago"
