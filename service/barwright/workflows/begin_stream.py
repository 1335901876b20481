"""A stream begins: who lifts, with which device, what and how heavy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.units import UnknownUnit, factor_to_si
from barwright.ingest.declared_units import read_as_si, units_of
from barwright.ingest.mounting import parse_bar_axis
from barwright.ingest.refusals import Refusal
from barwright.storage.athletes import Athlete, AthleteFacts, AthleteStore
from barwright.storage.calibrations import CalibrationStore
from barwright.storage.devices import Device, DeviceFacts, DeviceStore, Kind, Mounting
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.sets import SetStore
from barwright.storage.streams import NewStream, Stream, StreamStore
from barwright.workflows.cannot import Cannot, not_found, scope_missing, unknown_lift
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts

_LARGEST_LOAD_KG = 600.0  # above every load ever lifted from the floor: a typing error
_CLOCKS_DIFFER = timedelta(days=1)  # of devices and places; a set further ahead would count on a day yet to come


@dataclass(frozen=True, slots=True)
class StreamRequest:
    """What a sender tells of a stream. Athlete and device each by id or by name, not both.

    load_kg: the load as a number in units["load"], kilograms when that is not declared. units: UCUM codes.
    bar_axis: goes before the device's own, for this stream. device_kind: what the samples come from, when it is known.
    notes: plain sentences that belong to the set. velocity_loss: % lost at which the set is to be stopped.
    """

    lift: str
    load_kg: float
    athlete_id: str | None = None
    athlete: str | None = None
    device_id: str | None = None
    device: str | None = None
    started_at: datetime | None = None
    units: dict[str, str] = field(default_factory=dict)
    rate_hz: float | None = None
    bar_axis: str | list[float] | None = None
    device_kind: Kind | None = None
    notes: tuple[str, ...] = ()
    velocity_loss: float | None = None


def begin_stream(
    parts: Parts, caller: Caller, asked: StreamRequest, retry: Retry | None, answer: Callable[[Stream], bytes]
) -> bytes:
    """A new stream. Raises Cannot and Refusal."""
    made: list[Stream] = []

    def create(session: Session) -> Stream:
        made.append(create_stream(parts, session, caller, asked))
        return made[0]

    body = create_once(parts, caller, retry, create, answer)
    for stream in made:  # its first block is on its way
        parts.forms.keep(caller.club_id, stream.form)
    return body


def create_stream(parts: Parts, session: Session, caller: Caller, asked: StreamRequest) -> Stream:
    """A new stream in a session that is already writing."""
    if asked.lift not in LIFTS:
        raise unknown_lift(asked.lift)
    _check_rate(asked.rate_hz, parts)
    load_kg = _load_kg(asked)
    athlete = _athlete(parts, session, caller, asked)
    device = _device(parts, session, caller, asked)
    setup = device.facts
    if asked.bar_axis is not None:
        axis = parse_bar_axis(asked.bar_axis, ("bar_axis",))
        setup = replace(setup, mounting=replace(setup.mounting, bar_axis=axis))
    now = parts.now()
    started_at = _not_to_come(asked.started_at or now, now)
    units = units_of({group: code for group, code in asked.units.items() if group != "load"}, setup.kind)
    notes = _notes(asked, units)
    new = NewStream(athlete.id, device.id, asked.lift, load_kg, started_at, units, asked.rate_hz, setup, notes)
    stream = StreamStore(session, caller.club_id).create(new, now)
    if asked.velocity_loss is not None:
        LiveRunStore(session, caller.club_id).ask_stop(stream.id, asked.velocity_loss)
    if setup.kind == "imu":
        calibration_id = CalibrationStore(session, caller.club_id).last_before(device.id, started_at)
        SetStore(session, caller.club_id).use_calibration(stream.set_id, calibration_id)
    return stream


def _notes(asked: StreamRequest, units: dict[str, str]) -> tuple[str, ...]:
    silent = [group for group in units if group not in asked.units]
    if {"position", "velocity"} <= set(silent):
        return (*asked.notes, "No unit was given: position is read as m, velocity as m/s.")
    return asked.notes + read_as_si(silent)


def _not_to_come(started_at: datetime, now: datetime) -> datetime:
    if started_at > now + _CLOCKS_DIFFER:
        said = (
            f"`started_at` is {started_at.isoformat()}, and it is {now.isoformat()} now; when the set began is right."
        )
        raise Cannot("in-the-future", said, "/started_at")
    return started_at


def _check_rate(rate_hz: float | None, parts: Parts) -> None:
    low, high = parts.limits.lowest_rate_hz, parts.limits.highest_rate_hz
    if rate_hz is not None and not low <= rate_hz <= high:
        raise Refusal(
            "rate-out-of-limits", f"rate_hz is {rate_hz:g}; it has to be from {low:g} to {high:g} Hz.", "/rate_hz"
        )


def _load_kg(asked: StreamRequest) -> float:
    try:
        load_kg = asked.load_kg * factor_to_si(asked.units.get("load", "kg"), "mass")
    except UnknownUnit as unknown:
        raise Refusal("unknown-unit", unknown.detail, "/units/load") from unknown
    if not 0 <= load_kg <= _LARGEST_LOAD_KG:
        raise Cannot(
            "bad-load", f"The load is {load_kg:g} kg; it has to be from 0 to {_LARGEST_LOAD_KG:g} kg.", "/load_kg"
        )
    return load_kg


def _athlete(parts: Parts, session: Session, caller: Caller, asked: StreamRequest) -> Athlete:
    store = AthleteStore(session, caller.club_id)
    if asked.athlete_id is not None:
        found = store.get(asked.athlete_id)
        if found is None:
            raise not_found("athlete", asked.athlete_id, "/athlete_id")
        return found
    assert asked.athlete is not None
    found = store.by_name(asked.athlete)
    if found is None:
        if not caller.may(Scope.ATHLETES_WRITE):
            raise scope_missing(
                Scope.ATHLETES_WRITE, f"add the athlete {asked.athlete!r}, who is not in the club yet", "/athlete"
            )
        found = store.create(AthleteFacts(asked.athlete), parts.now())
    return found


def _checked_kind(found: Device, asked: StreamRequest) -> Device:
    if asked.device_kind not in (None, found.facts.kind):
        raise Cannot(
            "kind-mismatch",
            f"The samples are those of an {asked.device_kind}, and the device {found.facts.name!r} is an "
            f"{found.facts.kind}; name the device that measured them.",
            "/device" if asked.device_id is None else "/device_id",
        )
    return found


def _device(parts: Parts, session: Session, caller: Caller, asked: StreamRequest) -> Device:
    store = DeviceStore(session, caller.club_id)
    if asked.device_id is not None:
        found = store.get(asked.device_id)
        if found is None or not caller.has_device(found.id):
            raise not_found("device", asked.device_id, "/device_id")
        return _checked_kind(found, asked)
    assert asked.device is not None
    found = store.by_name(asked.device)
    if caller.device_id is not None and (found is None or not caller.has_device(found.id)):
        raise not_found("device", asked.device, "/device")
    if found is None:
        mounting = Mounting(bar_axis=None if asked.bar_axis is None else parse_bar_axis(asked.bar_axis, ("bar_axis",)))
        found = store.create(DeviceFacts(asked.device, _kind(asked), mounting), parts.now())
    return _checked_kind(found, asked)


def _kind(asked: StreamRequest) -> Kind:
    """What a device not yet known is: as told, else as the declared units tell."""
    if asked.device_kind is not None:
        return asked.device_kind
    told = asked.units.keys()
    return "encoder" if {"position", "velocity"} & told and not {"accel", "gyro"} & told else "imu"
