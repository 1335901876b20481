"""What cannot be a load, a velocity or a day; refused with the member's name."""

from __future__ import annotations

import math

MOST_KG = 600.0  # above every load ever lifted from the floor; a typing error
MOST_M_S = 6.0  # a bar thrown 1.8 m high leaves the hand at this speed
FIRST_DAY, LAST_DAY = 693596, 767009  # proleptic ordinals of 1900-01-01 and 2100-12-31


class NotPlausible(ValueError):  # noqa: N818 - says what it is
    """A figure that cannot be true. `member` names it; the text says what would be right."""

    def __init__(self, member: str, detail: str) -> None:
        super().__init__(f"{member}: {detail}")
        self.member = member
        self.detail = detail


def check_load(load_kg: float, member: str = "load_kg") -> float:
    """The load in kg when it is above 0 and at most `MOST_KG`; else NotPlausible."""
    if not (math.isfinite(load_kg) and 0 < load_kg <= MOST_KG):
        raise NotPlausible(member, f"{load_kg:g} kg is not a load; above 0 and at most {MOST_KG:g} kg is right")
    return float(load_kg)


def check_velocity(velocity_m_s: float, member: str = "velocity") -> float:
    """The velocity in m/s when it is above 0 and at most `MOST_M_S`; else NotPlausible."""
    if not (math.isfinite(velocity_m_s) and 0 < velocity_m_s <= MOST_M_S):
        detail = f"{velocity_m_s:g} m/s is no speed of a lifted bar; above 0 and at most {MOST_M_S:g} m/s is right"
        raise NotPlausible(member, detail)
    return float(velocity_m_s)


def check_uncertainty(u: float, unit: str, member: str = "u") -> float:
    """A standard uncertainty when it is finite and not negative; else NotPlausible."""
    if not (math.isfinite(u) and u >= 0):
        raise NotPlausible(member, f"{u:g} {unit} is no standard uncertainty; 0 or more is right")
    return float(u)


def check_day(day: int, member: str = "day") -> int:
    """A day as proleptic ordinal (date.toordinal()) between 1900 and 2100; else NotPlausible."""
    if not FIRST_DAY <= day <= LAST_DAY:
        raise NotPlausible(member, f"{day}; the ordinal of a day between 1900-01-01 and 2100-12-31 is right")
    return int(day)
