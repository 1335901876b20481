"""One platform as it is now: the set that is being lifted, or the last one that was."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.access.caller import Caller
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.storage.devices import Device, DeviceStore
from barwright.storage.live_events import EventStore, LiveEvent
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.platforms import LatestSet, latest_of_device
from barwright.storage.sets import SetStore, StoredSet
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.parts import Parts
from barwright.workflows.read_profile import read_zones

_MOST_EVENTS = 500


@dataclass(frozen=True, slots=True)
class SeenRep:
    """One rep as far as it is known. provisional: the set is still going on. velocity: the lift's key measure."""

    index: int
    outcome: str
    provisional: bool
    velocity: Estimate | None
    counts: bool = True


@dataclass(frozen=True, slots=True)
class PlatformNow:
    """latest: None when nothing was ever recorded here. stop: the advice in words, else empty. zone: of the last rep.

    limit: velocity loss (0-1) at which the set is to be stopped, None when nobody told one.
    """

    device: Device
    latest: LatestSet | None
    reps: tuple[SeenRep, ...]
    stop: str
    limit: float | None
    zone: str


def platforms(parts: Parts, caller: Caller) -> list[tuple[Device, LatestSet | None]]:
    """Every device with its latest set, those with the latest news first."""
    with parts.database.reading() as session:
        devices = DeviceStore(session, caller.club_id).page(None, 1000)
        found = [(device, latest_of_device(session, caller.club_id, device.id)) for device in devices]
    return sorted(found, key=lambda pair: -pair[1].began.timestamp() if pair[1] is not None else 0.0)


def watch_platform(parts: Parts, caller: Caller, device_id: str) -> PlatformNow:
    """Raises Cannot when the club has no such device."""
    with parts.database.reading() as session:
        device = DeviceStore(session, caller.club_id).get(device_id)
        if device is None:
            raise not_found("device", device_id)
        latest = latest_of_device(session, caller.club_id, device_id)
        if latest is None:
            return PlatformNow(device, None, (), "", None, "")
        events = EventStore(session, caller.club_id).after(0, _MOST_EVENTS, latest.stream_id)
        stored = SetStore(session, caller.club_id).get(latest.set_id)
        limit = LiveRunStore(session, caller.club_id).get(latest.stream_id).velocity_loss
    measure = LIFTS[latest.lift].key_velocity if latest.lift in LIFTS else "peak_velocity"
    analysed = stored is not None and stored.state == "analysed"
    reps = _stored(stored, measure) if analysed and stored is not None else _told(events, measure)
    stop = next((str(one.data.get("words", "")) for one in reversed(events) if one.kind == "stop_advised"), "")
    share = None if limit is None else limit / 100.0
    return PlatformNow(device, latest, reps, stop, share, _zone(parts, caller, latest, reps))


def _stored(one: StoredSet, measure: str) -> tuple[SeenRep, ...]:
    return tuple(
        SeenRep(rep.index, rep.outcome, False, rep.measures.get(measure), not rep.excluded) for rep in one.reps
    )


def _told(events: list[LiveEvent], measure: str) -> tuple[SeenRep, ...]:
    """What the events of an open set add up to: later ones put earlier ones right."""
    reps: dict[int, SeenRep] = {}
    for one in events:
        if one.kind not in ("rep", "rep_corrected"):
            continue
        rep = one.data["rep"]
        if one.data.get("withdrawn"):
            reps.pop(rep["index"], None)
            continue
        figure = rep["measures"].get(measure)
        velocity = None if figure is None else Estimate(**figure)
        reps[rep["index"]] = SeenRep(rep["index"], rep["outcome"], bool(one.data.get("provisional")), velocity)
    return tuple(reps[index] for index in sorted(reps))


def _zone(parts: Parts, caller: Caller, latest: LatestSet, reps: tuple[SeenRep, ...]) -> str:
    velocity = reps[-1].velocity if reps else None
    if velocity is None or velocity.value is None or velocity.value <= 0:
        return ""
    try:
        found = read_zones(parts, caller, latest.athlete_id, latest.lift, None, velocity.value)
    except Cannot:
        return ""
    if found.asked is not None and found.asked.zone is not None:
        return found.asked.zone.name
    return "" if found.own_zone is None else found.own_zone.name
