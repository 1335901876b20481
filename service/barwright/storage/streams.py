"""Streams of one club."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import bindparam
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select, tuple_
from sqlmodel.sql.expression import Select

from barwright.storage.devices import DeviceFacts, Kind, facts_as_json, facts_from_json
from barwright.storage.ids import new_id
from barwright.storage.notices import CLOSED, give_notice
from barwright.storage.raw_objects import StoredObject
from barwright.storage.tables import METADATA, AthleteRow, DeviceRow, SetRow, StreamRow


@dataclass(frozen=True, slots=True)
class NewStream:
    """What is told when a stream begins. setup: the device as it is now; later changes of the device leave it alone.

    units: group of channels (accel, gyro, position, velocity) -> UCUM code. notes: plain sentences for the set.
    """

    athlete_id: str
    device_id: str
    lift: str
    load_kg: float
    started_at: datetime
    units: dict[str, str]
    rate_hz: float | None
    setup: DeviceFacts
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StreamForm:
    """What a block of a stream has to fit: the kind of sensor and the declared units."""

    id: str
    set_id: str
    kind: Kind
    units: dict[str, str]
    device_id: str


@dataclass(frozen=True, slots=True)
class Stream:
    """One stream and the set it becomes."""

    id: str
    set_id: str
    athlete_name: str
    device_name: str
    told: NewStream
    created_at: datetime
    closed_at: datetime | None
    raw: StoredObject | None

    @property
    def form(self) -> StreamForm:
        """What its blocks have to fit."""
        told = self.told
        return StreamForm(self.id, self.set_id, told.setup.kind, told.units, told.device_id)


_TABLE = METADATA.tables["stream"]
_TURN = (
    select(_TABLE.c.closed_at)
    .where(_TABLE.c.club_id == bindparam("of_club"), _TABLE.c.id == bindparam("of_stream"))
    .with_for_update()
)


_SET = METADATA.tables["lift_set"]
_FORM = (
    select_columns(_TABLE.c.id, _SET.c.id, _TABLE.c.setup, _TABLE.c.units, _TABLE.c.device_id)
    .join(_SET, _SET.c.stream_id == _TABLE.c.id)
    .where(_TABLE.c.club_id == bindparam("of_club"), _TABLE.c.id == bindparam("of_stream"))
)


class StreamStore:
    """Reads and writes the streams of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, new: NewStream, now: datetime) -> Stream:
        """A new stream with its still open set."""
        row = StreamRow(
            id=new_id("str"),
            club_id=self._club_id,
            athlete_id=new.athlete_id,
            device_id=new.device_id,
            lift=new.lift,
            load_kg=new.load_kg,
            started_at=new.started_at,
            units=new.units,
            rate_hz=new.rate_hz,
            setup=facts_as_json(new.setup),
            notes=list(new.notes),
            created_at=now,
        )
        self._session.add(row)
        self._session.flush()
        self._session.add(
            SetRow(
                id=new_id("set"),
                club_id=self._club_id,
                stream_id=row.id,
                athlete_id=new.athlete_id,
                device_id=new.device_id,
                lift=new.lift,
                load_kg=new.load_kg,
                started_at=new.started_at,
                state="open",
                notes=[],
            )
        )
        self._session.flush()
        stream = self.get(row.id)
        assert stream is not None
        return stream

    def get(self, stream_id: str) -> Stream | None:
        """The stream with this id."""
        found = self._session.exec(self._all().where(StreamRow.id == stream_id)).first()
        return None if found is None else _stream(*found)

    def several(self, stream_ids: Iterable[str]) -> list[Stream]:
        """Those that there are, in the order of their ids."""
        query = self._all().where(col(StreamRow.id).in_(set(stream_ids))).order_by(col(StreamRow.id))
        return [_stream(*found) for found in self._session.exec(query)]

    def form(self, stream_id: str) -> StreamForm | None:
        """The little of a stream that every block asks for."""
        asked = {"of_club": self._club_id, "of_stream": stream_id}
        row = self._session.connection().execute(_FORM, asked).first()
        return None if row is None else StreamForm(row[0], row[1], row[2]["kind"], row[3], row[4])

    def take_turn(self, stream_id: str) -> bool | None:
        """Whether the stream is closed, None when there is none; no other writer gets at it until the session ends."""
        turn = self._session.connection().execute(_TURN, {"of_club": self._club_id, "of_stream": stream_id}).first()
        return None if turn is None else turn[0] is not None

    def page(self, after: tuple[datetime, str] | None, limit: int) -> list[Stream]:
        """At most `limit` streams, the newest first, those behind (created_at, id) `after`."""
        key = tuple_(col(StreamRow.created_at), col(StreamRow.id))
        query = self._all().order_by(col(StreamRow.created_at).desc(), col(StreamRow.id).desc())
        if after is not None:
            query = query.where(key < after)
        return [_stream(*found) for found in self._session.exec(query.limit(limit))]

    def of_athlete(self, athlete_id: str) -> list[Stream]:
        """Every stream of one athlete, the oldest first."""
        query = self._all().where(StreamRow.athlete_id == athlete_id)
        query = query.order_by(col(StreamRow.created_at), col(StreamRow.id))
        return [_stream(*found) for found in self._session.exec(query)]

    def close(self, stream_id: str, now: datetime) -> None:
        """Marks the stream as closed; the time of the first closing stays."""
        row = self._row(stream_id)
        if row.closed_at is None:
            row.closed_at = now
            give_notice(self._session, CLOSED, stream_id)

    def record_object(self, stream_id: str, stored: StoredObject) -> None:
        """Notes where the stream's samples now are."""
        row = self._row(stream_id)
        row.raw_object, row.raw_digest = stored.name, stored.digest

    def _row(self, stream_id: str) -> StreamRow:
        return self._session.exec(
            select(StreamRow).where(StreamRow.club_id == self._club_id).where(StreamRow.id == stream_id)
        ).one()

    def _all(self) -> Select[StreamRow, str, str, str]:
        return (
            select(StreamRow, SetRow.id, AthleteRow.name, DeviceRow.name)
            .where(StreamRow.club_id == self._club_id)
            .join(SetRow, col(SetRow.stream_id) == col(StreamRow.id))
            .join(AthleteRow, col(AthleteRow.id) == col(StreamRow.athlete_id))
            .join(DeviceRow, col(DeviceRow.id) == col(StreamRow.device_id))
        )


def names_of_all_objects(session: Session) -> frozenset[str]:
    """Every raw object that any stream of any club knows."""
    return frozenset(name for name in session.exec(select(StreamRow.raw_object)) if name is not None)


def _stream(row: StreamRow, set_id: str, athlete_name: str, device_name: str) -> Stream:
    told = NewStream(
        row.athlete_id,
        row.device_id,
        row.lift,
        row.load_kg,
        row.started_at,
        row.units,
        row.rate_hz,
        facts_from_json(row.setup),
        tuple(row.notes),
    )
    raw = None
    if row.raw_object is not None and row.raw_digest is not None:
        raw = StoredObject(row.raw_object, row.raw_digest)
    return Stream(row.id, set_id, athlete_name, device_name, told, row.created_at, row.closed_at, raw)
