"""Athletes and devices of a club: tell, look up, change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from barwright.access.caller import Caller
from barwright.storage.athletes import Athlete, AthleteFacts, AthleteStore
from barwright.storage.audit import note_deed
from barwright.storage.devices import Device, DeviceFacts, DeviceStore
from barwright.storage.names import NameTakenError
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts


def add_athlete(
    parts: Parts, caller: Caller, facts: AthleteFacts, retry: Retry | None, answer: Callable[[Athlete], bytes]
) -> bytes:
    """A new athlete. Raises Cannot when the name is in use."""
    try:
        return create_once(
            parts, caller, retry, lambda s: AthleteStore(s, caller.club_id).create(facts, parts.now()), answer
        )
    except NameTakenError as error:
        raise name_taken(error) from error


def find_athlete(parts: Parts, caller: Caller, athlete_id: str) -> Athlete:
    """One athlete."""
    with parts.database.reading() as session:
        athlete = AthleteStore(session, caller.club_id).get(athlete_id)
    if athlete is None:
        raise not_found("athlete", athlete_id)
    return athlete


def list_athletes(parts: Parts, caller: Caller, after: str | None, limit: int) -> list[Athlete]:
    """Athletes in order of name."""
    with parts.database.reading() as session:
        return AthleteStore(session, caller.club_id).page(after, limit)


def change_athlete(parts: Parts, caller: Caller, athlete_id: str, changes: dict[str, Any]) -> Athlete:
    """Sets only what is named in `changes`."""
    try:
        with parts.database.writing(caller.club_id) as session:
            athlete = AthleteStore(session, caller.club_id).change(athlete_id, changes)
            if athlete is not None:
                note_deed(session, caller, "athlete.changed", athlete_id, parts.now(), {"changed": sorted(changes)})
    except NameTakenError as error:
        raise name_taken(error) from error
    if athlete is None:
        raise not_found("athlete", athlete_id)
    return athlete


def add_device(
    parts: Parts, caller: Caller, facts: DeviceFacts, retry: Retry | None, answer: Callable[[Device], bytes]
) -> bytes:
    """A new device. Raises Cannot when the name is in use."""
    try:
        return create_once(
            parts, caller, retry, lambda s: DeviceStore(s, caller.club_id).create(facts, parts.now()), answer
        )
    except NameTakenError as error:
        raise name_taken(error) from error


def find_device(parts: Parts, caller: Caller, device_id: str) -> Device:
    """One device."""
    with parts.database.reading() as session:
        device = DeviceStore(session, caller.club_id).get(device_id)
    if device is None or not caller.has_device(device_id):
        raise not_found("device", device_id)
    return device


def list_devices(parts: Parts, caller: Caller, after: str | None, limit: int) -> list[Device]:
    """Devices in order of name."""
    with parts.database.reading() as session:
        return DeviceStore(session, caller.club_id).page(after, limit)


def change_device(
    parts: Parts, caller: Caller, device_id: str, changes: dict[str, Any], mounting: dict[str, Any]
) -> Device:
    """Sets only what is named; streams that already began keep the device as it was."""
    try:
        with parts.database.writing(caller.club_id) as session:
            store = DeviceStore(session, caller.club_id)
            device = store.get(device_id)
            if device is None:
                raise not_found("device", device_id)
            facts = replace(device.facts, **changes, mounting=replace(device.facts.mounting, **mounting))
            changed = store.change(device_id, facts)
    except NameTakenError as error:
        raise name_taken(error) from error
    if changed is None:
        raise not_found("device", device_id)
    return changed


def name_taken(error: NameTakenError) -> Cannot:
    """A name in use, in the words of the caller."""
    return Cannot("name-taken", f"The club already has {error.kind} named {error.name!r}; names are unique.", "/name")
