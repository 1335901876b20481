"""Calibrations of the devices of one club."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, delete, select, tuple_
from sqlmodel.sql.expression import SelectOfScalar

from barwright.analysis.motion.calibration import Calibration
from barwright.analysis.poses.found import Agreement, Figures, Noise, PoseSeen, SensorFound, Spread
from barwright.analysis.quantities.estimate import Estimate
from barwright.storage.ids import new_id
from barwright.storage.tables import CalibrationRow


@dataclass(frozen=True, slots=True)
class StoredCalibration:
    """What was found of one device, and when."""

    id: str
    device_id: str
    created_at: datetime
    found: SensorFound


class CalibrationStore:
    """Reads and writes the calibrations of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, device_id: str, found: SensorFound, now: datetime) -> StoredCalibration:
        """A new calibration of a device of this club."""
        row = CalibrationRow(
            id=new_id("cal"), club_id=self._club_id, device_id=device_id, created_at=now, found=asdict(found)
        )
        self._session.add(row)
        return StoredCalibration(row.id, device_id, now, found)

    def get(self, calibration_id: str) -> StoredCalibration | None:
        """The calibration with this id."""
        query = select(CalibrationRow).where(CalibrationRow.club_id == self._club_id)
        row = self._session.exec(query.where(CalibrationRow.id == calibration_id)).first()
        return None if row is None else _stored(row)

    def page(self, device_id: str, after: tuple[datetime, str] | None, limit: int) -> list[StoredCalibration]:
        """At most `limit` calibrations of a device, the newest first, those behind (created_at, id) `after`."""
        key = tuple_(col(CalibrationRow.created_at), col(CalibrationRow.id))
        query = select(CalibrationRow).where(CalibrationRow.club_id == self._club_id)
        query = query.where(CalibrationRow.device_id == device_id)
        query = query.order_by(col(CalibrationRow.created_at).desc(), col(CalibrationRow.id).desc())
        if after is not None:
            query = query.where(key < after)
        return [_stored(row) for row in self._session.exec(query.limit(limit))]

    def last_before(self, device_id: str, at: datetime) -> str | None:
        """The id of a device's newest calibration made at that time or before."""
        query = self._ids(device_id).where(col(CalibrationRow.created_at) <= at)
        order = col(CalibrationRow.created_at).desc(), col(CalibrationRow.id).desc()
        return self._session.exec(query.order_by(*order)).first()

    def first_after(self, device_id: str, at: datetime) -> str | None:
        """The id of a device's first calibration made later."""
        query = self._ids(device_id).where(col(CalibrationRow.created_at) > at)
        return self._session.exec(query.order_by(col(CalibrationRow.created_at), col(CalibrationRow.id))).first()

    def delete(self, calibration_id: str) -> None:
        """Takes it away; sets that were analysed with it keep their results."""
        self._session.exec(
            delete(CalibrationRow)
            .where(col(CalibrationRow.club_id) == self._club_id)
            .where(col(CalibrationRow.id) == calibration_id)
        )

    def _ids(self, device_id: str) -> SelectOfScalar[str]:
        return (
            select(CalibrationRow.id)
            .where(CalibrationRow.club_id == self._club_id)
            .where(CalibrationRow.device_id == device_id)
        )


def _stored(row: CalibrationRow) -> StoredCalibration:
    return StoredCalibration(row.id, row.device_id, row.created_at, found_from_json(row.found))


def found_from_json(document: dict[str, Any]) -> SensorFound:
    """What a JSON document made by dataclasses.asdict tells."""
    noise = document["noise"]
    return SensorFound(
        calibration=Calibration(**{name: _tuples(value) for name, value in document["calibration"].items()}),
        accel={name: _figures(figures) for name, figures in document["accel"].items()},
        gyro={name: _figures(figures) for name, figures in document["gyro"].items()},
        turns=document["turns"],
        poses=tuple(PoseSeen(**{**pose, "up": _tuples(pose["up"])}) for pose in document["poses"]),
        spread=Spread(**{**document["spread"], "missing": tuple(document["spread"]["missing"])}),
        agreement=Agreement(**document["agreement"]),
        noise=None if noise is None else _noise(noise),
        peak_before=Estimate(**document["peak_before"]),
        peak_after=Estimate(**document["peak_after"]),
        gravity_told=document["gravity_told"],
        words=tuple(document["words"]),
    )


def _figures(document: dict[str, Any]) -> Figures:
    return {name: Estimate(**figure) for name, figure in document.items()}


def _noise(document: dict[str, Any]) -> Noise:
    figures = {name: Estimate(**one) for name, one in document.items() if isinstance(one, dict)}
    return Noise(**figures, start_s=document["start_s"], stop_s=document["stop_s"])


def _tuples(value: Any) -> Any:
    """Lists of JSON as the tuples they were."""
    return tuple(_tuples(one) for one in value) if isinstance(value, list | tuple) else value
