"""What a club tells of itself: its clock, its bars and plates, its limits and zones."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session, select

from barwright.storage.tables import ClubRow
from barwright.storage.training_tables import ClubSettingsRow


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar without collars. sex: whose bar it is; None: everybody's."""

    kg: float
    sex: str | None = None


@dataclass(frozen=True, slots=True)
class Plates:
    """How many plates of one mass the club owns for one bar, both ends together."""

    kg: float
    count: int


@dataclass(frozen=True, slots=True)
class ClubZone:
    """A velocity zone of the club's own, from_m_s included, to_m_s not; None: without end.

    measure: mean_velocity or peak_velocity, whichever its lifts are profiled by.
    """

    name: str
    from_m_s: float
    to_m_s: float | None
    measure: str = "mean_velocity"


# Bars of 20 and 15 kg and these plates: the sport's usual equipment; the counts are common practice, no source.
BARS = (Bar(20.0), Bar(15.0, "female"))
PLATES = (
    Plates(25.0, 8),
    Plates(20.0, 4),
    Plates(15.0, 4),
    Plates(10.0, 4),
    Plates(5.0, 4),
    Plates(2.5, 4),
    Plates(2.0, 2),
    Plates(1.5, 2),
    Plates(1.0, 2),
    Plates(0.5, 2),
)


@dataclass(frozen=True, slots=True)
class ClubSettings:
    """time_zone: IANA name. step_kg: loads are multiples of it. collars_kg: both together.

    daily_cap_percent: how far a day's loads may leave those of the usual maximum. smallest_change_percent: a change of
    the day's maximum that matters; None takes 0.2 of the between-athlete sd. zones: None takes the published ones.

    raw_full_days: raw samples of sets older than this are thinned, None: never; raw_thinning: packed (no sample is
    lost) or around_reps. raw_drop_days: those of sets older than this are dropped, None: never.
    """

    time_zone: str = "UTC"
    bars: tuple[Bar, ...] = BARS
    plates: tuple[Plates, ...] = PLATES
    collars_kg: float = 0.0
    step_kg: float = 1.0
    daily_cap_percent: float = 5.0
    smallest_change_percent: float | None = None
    zones: tuple[ClubZone, ...] | None = None
    raw_full_days: int | None = None
    raw_thinning: str = "packed"
    raw_drop_days: int | None = None


@dataclass(frozen=True, slots=True)
class Club:
    """A club and what it told."""

    id: str
    name: str
    settings: ClubSettings


class ClubSettingsStore:
    """Reads and writes the settings of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def club(self) -> Club:
        """The club with its settings."""
        name = self._session.exec(select(ClubRow.name).where(ClubRow.id == self._club_id)).one()
        return Club(self._club_id, name, self.get())

    def get(self) -> ClubSettings:
        """What the club told, else the defaults."""
        query = select(ClubSettingsRow.settings).where(ClubSettingsRow.club_id == self._club_id)
        told = self._session.exec(query).first()
        return ClubSettings() if told is None else _settings(told)

    def zone(self) -> ZoneInfo:
        """The club's clock."""
        return ZoneInfo(self.get().time_zone)

    def put(self, settings: ClubSettings, now: datetime) -> None:
        """In the place of what was told before."""
        self._session.merge(ClubSettingsRow(club_id=self._club_id, settings=asdict(settings), changed_at=now))


def _settings(told: dict[str, Any]) -> ClubSettings:
    zones = told["zones"]
    return ClubSettings(
        **{
            **told,
            "bars": tuple(Bar(**one) for one in told["bars"]),
            "plates": tuple(Plates(**one) for one in told["plates"]),
            "zones": None if zones is None else tuple(ClubZone(**one) for one in zones),
        }
    )
