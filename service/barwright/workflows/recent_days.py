"""Days of athletes that clubs asked about lately: told again for as long as nothing they rest on has changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from threading import Lock
from typing import TYPE_CHECKING

from barwright.analysis.readiness.today import VerdictParams
from barwright.storage.athletes import Athlete

if TYPE_CHECKING:
    from barwright.workflows.check_readiness import AthleteToday

_OfClub = dict[str, tuple[VerdictParams, "AthleteToday"]]


class RecentDays:
    """Of up to `most` days of clubs, in this process. An athlete read anew whose mark is the same has not changed."""

    def __init__(self, most: int = 64) -> None:
        self._most = most
        self._lock = Lock()
        self._days: dict[tuple[str, date], _OfClub] = {}

    def get(
        self, club_id: str, day: date, params: VerdictParams, athletes: Iterable[Athlete]
    ) -> dict[str, AthleteToday]:
        """By id what was told of those athletes that are as they were then."""
        told = self._days.get((club_id, day), {})
        pairs = ((one, told.get(one.id)) for one in athletes)
        return {one.id: found[1] for one, found in pairs if found and found[1].athlete == one and found[0] == params}

    def keep(self, club_id: str, day: date, params: VerdictParams, told: Mapping[str, AthleteToday]) -> None:
        """In the place of what was told of the day before; of too many days the oldest goes."""
        with self._lock:
            self._days.pop((club_id, day), None)
            self._days[club_id, day] = {athlete_id: (params, one) for athlete_id, one in told.items()}
            while len(self._days) > self._most:
                del self._days[next(iter(self._days))]

    def forget(self, athlete_id: str) -> None:
        """Nothing of the athlete is left here."""
        with self._lock:
            for told in self._days.values():
                told.pop(athlete_id, None)

    def leave_only(self, club_id: str, athlete_ids: Iterable[str]) -> None:
        """Forgets everybody else of the club on every day: whoever is gone was erased."""
        ids = set(athlete_ids)
        with self._lock:
            for (whose, _), told in self._days.items():
                if whose == club_id:
                    for gone in told.keys() - ids:
                        del told[gone]
