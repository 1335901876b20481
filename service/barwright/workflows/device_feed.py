"""A device that only streams: a set opens when its bar moves, and closes when it has lain still for a while."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from threading import Lock

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.quantities.lifts import LIFTS
from barwright.ingest.block import Block, unpack
from barwright.ingest.declared_units import check_declared, units_of
from barwright.ingest.decode import decode_block
from barwright.live.follower import NewBlock
from barwright.live.stillness import Stillness
from barwright.storage.athletes import AthleteFacts, AthleteStore
from barwright.storage.blocks import BlockStore, PackedBlock
from barwright.storage.devices import Device
from barwright.storage.feeds import FeedStore, IdleBlock, NextSet, Piece
from barwright.storage.sets import SetStore
from barwright.storage.streams import StreamStore
from barwright.workflows.athletes_and_devices import find_device
from barwright.workflows.begin_stream import StreamRequest, create_stream
from barwright.workflows.cannot import Cannot, not_found, unknown_lift
from barwright.workflows.close_stream import close_stream
from barwright.workflows.follow_live import si_values
from barwright.workflows.parts import Parts
from barwright.workflows.receive_block import SentBlock, add_block
from barwright.workflows.set_queue import SetQueue

QUIET_S = 20.0  # so long without motion ends a set
BEFORE_S = 3.0  # so much of the rest before the motion belongs to it
IDLE_S = 10.0  # so much is kept while nothing moves
NOBODY = "Not named yet"
_NOTE = "Nobody said who lifts what on this device; put the set right with PATCH /v1/sets/{id}."
Taken = list[tuple[str, Block, bytes]]  # stream, block as numbered there, stored form


@dataclass(frozen=True, slots=True)
class FeedReceipt:
    """stored: False when the block was here before. stream_id, set_id: None while the bar lies still."""

    stored: bool
    stream_id: str | None
    set_id: str | None
    received_at: datetime


@dataclass(slots=True)
class _Feed:
    lock: Lock = field(default_factory=Lock)
    boot: str = ""
    still: Stillness = field(default_factory=Stillness)
    height_m: float = 0.0


class Feeds:
    """What this process remembers of feeds: how still each bar is. It is found again in the stored blocks."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._feeds: dict[str, _Feed] = {}

    def of(self, device_id: str) -> _Feed:
        """The feed of a device."""
        with self._lock:
            return self._feeds.setdefault(device_id, _Feed())


def tell_next(parts: Parts, caller: Caller, device_id: str, told: NextSet, units: dict[str, str]) -> NextSet:
    """What is lifted next on a device. Raises Cannot and Refusal."""
    device = find_device(parts, caller, device_id)
    if told.lift not in LIFTS:
        raise unknown_lift(told.lift)
    if not 0 <= told.load_kg <= 600:
        raise Cannot("bad-load", f"The load is {told.load_kg:g} kg; it has to be from 0 to 600 kg.", "/load_kg")
    known = units_of(units, device.facts.kind)
    with parts.database.writing(caller.club_id) as session:
        if AthleteStore(session, caller.club_id).get(told.athlete_id) is None:
            raise not_found("athlete", told.athlete_id, "/athlete_id")
        FeedStore(session, caller.club_id, device_id).tell(told, known)
    return told


def receive_feed_block(
    parts: Parts, queue: SetQueue, feeds: Feeds, caller: Caller, device_id: str, sent: SentBlock
) -> FeedReceipt:
    """Takes one block whole, knows it already, or refuses it whole. Raises Cannot and Refusal."""
    device = find_device(parts, caller, device_id)
    with parts.database.reading() as session:
        _, units = FeedStore(session, caller.club_id, device_id).told()
    units = units or units_of({}, device.facts.kind)
    kind = device.facts.kind
    block = decode_block(sent.body, sent.content_type, sent.content_encoding, kind, parts.limits, units)
    check_declared(block, units)
    feed = feeds.of(device_id)
    with feed.lock:
        return _take(parts, queue, caller, device, units, feed, block)


def _take(
    parts: Parts, queue: SetQueue, caller: Caller, device: Device, units: dict[str, str], feed: _Feed, block: Block
) -> FeedReceipt:
    now, closed_set = parts.now(), None
    taken: Taken = []
    first, last = int(block.t_us[0]), int(block.t_us[-1])
    if feed.boot != block.boot:
        _remember(parts, caller, device, units, feed, block.boot)
    newest = feed.still.newest_us
    if newest is not None and first - newest > QUIET_S * 1e6:
        feed.still, newest = Stillness(), None  # the service has closed what went on then
    if newest is None or first > newest:
        values, feed.height_m = si_values(block, units, feed.height_m)
        feed.still.add(block.t_us, values)
    with parts.database.writing(caller.club_id) as session:
        store = FeedStore(session, caller.club_id, device.id)
        piece = store.piece_of(block.boot, block.seq)
        if piece is None:
            idle = IdleBlock(block.seq, first, last, block.pack())
            stored = store.keep_idle(block.boot, idle, max(last, newest or last) - round(IDLE_S * 1e6))
            if stored and feed.still.moved and store.open_piece() is None:
                piece, taken = _open(parts, session, caller, device, units, feed, block.boot, store)
        else:
            stored, closed_set, taken = _join(parts, session, caller, piece, block)
        quiet = piece is not None and piece.last_seq is None and feed.still.still_s >= QUIET_S
        if piece is not None and quiet:
            store.end_piece(piece.stream_id, block.seq)
            feed.still.moved = False
        stream = None if piece is None else StreamStore(session, caller.club_id).get(piece.stream_id)
    parts.live.take([NewBlock(caller.club_id, *one) for one in taken])
    if closed_set is not None:
        queue.request(caller.club_id, closed_set)
    if piece is not None and quiet:
        close_stream(parts, queue, caller, piece.stream_id)
    return FeedReceipt(stored, stream.id if stream else None, stream.set_id if stream else None, now)


def _join(parts: Parts, session: Session, caller: Caller, piece: Piece, block: Block) -> tuple[bool, str | None, Taken]:
    """A block of a set that is open, or was; with the set that has to be analysed anew, and what to follow live."""
    streams = StreamStore(session, caller.club_id)
    stream, closed = streams.get(piece.stream_id), streams.take_turn(piece.stream_id)
    if stream is None or closed is None:
        raise not_found("stream", piece.stream_id)
    numbered = replace(block, seq=block.seq - piece.first_seq)
    packed = PackedBlock.of(numbered)
    stored, _ = add_block(BlockStore(session, stream), packed, parts.limits, parts.now())
    if stored and closed:
        SetStore(session, caller.club_id).mark_analysing(stream.set_id)
    taken: Taken = [(stream.id, numbered, packed.body)] if stored and not closed else []
    return stored, stream.set_id if stored and closed else None, taken


def _open(
    parts: Parts,
    session: Session,
    caller: Caller,
    device: Device,
    units: dict[str, str],
    feed: _Feed,
    boot: str,
    store: FeedStore,
) -> tuple[Piece, Taken]:
    """The bar moves: a stream with the rest before it."""
    motion_us, newest_us = feed.still.motion_us or 0, feed.still.newest_us or 0
    blocks = [one for one in store.idle(boot) if one.last_us >= motion_us - round(BEFORE_S * 1e6)]
    told, _ = store.told()
    notes = () if told is not None else (_NOTE,)
    started_at = parts.now() - timedelta(seconds=(newest_us - motion_us) * 1e-6)
    asked = StreamRequest(
        lift="snatch" if told is None else told.lift,
        load_kg=0.0 if told is None else told.load_kg,
        athlete_id=_nobody(parts, session, caller) if told is None else told.athlete_id,
        device_id=device.id,
        started_at=started_at,
        units=units,
        notes=notes,
        velocity_loss=None if told is None else told.velocity_loss,
    )
    stream = create_stream(parts, session, caller, asked)
    first_seq = blocks[0].seq
    store.begin_piece(stream.id, boot, first_seq)
    taken: Taken = []
    for one in blocks:
        numbered = replace(unpack(one.body), seq=one.seq - first_seq)
        packed = PackedBlock.of(numbered)
        add_block(BlockStore(session, stream), packed, parts.limits, parts.now())
        taken.append((stream.id, numbered, packed.body))
    store.drop_idle()
    return Piece(stream.id, boot, first_seq, None), taken


def _nobody(parts: Parts, session: Session, caller: Caller) -> str:
    store = AthleteStore(session, caller.club_id)
    found = store.by_name(NOBODY) or store.create(AthleteFacts(NOBODY), parts.now())
    return found.id


def _remember(parts: Parts, caller: Caller, device: Device, units: dict[str, str], feed: _Feed, boot: str) -> None:
    """How still the bar is, from the blocks that are stored: after a restart, or when the device started anew."""
    feed.boot, feed.still, feed.height_m = boot, Stillness(), 0.0
    with parts.database.reading() as session:
        store = FeedStore(session, caller.club_id, device.id)
        piece = store.open_piece()
        bodies = [one.body for one in store.idle(boot)]
        if piece is not None and piece.boot == boot:
            stream = StreamStore(session, caller.club_id).get(piece.stream_id)
            bodies = [] if stream is None else BlockStore(session, stream).unpacked_of(boot, None)
            feed.still.moved = True
    for body in bodies:
        block = unpack(body)
        values, feed.height_m = si_values(block, units, feed.height_m)
        feed.still.add(block.t_us, values)
