"""Rows held against raw samples: is everything there that was acknowledged, and is it what was sent?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from barwright.ingest.block import Block, unpack_many
from barwright.ingest.sequence import missing_ranges
from barwright.storage.raw_objects import DamagedObjectError, ListedObject, RawObjects
from barwright.storage.sessions import Database
from barwright.storage.streams import names_of_all_objects
from barwright.storage.verifying import (
    RowsOfStream,
    doomed_names,
    rows_of_stream,
    stream_ids,
    troubles_of_database,
)

_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Wrong:
    """where: the database, or a stream's id."""

    where: str
    detail: str


@dataclass(slots=True)
class Verdict:
    """wrong: what has to be put right. gaps: (stream, boot, [first, last] numbers that never came), which is no damage.

    extra: objects that no stream names: left behind by a crash, or of a set that is being kept just now.
    """

    streams: int = 0
    blocks: int = 0
    objects: int = 0
    object_bytes: int = 0
    thinned: int = 0
    open_sets: int = 0
    unfinished_sets: int = 0
    gaps: list[tuple[str, str, list[int]]] = field(default_factory=list)
    extra: list[ListedObject] = field(default_factory=list)
    wrong: list[Wrong] = field(default_factory=list)


def verify(database: Database, raw: RawObjects, read_raw: bool = True) -> Verdict:
    """Looks at everything of every club. A service may go on meanwhile. read_raw False: only that objects are there.

    Raises StorageUnavailableError.
    """
    found = Verdict()
    with database.reading() as session:
        found.wrong += [Wrong("database", detail) for detail in troubles_of_database(session)]
    listed = {one.name: one for one in raw.all()}
    for stream_id in _ids(database):
        # What looks wrong may have been replaced between two looks; twice is enough to be sure.
        for _ in range(3):
            with database.reading() as session:
                rows = rows_of_stream(session, stream_id)
            if rows is None:
                break
            wrong = list(_of_stream(rows, raw, read_raw, listed))
            if not wrong:
                break
        if rows is not None:
            _count(found, rows)
            found.wrong += [Wrong(stream_id, detail) for detail in wrong]
    with database.reading() as session:
        known = names_of_all_objects(session) | doomed_names(session)
    found.extra = [one for one in raw.all() if one.name not in known]
    found.objects = len(listed)
    found.object_bytes = sum(one.size for one in listed.values())
    return found


def _ids(database: Database) -> Iterator[str]:
    after = ""
    while True:
        with database.reading() as session:
            ids = stream_ids(session, after, _AT_ONCE)
        if not ids:
            return
        yield from ids
        after = ids[-1]


def _count(found: Verdict, rows: RowsOfStream) -> None:
    found.streams += 1
    found.blocks += len(rows.blocks)
    found.thinned += rows.thinned is not None
    found.open_sets += rows.state == "open"
    found.unfinished_sets += rows.state == "analysing"
    for boot in rows.counted:
        seqs = sorted(seq for of_boot, seq in rows.blocks if of_boot == boot)
        found.gaps += [(rows.stream_id, boot, pair) for pair in missing_ranges(seqs)]


def _of_stream(rows: RowsOfStream, raw: RawObjects, read_raw: bool, listed: dict[str, ListedObject]) -> Iterator[str]:
    if rows.set_id is None:
        yield "there is no set of this stream"
    elif rows.closed != (rows.state != "open"):
        yield f"the stream is {'closed' if rows.closed else 'open'} and its set {rows.set_id} is {rows.state}"
    elif rows.state in ("analysed", "failed") and not rows.revision:
        yield f"the set {rows.set_id} is {rows.state} and was never analysed"
    if rows.starts != rows.counted:
        yield f"what was counted of its device starts is {rows.starts}, and its blocks are {rows.counted}"
    if rows.raw is not None and not read_raw:
        if rows.raw.name not in listed:
            yield f"the raw object {rows.raw.name} is gone"
        return
    try:
        packed = [] if rows.raw is None else [raw.get(rows.raw)]
        blocks = [block for stored in (*packed, *rows.loose) for block in unpack_many(stored)]
    except (DamagedObjectError, ValueError) as error:
        yield str(error)
        return
    if rows.thinned in (None, "packed"):
        yield from _of_blocks(rows, blocks)


def _of_blocks(rows: RowsOfStream, blocks: list[Block]) -> Iterator[str]:
    there = {(block.boot, block.seq): block.digest() for block in blocks}
    if len(there) != len(blocks):
        yield f"{len(blocks) - len(there)} of its blocks are there twice"
    for identity in sorted(rows.blocks.keys() - there.keys()):
        yield f"block {identity[1]} of boot {identity[0]!r} was acknowledged and its samples are gone"
    for identity in sorted(there.keys() - rows.blocks.keys()):
        yield f"block {identity[1]} of boot {identity[0]!r} has samples and no row"
    for identity in sorted(rows.blocks.keys() & there.keys()):
        if rows.blocks[identity] != there[identity]:
            yield f"block {identity[1]} of boot {identity[0]!r} holds other samples than were acknowledged"
