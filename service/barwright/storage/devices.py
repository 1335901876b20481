"""Devices of one club."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any, Literal

from sqlmodel import Session, col, select

from barwright.storage.ids import new_id
from barwright.storage.names import unique_name
from barwright.storage.tables import DeviceRow

Kind = Literal["imu", "encoder"]


@dataclass(frozen=True, slots=True)
class Mounting:
    """How the sensor sits. bar_axis: unit vector, sensor frame, along the bar to the lifter's left; None if unknown.

    place: shaft or sleeve; along_m: how far from the bar's middle, to the lifter's left. anchor_offset_m,
    anchor_height_m: where an encoder's string leaves its housing.
    """

    bar_axis: tuple[float, float, float] | None = None
    place: str = "shaft"
    anchor_offset_m: float | None = None
    anchor_height_m: float = 0.0
    along_m: float | None = None


@dataclass(frozen=True, slots=True)
class DeviceFacts:
    """What its owner tells about a device. ranges: full scale by group of channels, accel m/s2, gyro rad/s."""

    name: str
    kind: Kind
    mounting: Mounting = field(default_factory=Mounting)
    device_class: str | None = None
    ranges: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Device:
    """One device."""

    id: str
    facts: DeviceFacts
    created_at: datetime


class DeviceStore:
    """Reads and writes the devices of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, facts: DeviceFacts, now: datetime) -> Device:
        """A new device. Raises NameTakenError."""
        row = DeviceRow(id=new_id("dev"), club_id=self._club_id, created_at=now, **_columns(facts))
        with unique_name(self._session, "a device", facts.name):
            self._session.add(row)
        return _device(row)

    def get(self, device_id: str) -> Device | None:
        """The device with this id."""
        row = self._row(device_id)
        return None if row is None else _device(row)

    def by_name(self, name: str) -> Device | None:
        """The device with exactly this name."""
        row = self._session.exec(
            select(DeviceRow).where(DeviceRow.club_id == self._club_id).where(DeviceRow.name == name)
        ).first()
        return None if row is None else _device(row)

    def page(self, after: str | None, limit: int) -> list[Device]:
        """At most `limit` devices in order of name, those after the name `after`."""
        query = select(DeviceRow).where(DeviceRow.club_id == self._club_id).order_by(col(DeviceRow.name))
        if after is not None:
            query = query.where(DeviceRow.name > after)
        return [_device(row) for row in self._session.exec(query.limit(limit))]

    def change(self, device_id: str, facts: DeviceFacts) -> Device | None:
        """Replaces the facts; streams that already began keep theirs. Raises NameTakenError."""
        row = self._row(device_id)
        if row is None:
            return None
        with unique_name(self._session, "a device", facts.name):
            row.sqlmodel_update(_columns(facts))
        return _device(row)

    def _row(self, device_id: str) -> DeviceRow | None:
        return self._session.exec(
            select(DeviceRow).where(DeviceRow.club_id == self._club_id).where(DeviceRow.id == device_id)
        ).first()


def facts_as_json(facts: DeviceFacts) -> dict[str, Any]:
    """The facts as a JSON document; `facts_from_json` reads it back."""
    return asdict(facts)


def facts_from_json(document: dict[str, Any]) -> DeviceFacts:
    """The facts a document of `facts_as_json` tells."""
    return DeviceFacts(
        document["name"],
        document["kind"],
        _mounting(document["mounting"]),
        document["device_class"],
        document["ranges"],
    )


def _columns(facts: DeviceFacts) -> dict[str, Any]:
    return facts_as_json(facts)


def _mounting(document: dict[str, Any]) -> Mounting:
    axis = document["bar_axis"]
    return Mounting(**{**document, "bar_axis": None if axis is None else (axis[0], axis[1], axis[2])})


def _device(row: DeviceRow) -> Device:
    return Device(row.id, facts_from_json(row.model_dump()), row.created_at)
