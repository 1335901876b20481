"""The club: people, keys, what it owns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from barwright.access.scopes import ALL_SCOPES, Scope
from barwright.coach.numbers import Display, trimmed
from barwright.storage.club_settings import ClubSettings
from barwright.storage.coaches import Coach
from barwright.storage.keys import KeyFacts

_SCOPE_WORDS = {
    Scope.STREAMS_WRITE: "send recordings",
    Scope.RESULTS_READ: "read results",
    Scope.ATHLETES_WRITE: "add and change athletes",
    Scope.CLUB_ADMIN: "change the club",
}
# What a key may do, by the one who is going to hold it.
KINDS: dict[str, tuple[str, frozenset[Scope]]] = {
    "sensor": ("A sensor that sends recordings", frozenset({Scope.STREAMS_WRITE, Scope.ATHLETES_WRITE})),
    "app": ("A gym app that shows results", frozenset({Scope.STREAMS_WRITE, Scope.RESULTS_READ})),
    "reader": ("A program that only reads", frozenset({Scope.RESULTS_READ})),
    "all": ("Everything", ALL_SCOPES),
}


@dataclass(frozen=True, slots=True)
class KeyLine:
    """A key in use."""

    id: str
    short: str
    may: str
    made: str


@dataclass(frozen=True, slots=True)
class CoachLine:
    """A coach of the club."""

    id: str
    name: str
    about: str
    is_me: bool


@dataclass(frozen=True, slots=True)
class EquipmentForm:
    """What the club owns and its limits, as a form; always in kilograms. bars: (kg, sex); plates: (kg, count)."""

    time_zone: str
    bars: tuple[tuple[str, str], ...]
    plates: tuple[tuple[str, str], ...]
    collars: str
    step: str
    cap: str
    matters: str


@dataclass(frozen=True, slots=True)
class ClubView:
    """The page. said: what was just done; link, key: shown once."""

    club: str
    me: str
    unit: str
    has_passphrase: bool
    coaches: tuple[CoachLine, ...]
    keys: tuple[KeyLine, ...]
    kinds: tuple[tuple[str, str], ...]
    equipment: EquipmentForm
    said: str = ""
    link: str = ""
    key: str = ""


def club_view(
    me: Coach,
    coaches: Sequence[Coach],
    keys: Sequence[KeyFacts],
    display: Display,
    settings: ClubSettings,
    said: str = "",
    link: str = "",
    key: str = "",
) -> ClubView:
    """Everything on the page but what the club owns."""
    return ClubView(
        club=me.club_name,
        me=me.name,
        unit=me.weight_unit,
        has_passphrase=me.has_passphrase,
        coaches=tuple(_coach(one, me, display) for one in coaches),
        keys=tuple(_key(one, display) for one in keys),
        kinds=tuple((code, words) for code, (words, _) in KINDS.items()),
        equipment=_equipment(settings),
        said=said,
        link=link,
        key=key,
    )


def _equipment(settings: ClubSettings) -> EquipmentForm:
    own = settings.smallest_change_percent
    return EquipmentForm(
        time_zone=settings.time_zone,
        bars=(*((trimmed(one.kg, 2), one.sex or "") for one in settings.bars), ("", "")),
        plates=(*((trimmed(one.kg, 2), str(one.count)) for one in settings.plates), ("", "")),
        collars=trimmed(settings.collars_kg, 2),
        step=trimmed(settings.step_kg, 2),
        cap=trimmed(settings.daily_cap_percent, 1),
        matters="" if own is None else trimmed(own, 1),
    )


def _coach(one: Coach, me: Coach, display: Display) -> CoachLine:
    about = f"since {display.day(one.created_at)}"
    if not one.has_passphrase:
        about += ", no passphrase yet"
    return CoachLine(one.id, one.name, about, one.id == me.id)


def _key(one: KeyFacts, display: Display) -> KeyLine:
    may = "do everything" if one.scopes == ALL_SCOPES else ", ".join(_SCOPE_WORDS[s] for s in Scope if s in one.scopes)
    return KeyLine(one.id, one.id[-6:], may, display.when(one.created_at))
