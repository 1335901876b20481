"""Sets followed while they are lifted: a stored block comes in, a look is taken when one is due, events go out."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from threading import Lock
from typing import Any

import numpy as np

from barwright.analysis.motion.calibration import Calibration
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.units import factor_to_si
from barwright.ingest.block import Block, unpack
from barwright.ingest.declared_units import QUANTITY_OF, group_of
from barwright.live.hub import Hub
from barwright.live.looks import Looks
from barwright.live.notices import Notices
from barwright.live.run import Change, Found, HeldBlock, KnownRep, LiveRun, Memory, Window
from barwright.live.stillness import Floats
from barwright.storage.blocks import BlockStore, BootSpan
from barwright.storage.calibrations import CalibrationStore
from barwright.storage.live_events import EventStore, NewEvent
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.notices import BLOCKS, CLOSED, give_notice
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.storage.sets import SetStore
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.analysis_job import Broken
from barwright.workflows.event_data import event, loss_json, rep_json
from barwright.workflows.live_job import LiveJob
from barwright.workflows.stop_limit import StopLimit, loss_so_far, stop_limit
from barwright.workflows.webhook_messages import enqueue_events

log = logging.getLogger(__name__)

LOST_INTEREST_S = 900.0  # a stream that sent nothing for so long is read from the database when it goes on
BETWEEN_STARTS_S = 1.0  # as the analysis of a whole set joins the parts of a device that started anew


@dataclass(frozen=True, slots=True)
class _News:
    """A block that has just become durable."""

    club_id: str
    stream_id: str
    block: Block
    packed: bytes


@dataclass(slots=True)
class _Open:
    """One followed stream. height_m: where an encoder that tells velocity got to. kept: what the row remembers."""

    club_id: str
    stream: Stream
    calibration: Calibration | None
    limit: StopLimit | None
    run: LiveRun
    kept: Any
    lock: Lock = field(default_factory=Lock)
    busy: bool = False
    height_m: float = 0.0
    used_at: float = 0.0


class LiveRuns:
    """Every open stream that this process follows; of several on one database each stream is followed by one.

    Safe to use from any thread.

    analyse: does one look and waits for it; in the service it hands it to another process. warm: gets that one ready.
    """

    def __init__(
        self,
        database: Database,
        hub: Hub,
        analyse: Callable[[LiveJob], Found | Broken | None],
        now: Callable[[], datetime],
        threads: int,
        warm: Callable[[], object] = lambda: None,
    ) -> None:
        self._database = database
        self._hub = hub
        self._analyse = analyse
        self._now = now
        self._warm = warm
        self._lock = Lock()
        self._open: dict[str, _Open] = {}
        self._looks = Looks(threads)
        self._turns = database.turns("live")
        self._elsewhere = ThreadPoolExecutor(1, thread_name_prefix="blocks-elsewhere")  # one keeps them in order

    def take(self, club_id: str, stream_id: str, block: Block, packed: bytes) -> None:
        """A block of an open stream is stored. Never raises for what goes wrong here: the block is safe."""
        news = _News(club_id, stream_id, block, packed)
        try:
            one = self._of(news)
            if one is None:
                return
            with one.lock:
                self._add(one, news.block, news.packed)
                self._look_if_due(one)
        except Exception:  # the block is durable and must be acknowledged; the whole set is analysed in the end
            log.exception("stream %s: a block could not be followed", stream_id)

    def forget(self, stream_id: str) -> None:
        """The stream is closed."""
        with self._lock:
            self._open.pop(stream_id, None)
        self._turns.give_back(stream_id)

    def connect(self, notices: Notices) -> None:
        """Hears of blocks that came, and of streams that were closed, in other processes."""
        notices.hear(BLOCKS, self._heard)
        notices.hear(CLOSED, lambda ids: self.forget(ids[0]))

    def count(self) -> int:
        """Streams followed now."""
        with self._lock:
            return len(self._open)

    def close(self) -> None:
        """Lets the present looks end; what was to be seen is seen again after the next start."""
        self._elsewhere.shutdown(wait=True, cancel_futures=True)
        self._looks.close()
        self._turns.close()

    def _of(self, news: _News) -> _Open | None:
        now = time.monotonic()
        with self._lock:
            found = self._open.get(news.stream_id)
            if found is not None:
                found.used_at = now
                return found
            stale = [key for key, one in self._open.items() if now - one.used_at > LOST_INTEREST_S and not one.busy]
            for key in stale:
                del self._open[key]
        for key in stale:
            self._turns.give_back(key)
        if not self._turns.take(news.stream_id):
            self._elsewhere.submit(self._pass_on, news)
            return None
        made = self._read(news)
        if made is None:
            self._turns.give_back(news.stream_id)
            return None
        made.used_at = now
        with self._lock:
            return self._open.setdefault(news.stream_id, made)

    def _pass_on(self, news: _News) -> None:
        """Another process follows the stream: it is told of the block, and reads it where it is stored."""
        try:
            with self._database.writing() as session:
                give_notice(session, BLOCKS, news.club_id, news.stream_id, news.block.boot, news.block.seq)
        except StorageUnavailableError as error:  # the next block shows the way again
            log.warning("stream %s: a block was not passed on: %s", news.stream_id, error)

    def _heard(self, ids: list[Any]) -> None:
        _, stream_id, boot, seq = ids
        with self._lock:
            one = self._open.get(stream_id)
        if one is not None:
            self._elsewhere.submit(self._take_stored, one, boot, seq)

    def _take_stored(self, one: _Open, boot: str, seq: int) -> None:
        try:
            with self._database.reading() as session:
                body = BlockStore(session, one.stream).unpacked_one(boot, seq)
            if body is not None:
                with one.lock:
                    self._add(one, unpack(body), body)
                    self._look_if_due(one)
        except Exception:  # as for a block that came here
            log.exception("stream %s: a block could not be followed", one.stream.id)

    def _read(self, news: _News) -> _Open | None:
        """The stream as it is stored, with the blocks since the last agreed rest."""
        with self._database.reading() as session:
            stream = StreamStore(session, news.club_id).get(news.stream_id)
            if stream is None or stream.closed_at is not None:
                return None
            kept = LiveRunStore(session, news.club_id).get(stream.id)
            blocks = BlockStore(session, stream)
            memory = None if kept.memory is None else memory_of(kept.memory)
            since = memory.from_us if memory is not None and memory.boot == news.block.boot else None
            bodies = blocks.unpacked_of(news.block.boot, since)
            limit = stop_limit(session, news.club_id, stream)
            lift_set = SetStore(session, news.club_id).get(stream.set_id)
            wanted = None if lift_set is None else lift_set.calibration_id
            calibration = None if wanted is None else CalibrationStore(session, news.club_id).get(wanted)
        if not self._open:
            self._warm()
        run = LiveRun(LIFTS[stream.told.lift], stream.told.setup.kind, memory)
        constants = None if calibration is None else calibration.found.calibration
        one = _Open(news.club_id, stream, constants, limit, run, kept.memory)
        if memory is None:
            self._tell_opened(one)
        for body in bodies:
            self._add(one, unpack(body), body)
        return one

    def _add(self, one: _Open, block: Block, packed: bytes) -> None:
        memory = one.run.memory
        offset_s = None
        if memory is None or memory.boot != block.boot:
            with self._database.reading() as session:
                offset_s = offset_of(BlockStore(session, one.stream).spans(), block.boot)
        held = HeldBlock(block.seq, int(block.t_us[0]), int(block.t_us[-1]), packed)
        values, one.height_m = si_values(block, one.stream.told.units, one.height_m)
        one.run.add(block.boot, held, block.t_us, values, offset_s)

    def _look_if_due(self, one: _Open) -> None:
        if not one.busy and one.run.due():
            pressing, window = one.run.pressing, one.run.look()
            one.busy = self._looks.submit(lambda: self._look(one, window), pressing)

    def _look(self, one: _Open, window: Window) -> None:
        try:
            found = self._analyse(LiveJob(window, one.stream.told, one.calibration))
            with one.lock:
                if isinstance(found, Found):
                    self._fold(one, window, found)
                elif found is not None:
                    log.error("stream %s: a look at the open set failed\n%s", one.stream.id, found.log)
        except Exception:  # this thread must go on with the next stream; the whole set is analysed in the end
            log.exception("stream %s: a look at the open set was lost", one.stream.id)
        with one.lock:
            one.busy = False
            self._look_if_due(one)

    def _fold(self, one: _Open, window: Window, found: Found) -> None:
        changes = one.run.fold(window, found)
        if not changes:
            return
        events = [_rep_event(one.stream, change, window, found) for change in changes]
        memory = one.run.memory
        assert memory is not None
        if one.limit is not None and not memory.loss_told:
            lost = loss_so_far(memory.reps, one.limit)
            if lost is not None and lost.found.stop:
                events.append(event("stop_advised", one.stream, **loss_json(lost)))
                one.run.memory = memory = replace(memory, loss_told=True)
        self._tell(one, events, memory)

    def _tell_opened(self, one: _Open) -> None:
        opened = event("set_opened", one.stream, started_at=one.stream.told.started_at.isoformat())
        with self._database.writing(one.club_id) as session:
            events, streams = EventStore(session, one.club_id), StreamStore(session, one.club_id)
            if events.newest_id(one.stream.id) or streams.take_turn(one.stream.id) is not False:
                return
            kept = events.add([opened], self._now())
        self._hub.publish(kept)

    def _tell(self, one: _Open, events: list[NewEvent], memory: Memory | None) -> None:
        """Events and what is remembered of them are kept together; only then anybody hears of them."""
        with self._database.writing(one.club_id) as session:
            if StreamStore(session, one.club_id).take_turn(one.stream.id) is not False:
                return  # closed or erased in between: the analysis of the whole set tells the rest
            runs = LiveRunStore(session, one.club_id)
            if runs.get(one.stream.id).memory != one.kept:  # followed elsewhere too: its events are the ones that count
                self.forget(one.stream.id)
                return
            kept = EventStore(session, one.club_id).add(events, self._now())
            enqueue_events(session, one.club_id, kept, self._now())
            if memory is not None:
                runs.remember(one.stream.id, asdict(memory))
        if memory is not None:
            one.kept = json.loads(json.dumps(asdict(memory)))  # as it is read from the row
        self._hub.publish(kept)


def offset_of(spans: list[BootSpan], boot: str) -> float:
    """Seconds of the stream at which a device start begins, as the analysis of the whole set joins them."""
    out = 0.0
    for span in spans:
        if span.boot == boot:
            break
        out += (span.last_us - span.first_us) * 1e-6 + BETWEEN_STARTS_S
    return out


def memory_of(kept: dict[str, Any]) -> Memory:
    """What was kept of a run."""
    return Memory(**{**kept, "reps": tuple(KnownRep(**rep) for rep in kept["reps"])})


def si_values(block: Block, units: dict[str, str], height_m: float) -> tuple[Floats, float]:
    """(n, 6) force and rates or (n, 1) height, SI, and the height reached.

    Of an encoder that tells velocity the height, from height_m on, only shows rest.
    """
    columns = []
    for name in block.channels:
        group = group_of(name)
        columns.append(block.channels[name] * factor_to_si(units[group], QUANTITY_OF[group]))
    if "velocity" in block.channels:
        steps = np.diff(block.t_us, prepend=block.t_us[:1]) * 1e-6
        columns[0] = height_m + np.cumsum(columns[0] * steps)
    return np.column_stack(columns), float(columns[0][-1])


def _rep_event(stream: Stream, change: Change, window: Window, found: Found) -> NewEvent:
    memory = window.memory
    return event(
        "rep_corrected" if change.corrected else "rep",
        stream,
        provisional=True,
        withdrawn=False,
        rep=rep_json(change.index, change.rep),
        rests_on={
            "boot": memory.boot,
            "seq": window.newest.seq,
            "from_s": memory.stream_s(memory.from_us),
            "to_s": found.stop_s,
        },
    )
