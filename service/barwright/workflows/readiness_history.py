"""How an athlete was on each of the last days with a lift, every day told from the days before it only."""

from __future__ import annotations

from datetime import date, timedelta

from barwright.access.caller import Caller
from barwright.analysis.readiness.today import Readiness
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.points import PointStore
from barwright.workflows.check_readiness import days_of
from barwright.workflows.days import today_of
from barwright.workflows.parts import Parts
from barwright.workflows.tell_maxima import athlete_of

_REACH = timedelta(days=120)


def readiness_history(
    parts: Parts, caller: Caller, athlete_id: str, lift: str, most_days: int = 12
) -> tuple[tuple[date, Readiness], ...]:
    """The last days on which a verdict could be given, the oldest first. Raises Cannot."""
    with parts.database.reading() as session:
        athlete = athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        today = today_of(parts, settings)
        points = PointStore(session, caller.club_id).of([(athlete_id, lift)], today).get((athlete_id, lift), [])
        days = sorted({one.day for one in points if one.velocity is not None and one.day >= today - _REACH})
        out = []
        for day in days[-most_days:]:
            (found,), _ = days_of(session, caller.club_id, settings, [athlete], day, lift)
            readiness = None if found.main is None else found.main.readiness
            if readiness is not None and readiness.change.value is not None:
                out.append((day, readiness))
    return tuple(out)


def lifts_of_athlete(parts: Parts, caller: Caller, athlete_id: str) -> list[str]:
    """What an athlete has lifted, the latest first. Raises Cannot."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        today = today_of(parts, ClubSettingsStore(session, caller.club_id).get())
        last = PointStore(session, caller.club_id).last_days([athlete_id], today)
    return [lift for _, lift in sorted(last, key=lambda pair: (last[pair], pair[1]), reverse=True)]
