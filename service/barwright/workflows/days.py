"""Which day it is in the club, and which days may be asked for."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from barwright.storage.club_settings import ClubSettings
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts

_FIRST_DAY = date(1950, 1, 1)


def today_of(parts: Parts, settings: ClubSettings) -> date:
    """Today in the club's time zone."""
    return parts.now().astimezone(ZoneInfo(settings.time_zone)).date()


def day_asked(parts: Parts, settings: ClubSettings, on: date | None, pointer: str) -> date:
    """The day somebody asks for or tells of, by default today. Raises Cannot for one that is yet to come."""
    today = today_of(parts, settings)
    day = on or today
    if day > today:
        raise Cannot(
            "in-the-future",
            f"`on` is {day}, and in the club's time zone ({settings.time_zone}) today is {today}; a day until today is "
            "right.",
            pointer,
        )
    return not_before_bars(day, pointer)


def not_before_bars(day: date, pointer: str) -> date:
    """The day. Raises Cannot for one so long ago that it is a typing error."""
    if day < _FIRST_DAY:
        raise Cannot("not-plausible", f"`on` is {day}; a day from {_FIRST_DAY} on is right.", pointer)
    return day
