"""Sets followed while they are lifted: a stored block comes in, a look is taken when one is due, events go out."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from queue import Queue
from threading import Lock, Thread
from typing import Any

import numpy as np

from barwright.analysis.motion.calibration import Calibration
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.units import factor_to_si
from barwright.ingest.block import IMU_CHANNELS, Block, unpack
from barwright.ingest.declared_units import QUANTITY_OF, group_of
from barwright.live.follower import NewBlock
from barwright.live.hub import Hub
from barwright.live.looks import Looks
from barwright.live.notices import Notices
from barwright.live.run import Change, Found, HeldBlock, LiveRun, Memory, Window
from barwright.live.stillness import Floats
from barwright.storage.blocks import BlockStore
from barwright.storage.live_events import EventStore, NewEvent
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.notices import BLOCKS, CLOSED, give_notice
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.analysis_job import Broken
from barwright.workflows.begin_following import Beginning, find_beginnings, offset_of, tell_opened
from barwright.workflows.event_data import event, loss_json, rep_json
from barwright.workflows.live_job import LiveJob
from barwright.workflows.stop_limit import StopLimit, loss_so_far
from barwright.workflows.webhook_messages import enqueue_events

log = logging.getLogger(__name__)

MOST_BEHIND = 8  # groups of blocks that may wait to be followed; then those who store more wait too
LOST_INTEREST_S = 900.0  # a stream that sent nothing for so long is read from the database when it goes on


@dataclass(slots=True)
class _Open:
    """One followed stream. height_m: where an encoder that tells velocity got to. kept: what the row remembers.

    start: the newest device start that was looked up, and where in the stream it begins, s.
    """

    club_id: str
    stream: Stream
    calibration: Calibration | None
    limit: StopLimit | None
    run: LiveRun
    kept: Any
    start: tuple[str, float]
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
        self._closing = False
        self._news: Queue[Sequence[NewBlock] | None] = Queue(MOST_BEHIND)
        self._thread = Thread(target=self._work, name="follow", daemon=True)
        self._thread.start()

    def take(self, news: Sequence[NewBlock]) -> None:
        """These are stored. They are followed in their order, in a thread of its own: the next ones can be stored."""
        if news and not self._closing:
            self._news.put(news)

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
        self._closing = True
        self._news.put(None)
        self._thread.join()
        self._elsewhere.shutdown(wait=True, cancel_futures=True)
        self._looks.close()
        self._turns.close()

    def _work(self) -> None:
        while (news := self._news.get()) is not None:
            elsewhere = self._begin(news)
            for one in news:
                if one.stream_id in elsewhere:
                    self._elsewhere.submit(self._pass_on, one)
                else:
                    self._follow(one)
            self._news.task_done()

    def _follow(self, news: NewBlock) -> None:
        with self._lock:
            one = self._open.get(news.stream_id)
        if one is None:
            return
        one.used_at = time.monotonic()
        try:
            with one.lock:
                self._add(one, news.block, news.packed)
                self._look_if_due(one)
        except Exception:  # the block is safe, and this thread must go on; the whole set is analysed in the end
            log.exception("stream %s: a block could not be followed", news.stream_id)

    def _begin(self, news: Sequence[NewBlock]) -> set[str]:
        """Begins to follow streams that are not followed yet; answers those that another process follows."""
        with self._lock:
            new = {one.stream_id: one for one in reversed(news) if one.stream_id not in self._open}
        if not new:
            return set()
        self._leave_stale()
        elsewhere = {one for one in new if not self._turns.take(one)}
        clubs: dict[str, dict[str, str]] = {}
        for one in new.values():
            if one.stream_id not in elsewhere:
                clubs.setdefault(one.club_id, {})[one.stream_id] = one.block.boot
        for club_id, boots in clubs.items():
            begun: dict[str, _Open] = {}
            try:
                begun = self._read(club_id, boots)
            except Exception:  # the next block of each stream is the next try
                log.exception("streams %s: they could not be followed", ", ".join(boots))
            for stream_id in boots.keys() - begun.keys():
                self._turns.give_back(stream_id)
            with self._lock:
                self._open.update(begun)
        return elsewhere

    def _leave_stale(self) -> None:
        now = time.monotonic()
        with self._lock:
            stale = [key for key, one in self._open.items() if now - one.used_at > LOST_INTEREST_S and not one.busy]
            for key in stale:
                del self._open[key]
        for key in stale:
            self._turns.give_back(key)

    def _pass_on(self, news: NewBlock) -> None:
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

    def _read(self, club_id: str, boots: dict[str, str]) -> dict[str, _Open]:
        """Those of these streams that are open, with their blocks since the last agreed rest."""
        with self._database.reading() as session:
            found = find_beginnings(session, club_id, boots)
        if found and not self._open:
            self._warm()
        never = [one.stream for one in found if one.memory is None]
        if never:
            self._hub.publish(tell_opened(self._database, club_id, never, self._now()))
        return {one.stream.id: self._begun(club_id, one, boots[one.stream.id]) for one in found}

    def _begun(self, club_id: str, found: Beginning, boot: str) -> _Open:
        stream, now = found.stream, time.monotonic()
        run = LiveRun(LIFTS[stream.told.lift], stream.told.setup.kind, found.memory)
        start = boot, found.offset_s
        one = _Open(club_id, stream, found.calibration, found.limit, run, found.kept, start, used_at=now)
        for body in found.bodies:
            self._add(one, unpack(body), body)
        return one

    def _add(self, one: _Open, block: Block, packed: bytes) -> None:
        memory = one.run.memory
        if (memory is None or memory.boot != block.boot) and one.start[0] != block.boot:
            with self._database.reading() as session:
                one.start = block.boot, offset_of(BlockStore(session, one.stream).spans(), block.boot)
        held = HeldBlock(block.seq, int(block.t_us[0]), int(block.t_us[-1]), packed)
        values, one.height_m = si_values(block, one.stream.told.units, one.height_m)
        one.run.add(block.boot, held, block.t_us, values, one.start[1])

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


def si_values(block: Block, units: dict[str, str], height_m: float) -> tuple[Floats, float]:
    """(n, 6) force and rates or (n, 1) height, SI, and the height reached.

    Of an encoder that tells velocity the height, from height_m on, only shows rest.
    """
    names = IMU_CHANNELS if IMU_CHANNELS[0] in block.channels else tuple(block.channels)  # a string beside says no more
    factors = [factor_to_si(units[group], QUANTITY_OF[group]) for group in map(group_of, names)]
    rows = np.array([block.channels[name] for name in names]) * np.array(factors)[:, None]
    if "velocity" in names:
        steps = np.diff(block.t_us, prepend=block.t_us[:1]) * 1e-6
        rows[0] = height_m + np.cumsum(rows[0] * steps)
    return rows.T, float(rows[0, -1])


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
