"""What a club tells of itself: read, and change."""

from __future__ import annotations

from dataclasses import asdict, replace
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from barwright.access.caller import Caller
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.zones import club_zones
from barwright.analysis.readiness.plates import Equipment
from barwright.storage.audit import note_deed
from barwright.storage.club_settings import Bar, Club, ClubSettings, ClubSettingsStore
from barwright.storage.efforts import EffortStore
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts

_INF = float("inf")


def read_club(parts: Parts, caller: Caller) -> Club:
    """The caller's club and what it told."""
    with parts.database.reading() as session:
        return ClubSettingsStore(session, caller.club_id).club()


def change_club(parts: Parts, caller: Caller, changes: dict[str, Any], anew: bool) -> Club:
    """Sets what is named; the rest stays, or with `anew` goes back to what it is without being told. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        store = ClubSettingsStore(session, caller.club_id)
        before = store.get()
        settings = replace(ClubSettings() if anew else before, **changes)
        zone = _zone(settings.time_zone)
        _check_equipment(settings)
        _check_zones(settings)
        _check_raw(settings)
        store.put(settings, parts.now())
        note_deed(session, caller, "club.changed", caller.club_id, parts.now(), _changed(before, settings))
        if settings.time_zone != before.time_zone:
            EffortStore(session, caller.club_id).move_days(zone)
        return store.club()


def _changed(before: ClubSettings, now: ClubSettings) -> dict[str, Any]:
    """Setting -> [before, now], of those that differ."""
    old, new = asdict(before), asdict(now)
    return {name: [old[name], new[name]] for name in new if old[name] != new[name]}


@lru_cache(maxsize=256)
def equipment_of(settings: ClubSettings, sex: str | None) -> Equipment:
    """The bar of an athlete with all plates: the first bar told for their sex, else the first told for nobody."""
    bar = bar_of(settings, sex)
    pairs = tuple((one.kg, one.count // 2) for one in settings.plates)
    return Equipment(bar.kg, pairs, settings.step_kg, settings.collars_kg)


def bar_of(settings: ClubSettings, sex: str | None) -> Bar:
    """The bar an athlete lifts with."""
    mine = [one for one in settings.bars if one.sex is not None and one.sex == sex]
    everybodys = [one for one in settings.bars if one.sex is None]
    return (mine or everybodys or list(settings.bars))[0]


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise Cannot(
            "request-invalid",
            f"`time_zone` is {name[:60]!r}; a name of the IANA time zone database such as Europe/Vienna is right.",
            "/time_zone",
        ) from error


def _check_raw(settings: ClubSettings) -> None:
    full, drop = settings.raw_full_days, settings.raw_drop_days
    if full is not None and drop is not None and drop < full:
        raise Cannot(
            "request-invalid",
            f"`raw_drop_days` is {drop}: raw samples cannot be dropped before they are thinned, after {full} days.",
            "/raw_drop_days",
        )


def _check_equipment(settings: ClubSettings) -> None:
    masses = [one.kg for one in settings.plates]
    for place, kg in enumerate(masses):
        if kg in masses[:place]:
            raise Cannot("request-invalid", f"Plates of {kg:g} kg are told twice.", f"/plates/{place}/kg")
    try:
        for one in settings.bars:
            equipment_of(replace(settings, bars=(one,)), None)
    except NotPlausible as error:
        raise Cannot("not-plausible", f"`{error.member}`: {error.detail}.", "/" + error.member) from error


def _check_zones(settings: ClubSettings) -> None:
    zones = settings.zones or ()
    try:
        for measure in ("mean_velocity", "peak_velocity"):
            club_zones(
                [
                    (one.name, one.from_m_s, _INF if one.to_m_s is None else one.to_m_s)
                    for one in zones
                    if one.measure == measure
                ]
            )
    except NotPlausible as error:
        raise Cannot("not-plausible", f"`{error.member}`: {error.detail}.", "/zones") from error
