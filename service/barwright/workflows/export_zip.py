"""Everything of one athlete as a zip of plain files that any spreadsheet or program opens, made piece by piece."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, fields
from datetime import date, datetime
from typing import Any

import numpy as np

from barwright.access.caller import Caller
from barwright.analysis.quantities.estimate import Estimate
from barwright.ingest.block import Block
from barwright.storage.athletes import Athlete
from barwright.storage.live_events import EventStore
from barwright.storage.prescriptions import PrescriptionStore
from barwright.storage.sets import SetStore, StoredRep, StoredSet
from barwright.storage.told_readiness import ToldReadinessStore
from barwright.workflows.athletes_and_devices import find_athlete
from barwright.workflows.forget_athlete import EverythingOfStream, Training, export_athlete, export_training
from barwright.workflows.parts import Parts

_README = """\
Everything Barwright keeps of {name}, as of {now}.

All files are UTF-8. Tables are CSV (RFC 4180), the rest is JSON. Times are UTC (RFC 3339), lengths metres, masses
kilograms, unless a column says otherwise. Every measured figure stands with u, its standard uncertainty.

athlete.json       what was told of the person, with the day of consent and the note about the guardian
maxima.csv         tested maxima
told_sets.csv      sets that a file of history told
plans.json         plans, day by day
decisions.csv      where the coach decided otherwise than the service, and why
drills.csv         drills that were given
told_readiness.csv the verdict on each day that addresses of the club were told last
sets.csv           recorded sets; streams.csv what they were recorded with, units of the samples too
reps.csv           reps of the sets; figures.csv their measured figures; phases.csv their phases
corrections.csv    what a person corrected of a set or rep
events.jsonl       what was told while sets went on, one JSON document a line
blocks.csv         blocks of samples as they arrived: which rows of which file under samples/ came in which block
paths/             the bar's path over each rep: t_s, x_m (forward), z_m (up), velocities, and u of each
samples/           the raw samples, one file for each start of the device: t_us of the device's clock, and the columns
                   in the units of streams.csv. `barwright analyse FILE` reads them, for example with
                   --units accel=[g],gyro=deg/s
{lost}
Worked out anew from these whenever they are asked for, and so not in here: profiles, readiness, loads, technique.
"""

Row = Sequence[Any]


class _Sink(io.RawIOBase):
    """Where the zip is written; what has come so far is taken away and sent on."""

    def __init__(self) -> None:
        self._pieces: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, piece: Any) -> int:
        self._pieces.append(bytes(piece))
        return len(piece)

    def take(self) -> bytes:
        """What was written since the last time."""
        whole = b"".join(self._pieces)
        self._pieces.clear()
        return whole


def export_zip(parts: Parts, caller: Caller, athlete_id: str) -> Iterator[bytes]:
    """The bytes of the zip, a stream's files at a time. Raises Cannot when the club has no such athlete."""
    athlete = find_athlete(parts, caller, athlete_id)  # before the first byte, while it can still be a problem
    training = export_training(parts, caller, athlete_id)
    return _pieces(parts, caller, athlete, training)


def _pieces(parts: Parts, caller: Caller, athlete: Athlete, training: Training) -> Iterator[bytes]:
    sink = _Sink()
    tables = _Tables()
    lost = []
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in _facts(parts, caller, athlete, training).items():
            archive.writestr(name, text)
        for one in export_athlete(parts, caller, athlete.id):
            for name, text in _of_stream(parts, caller, one, tables):
                archive.writestr(name, text)
                yield sink.take()
            if one.lost is not None:
                lost.append(f"Of stream {one.stream.id} there are no raw samples in here: {one.lost}")
        for name, text in tables.files():
            archive.writestr(name, text)
        told = "\n".join(["", *lost, ""]) if lost else ""
        archive.writestr("README.txt", _README.format(name=athlete.facts.name, now=_plain(parts.now()), lost=told))
    yield sink.take()


def _facts(parts: Parts, caller: Caller, athlete: Athlete, training: Training) -> dict[str, str]:
    with parts.database.reading() as session:
        drills = PrescriptionStore(session, caller.club_id).of_athlete(athlete.id)
        readiness = ToldReadinessStore(session, caller.club_id).of_athlete(athlete.id)
    told = {"id": athlete.id, **asdict(athlete.facts), "created_at": athlete.created_at}
    return {
        "athlete.json": _json(told),
        "maxima.csv": _flat(training.maxima),
        "told_sets.csv": _flat(training.told_sets),
        "plans.json": _json([asdict(one) for one in training.plans]),
        "decisions.csv": _flat(training.decisions),
        "drills.csv": _flat(drills),
        "told_readiness.csv": _flat(readiness),
    }


class _Tables:
    """Rows that are gathered over all streams."""

    def __init__(self) -> None:
        self._rows: dict[str, list[Row]] = {name: [] for name in _HEADS}

    def add(self, table: str, row: Row) -> None:
        self._rows[table].append(row)

    def files(self) -> Iterator[tuple[str, str]]:
        for name, rows in self._rows.items():
            if name == "events.jsonl":
                yield name, "".join(f"{one[0]}\n" for one in rows)
            else:
                yield name, _csv(_HEADS[name], rows)


_HEADS: dict[str, Row] = {
    "sets.csv": (
        "set_id", "stream_id", "lift", "load_kg", "started_at", "state", "revision", "method", "verdict", "words",
        "notes", "reason", "analysed_at", "calibration_id",
    ),
    "streams.csv": (
        "stream_id", "device", "lift", "load_kg", "started_at", "units", "rate_hz", "setup", "notes", "created_at",
        "closed_at", "raw_digest",
    ),
    "reps.csv": (
        "set_id", "rep", "outcome", "analysed_outcome", "excluded", "correction", "start_s", "stop_s", "notes",
    ),
    "figures.csv": ("set_id", "rep", "of", "name", "value", "u", "unit", "reason"),
    "phases.csv": ("set_id", "rep", "phase", "start_s", "stop_s", "sure", "start_u_s", "stop_u_s"),
    "corrections.csv": ("set_id", "rep", "changes", "reason", "created_at"),
    "blocks.csv": ("stream_id", "boot", "seq", "file", "first_row", "rows", "sent_at", "buffered"),
    "events.jsonl": (),
}  # fmt: skip


def _of_stream(parts: Parts, caller: Caller, one: EverythingOfStream, tables: _Tables) -> Iterator[tuple[str, str]]:
    stream, told, lift_set = one.stream, one.stream.told, one.lift_set
    digest = None if stream.raw is None else stream.raw.digest
    tables.add(
        "streams.csv",
        (stream.id, stream.device_name, told.lift, told.load_kg, told.started_at, told.units, told.rate_hz,
         asdict(told.setup), told.notes, stream.created_at, stream.closed_at, digest),
    )  # fmt: skip
    _add_set(tables, lift_set)
    with parts.database.reading() as session:
        events, last = EventStore(session, caller.club_id), 0
        while found := events.after(last, 500, stream.id):
            last = found[-1].id
            for event in found:
                tables.add("events.jsonl", (_line({"kind": event.kind, "at": event.at, "data": event.data}),))
    yield from _samples(one, tables)
    for rep in lift_set.reps:
        with parts.database.reading() as session:
            path = SetStore(session, caller.club_id).path(lift_set.id, rep.index)
        if path is not None:
            columns = {field.name: getattr(path, field.name) for field in fields(path)}
            known = {name: column for name, column in columns.items() if column is not None}
            yield f"paths/{lift_set.id}.{rep.index}.csv", _columns(known)


def _add_set(tables: _Tables, one: StoredSet) -> None:
    quality = one.quality
    tables.add(
        "sets.csv",
        (one.id, one.stream_id, one.lift, one.load_kg, one.started_at, one.state, one.revision, one.method,
         None if quality is None else quality.verdict, None if quality is None else quality.words,
         one.notes, one.reason, one.analysed_at, one.calibration_id),
    )  # fmt: skip
    for told in one.corrections:
        tables.add("corrections.csv", (one.id, told.rep, told.changes, told.reason, told.created_at))
    for rep in one.reps:
        _add_rep(tables, one.id, rep)


def _add_rep(tables: _Tables, set_id: str, rep: StoredRep) -> None:
    tables.add(
        "reps.csv",
        (set_id, rep.index, rep.outcome, rep.analysed_outcome, rep.excluded, rep.correction, rep.start_s, rep.stop_s,
         rep.notes),
    )  # fmt: skip
    for of, figures in (("rep", rep.measures), ("path", rep.path_measures)):
        for name, figure in figures.items():
            tables.add("figures.csv", (set_id, rep.index, of, name, *_estimate(figure)))
    for phase in rep.phases:
        tables.add("phases.csv", (set_id, rep.index, *asdict(phase).values()))


def _estimate(figure: Estimate) -> Row:
    return figure.value, figure.u, figure.unit, figure.reason


def _samples(one: EverythingOfStream, tables: _Tables) -> Iterator[tuple[str, str]]:
    """One file for each start of the device; the blocks of a start in order."""
    of_boot: dict[str, list[Block]] = {}
    for block in one.blocks:
        of_boot.setdefault(block.boot, []).append(block)
    for number, (boot, blocks) in enumerate(of_boot.items(), 1):
        name, row = f"samples/{one.stream.id}.{number}.csv", 1
        blocks.sort(key=lambda block: block.seq)
        for block in blocks:
            rows = len(block.t_us)
            told = (one.stream.id, boot, block.seq, name, row, rows, block.sent_at, block.buffered)
            tables.add("blocks.csv", told)
            row += rows
        channels = sorted(blocks[0].channels)
        columns: dict[str, Any] = {"t_us": np.concatenate([block.t_us for block in blocks])}
        columns |= {channel: np.concatenate([block.channels[channel] for block in blocks]) for channel in channels}
        yield name, _columns(columns)


def _columns(columns: dict[str, Any]) -> str:
    """Numbers in the shortest form that reads back as the same number."""
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return ",".join(columns) + "\r\n" + "".join(",".join(map(repr, row)) + "\r\n" for row in rows)


def _flat(items: Iterable[Any]) -> str:
    """Dataclasses as rows; one inside another has its members in the row of the outer one."""
    rows = [_members(asdict(one)) for one in items]
    head = list(dict.fromkeys(name for row in rows for name in row))
    return _csv(head, [[row.get(name) for name in head] for row in rows])


def _members(told: dict[str, Any]) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in told.items():
        flat |= _members(value) if name == "told" and isinstance(value, dict) else {name: value}
    return flat


def _csv(head: Row, rows: Iterable[Row]) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(head)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return text.getvalue()


def _cell(value: Any) -> Any:
    """Text that a spreadsheet would take for a formula is marked as text; documents become JSON."""
    if isinstance(value, str):
        return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
    if isinstance(value, (list, tuple, dict)):
        return _line(value)
    return _plain(value) if isinstance(value, (datetime, date)) else value


def _plain(moment: datetime | date) -> str:
    return moment.isoformat().replace("+00:00", "Z")


def _line(document: Any) -> str:
    return json.dumps(document, ensure_ascii=False, default=_plain)


def _json(document: Any) -> str:
    return json.dumps(document, ensure_ascii=False, default=_plain, indent=2) + "\n"
