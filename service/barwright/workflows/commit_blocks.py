"""Blocks become durable, as many at once as have come: one commit for all costs hardly more than for one."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import datetime
from queue import Empty, SimpleQueue
from threading import Lock, Thread

from sqlmodel import Session

from barwright.ingest.block import Block
from barwright.ingest.limits import MIB, Limits
from barwright.ingest.recording_of import other_content
from barwright.ingest.refusals import Refusal
from barwright.storage.arrivals import ArrivalStore, KeptBlock
from barwright.storage.blocks import Around, BlockStore, BootSpan, PackedBlock
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.storage.sets import SetStore
from barwright.storage.streams import StreamForm
from barwright.workflows.block_order import check_length, check_order
from barwright.workflows.cannot import Cannot, not_found

log = logging.getLogger(__name__)

MOST_BLOCKS, MOST_BYTES = 64, 16 * MIB  # of one commit


@dataclass(frozen=True, slots=True)
class Arrival:
    """A checked block on its way into the database."""

    club_id: str
    form: StreamForm
    block: Block
    packed: PackedBlock


@dataclass(frozen=True, slots=True)
class BlockReceipt:
    """stored: False when this very block was here before. missing: rising [first, last] pairs below next_seq."""

    stored: bool
    next_seq: int
    missing: list[list[int]]
    received_at: datetime


@dataclass(frozen=True, slots=True)
class Kept:
    """A block that is durable now, or was before. closed: its stream is closed, so that its set is analysed anew."""

    receipt: BlockReceipt
    closed: bool


Outcome = Kept | Refusal | Cannot | StorageUnavailableError
AfterCommit = Callable[[Sequence[tuple[Arrival, Kept]]], None]


def commit_arrivals(database: Database, limits: Limits, now: datetime, arrivals: Sequence[Arrival]) -> list[Outcome]:
    """Keeps every block that fits, in order; one that does not fit keeps no other from being kept.

    Raises StorageUnavailableError when nothing at all was kept.
    """
    with database.writing() as session:
        return _Group(session, limits, now).keep(arrivals)


class _Group:
    """Blocks on their way into one transaction."""

    def __init__(self, session: Session, limits: Limits, now: datetime) -> None:
        self._session, self._limits, self._now = session, limits, now
        self._store = ArrivalStore(session)
        self._closed: dict[str, bool] = {}
        self._spans: dict[str, dict[str, BootSpan]] = {}
        self._waiting: list[KeptBlock] = []

    def keep(self, arrivals: Sequence[Arrival]) -> list[Outcome]:
        self._closed = self._store.take_turns((one.club_id, one.form.id) for one in arrivals)
        self._spans = self._store.spans(self._closed)
        known = {(stream_id, boot) for stream_id, spans in self._spans.items() for boot in spans}
        done = [self._one(arrival) for arrival in arrivals]
        self._flush()
        changed = {
            (one.form.id, one.packed.boot): one for one, stored in zip(arrivals, done, strict=True) if stored is True
        }
        self._store.keep_spans({which: self._spans[which[0]][which[1]] for which in changed}, known)
        for club_id, set_id in {
            (one.club_id, one.form.set_id) for one in changed.values() if self._closed[one.form.id]
        }:
            SetStore(self._session, club_id).mark_analysing(set_id)
        received: dict[tuple[str, str], tuple[int, list[list[int]]]] = {}
        return [self._outcome(*each, received) for each in zip(arrivals, done, strict=True)]

    def _one(self, arrival: Arrival) -> bool | Refusal | Cannot:
        try:
            return self._add(arrival)
        except (Refusal, Cannot) as error:
            return error

    def _add(self, arrival: Arrival) -> bool:
        form, block = arrival.form, arrival.packed
        if form.id not in self._closed:  # erased in between
            raise not_found("stream", form.id)
        spans = self._spans[form.id]
        known = spans.get(block.boot)
        around = self._around(form, known, block.seq)
        if known is not None and around.digest == block.digest:
            return False
        if around.digest is not None:
            raise other_content(block.boot, block.seq)
        check_order(around, block)
        grown = block.alone() if known is None else known.with_block(block)
        check_length({**spans, block.boot: grown}.values(), self._limits)
        spans[block.boot] = grown
        self._waiting.append(KeptBlock(form.id, block))
        return True

    def _around(self, form: StreamForm, known: BootSpan | None, seq: int) -> Around:
        if known is not None and seq <= known.last_seq:
            self._flush()  # what is looked for may be one of those that wait
        return BlockStore(self._session, form).around(known, seq)

    def _flush(self) -> None:
        self._store.add_blocks(self._waiting, self._now)
        self._waiting = []

    def _outcome(
        self,
        arrival: Arrival,
        done: bool | Refusal | Cannot,
        received: dict[tuple[str, str], tuple[int, list[list[int]]]],
    ) -> Outcome:
        if not isinstance(done, bool):
            return done
        which = (arrival.form.id, arrival.packed.boot)
        if which not in received:
            span = self._spans[which[0]][which[1]]
            received[which] = BlockStore(self._session, arrival.form).missing(span)
        next_seq, missing = received[which]
        return Kept(BlockReceipt(done, next_seq, missing, self._now), self._closed[arrival.form.id])


class BlockWriter:
    """One thread that commits what has come while the commit before was under way. Safe to use from any thread.

    after: is told of the blocks that are durable now and were not before, in order.
    """

    def __init__(self, database: Database, limits: Limits, now: Callable[[], datetime], after: AfterCommit) -> None:
        self._database, self._limits, self._now, self._after = database, limits, now, after
        self._arrived: SimpleQueue[_Waiting | None] = SimpleQueue()
        self._lock = Lock()
        self._closing = False
        self._thread = Thread(target=self._work, name="blocks", daemon=True)
        self._thread.start()

    def store_soon(self, arrival: Arrival) -> asyncio.Future[BlockReceipt]:
        """Done in the running loop when the block is durable; with Cannot, Refusal, StorageUnavailableError if not."""
        loop = asyncio.get_running_loop()
        future: asyncio.Future[BlockReceipt] = loop.create_future()
        self._put(_Waiting(arrival, future, loop))
        return future

    def store(self, arrival: Arrival) -> BlockReceipt:
        """The same from a thread of one's own."""
        future: Future[BlockReceipt] = Future()
        self._put(_Waiting(arrival, future, None))
        return future.result()

    def close(self) -> None:
        """Keeps what has come, and takes no more."""
        with self._lock:
            self._closing = True
            self._arrived.put(None)
        self._thread.join()

    def _put(self, one: _Waiting) -> None:
        with self._lock:
            if self._closing:
                raise StorageUnavailableError("the service stops")
            self._arrived.put(one)

    def _work(self) -> None:
        going_on = True
        while going_on:
            group, going_on = self._take()
            if group:
                outcomes = self._commit(group)
                _answer(group, outcomes)
                self._follow(group, outcomes)

    def _take(self) -> tuple[list[_Waiting], bool]:
        """What has come, at least one, in order; and whether more may come."""
        first = self._arrived.get()
        group: list[_Waiting] = []
        while first is not None:
            group.append(first)
            if len(group) == MOST_BLOCKS or sum(len(one.arrival.packed.body) for one in group) > MOST_BYTES:
                return group, True
            try:
                first = self._arrived.get_nowait()
            except Empty:
                return group, True
        return group, False

    def _commit(self, group: list[_Waiting]) -> list[Outcome | Exception]:
        arrivals = [one.arrival for one in group]
        try:
            return [*commit_arrivals(self._database, self._limits, self._now(), arrivals)]
        except StorageUnavailableError as error:
            return [error] * len(group)
        except Exception as error:  # a mistake of ours: whoever brought it on is found out, and the others are kept
            if len(group) == 1:
                return [error]
            return [self._commit([one])[0] for one in group]

    def _follow(self, group: list[_Waiting], outcomes: list[Outcome | Exception]) -> None:
        new = [
            (one.arrival, outcome)
            for one, outcome in zip(group, outcomes, strict=True)
            if isinstance(outcome, Kept) and outcome.receipt.stored
        ]
        try:
            self._after(new)
        except Exception:  # they are durable, and those that come next must be kept
            log.exception("%d blocks are stored but were not passed on", len(new))


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A block and who waits for it. loop: of an asyncio future, None for one of a thread."""

    arrival: Arrival
    future: asyncio.Future[BlockReceipt] | Future[BlockReceipt]
    loop: asyncio.AbstractEventLoop | None


def _answer(group: list[_Waiting], outcomes: list[Outcome | Exception]) -> None:
    """Tells everybody how it went; a loop is woken once for all that wait in it."""
    in_loops: dict[asyncio.AbstractEventLoop, list[tuple[_Waiting, Outcome | Exception]]] = {}
    for one, outcome in zip(group, outcomes, strict=True):
        if one.loop is None:
            _settle([(one, outcome)])
        else:
            in_loops.setdefault(one.loop, []).append((one, outcome))
    for loop, answers in in_loops.items():
        try:
            loop.call_soon_threadsafe(_settle, answers)
        except RuntimeError:  # the loop has ended, and whoever waited in it
            continue


def _settle(answers: list[tuple[_Waiting, Outcome | Exception]]) -> None:
    for one, outcome in answers:
        if one.future.done():  # whoever waited has gone
            continue
        if isinstance(outcome, Kept):
            one.future.set_result(outcome.receipt)
        else:
            one.future.set_exception(outcome)
