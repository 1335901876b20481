"""Blocks of many streams kept in one transaction: the same rows as one by one, in a few statements for all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Dialect, Insert, bindparam, insert, select, tuple_, update
from sqlmodel import Session

from barwright.storage.blocks import BootSpan, PackedBlock
from barwright.storage.tables import METADATA

_STREAM, _BLOCK, _BODY, _START = (METADATA.tables[name] for name in ("stream", "block", "block_body", "device_start"))
_WANTED: Any = bindparam("wanted", expanding=True)
_TURNS = (
    select(_STREAM.c.id, _STREAM.c.closed_at)
    .where(tuple_(_STREAM.c.club_id, _STREAM.c.id).in_(_WANTED))
    .order_by(_STREAM.c.id)  # always in this order: two that wait for each other would wait for ever
    .with_for_update()
)
_SPANS = (
    select(_START.c.stream_id, *[_START.c[field.name] for field in fields(BootSpan)])
    .where(_START.c.stream_id.in_(bindparam("of_streams", expanding=True)))
    .order_by(_START.c.id)
)
_NEW_START = insert(_START)
_NEW_BLOCK = insert(_BLOCK).values({name: bindparam(name) for name in _BLOCK.c.keys() if name != "id"}).inline()  # noqa: SIM118
_NEW_BODY = insert(_BODY).from_select(
    ["block_id", "stream_id", "body"],
    select(_BLOCK.c.id, _BLOCK.c.stream_id, bindparam("packed", type_=_BODY.c.body.type)).where(
        _BLOCK.c.stream_id == bindparam("of_stream"),
        _BLOCK.c.boot == bindparam("of_boot"),
        _BLOCK.c.seq == bindparam("of_seq"),
    ),
)
_GROWN = (
    update(_START)
    .where(_START.c.stream_id == bindparam("of_stream"), _START.c.boot == bindparam("of_boot"))
    .values(
        **{field.name: bindparam(f"now_{field.name}", type_=_START.c[field.name].type) for field in fields(BootSpan)}
    )
)


@dataclass(frozen=True, slots=True)
class KeptBlock:
    """A block of one stream, to be kept."""

    stream_id: str
    block: PackedBlock


class ArrivalStore:
    """The streams of several clubs at once; each is found by its club first."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def take_turns(self, wanted: Iterable[tuple[str, str]]) -> dict[str, bool]:
        """Of (club, stream) those that exist: whether each is closed; nobody else writes them until the end."""
        rows = self._run(_TURNS, {"wanted": sorted(set(wanted))})
        return {stream_id: closed_at is not None for stream_id, closed_at in rows}

    def spans(self, stream_ids: Iterable[str]) -> dict[str, dict[str, BootSpan]]:
        """What has come, per stream and device start, in the order in which the starts were first heard of."""
        found: dict[str, dict[str, BootSpan]] = {one: {} for one in stream_ids}
        for stream_id, *span in self._run(_SPANS, {"of_streams": sorted(found)}):
            found[stream_id][span[0]] = BootSpan(*span)
        return found

    def add_blocks(self, kept: Sequence[KeptBlock], now: datetime) -> None:
        """Keeps blocks that are known to be new."""
        if not kept:
            return
        connection = self._session.connection()
        to_driver = _BLOCK.c.received_at.type.dialect_impl(connection.dialect).bind_processor(connection.dialect)
        received_at = now if to_driver is None else to_driver(now)
        _run_many(
            connection,
            _NEW_BLOCK,
            [
                {
                    "stream_id": one.stream_id,
                    "boot": one.block.boot,
                    "seq": one.block.seq,
                    "digest": one.block.digest,
                    "samples": one.block.samples,
                    "first_us": one.block.first_us,
                    "last_us": one.block.last_us,
                    "received_at": received_at,
                }
                for one in kept
            ],
        )
        _run_many(
            connection,
            _NEW_BODY,
            [
                {
                    "of_stream": one.stream_id,
                    "of_boot": one.block.boot,
                    "of_seq": one.block.seq,
                    "packed": one.block.body,
                }
                for one in kept
            ],
        )

    def keep_spans(self, spans: dict[tuple[str, str], BootSpan], known: set[tuple[str, str]]) -> None:
        """What has come by (stream, boot); known: those that have a row already."""
        new = [{"stream_id": which[0], **_columns(span)} for which, span in spans.items() if which not in known]
        if new:
            self._run(_NEW_START, new)
        grown = [
            {"of_stream": which[0], "of_boot": which[1], **_columns(span, "now_")}
            for which, span in spans.items()
            if which in known
        ]
        if grown:
            self._run(_GROWN, grown)

    def _run(self, statement: Any, values: Any) -> Any:
        return self._session.connection().execute(statement, values)


def _run_many(connection: Connection, statement: Insert, rows: list[dict[str, Any]]) -> None:
    """Once for each row, of values as the driver takes them: the toolkit does as much for a row as the database."""
    text, order = _compiled(statement, connection.dialect)
    connection.exec_driver_sql(text, rows if order is None else [tuple(map(row.__getitem__, order)) for row in rows])


@lru_cache(maxsize=16)  # a dialect belongs to a database; tests open many
def _compiled(statement: Insert, dialect: Dialect) -> tuple[str, list[str] | None]:
    """Its text, and the order of its parameters where the driver goes by place."""
    compiled: Any = statement.compile(dialect=dialect)
    return str(compiled), compiled.positiontup


_NAMES = tuple(field.name for field in fields(BootSpan))


def _columns(span: BootSpan, before: str = "") -> dict[str, Any]:
    return {before + name: getattr(span, name) for name in _NAMES}
