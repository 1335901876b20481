"""The client that is awaited: the same methods as Client."""

from __future__ import annotations

from collections.abc import AsyncIterator
from types import TracebackType
from typing import TYPE_CHECKING, Self, Unpack

from barwright_client import bench_calls, calls, records, stream_calls, technique_calls, training_calls
from barwright_client.answers import Stream
from barwright_client.attempts import RetryPolicy
from barwright_client.blocks import BlockWriter, CutBy
from barwright_client.events import Event, Resume
from barwright_client.live_sender import AsyncLiveSender
from barwright_client.live_stream import AsyncStreamWriter
from barwright_client.methods import asks_async, lists_async
from barwright_client.replay import Replayed, replay
from barwright_client.spool import Spool
from barwright_client.stream_calls import About, about_of, events_path
from barwright_client.stream_core import StreamCore

if TYPE_CHECKING:
    from barwright_client.transport import AsyncHttpClient


class AsyncClient:
    """A Barwright service and one key, for asyncio: `async with AsyncClient(...)`.

    The methods of Client, awaited; lists are gone through by `async for`. http: an httpx.AsyncClient of your own.
    """

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout_s: float = 20.0,
        http: AsyncHttpClient | None = None,
        retry: RetryPolicy | None = None,
    ) -> None:
        from barwright_client.transport import AsyncTransport, Service

        self._transport = AsyncTransport(Service(base_url, key, timeout_s, retry or RetryPolicy()), http)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections (not those of an `http` handed in)."""
        await self._transport.close()

    create_athlete = asks_async(calls.create_athlete)
    athletes = lists_async(calls.athletes)
    delete_athlete = asks_async(calls.delete_athlete)
    export_athlete = asks_async(calls.export_athlete)
    export_athlete_zip = asks_async(calls.export_athlete_zip)

    create_device = asks_async(calls.create_device)
    devices = lists_async(calls.devices)
    calibrate = asks_async(calls.calibrate)
    calibrations = lists_async(calls.calibrations)
    calibration = asks_async(calls.calibration)
    delete_calibration = asks_async(calls.delete_calibration)
    check_device = asks_async(bench_calls.check_device)
    device_checks = lists_async(bench_calls.device_checks)
    check_known_motion = asks_async(bench_calls.check_known_motion)
    set_up_string = asks_async(bench_calls.set_up_string)
    keys = lists_async(records.keys)
    make_key = asks_async(records.make_key)
    replace_key = asks_async(records.replace_key)
    revoke_key = asks_async(records.revoke_key)
    audit = lists_async(records.audit)
    analyses = lists_async(records.analyses)

    record = asks_async(stream_calls.record)
    preview = asks_async(stream_calls.preview)
    sets = lists_async(calls.sets)
    set = asks_async(calls.read_set)
    reanalyse = asks_async(calls.reanalyse)
    path = asks_async(calls.path)

    technique = asks_async(technique_calls.technique)
    compare = asks_async(technique_calls.compare)
    give_drill = asks_async(technique_calls.give_drill)
    given_drills = lists_async(technique_calls.given_drills)
    end_drill = asks_async(technique_calls.end_drill)
    drills = lists_async(technique_calls.drills)
    drill = asks_async(technique_calls.drill)
    add_drill = asks_async(technique_calls.add_drill)
    change_drill = asks_async(technique_calls.change_drill)
    restore_drill = asks_async(technique_calls.restore_drill)
    review = lists_async(technique_calls.review)
    looked_at = asks_async(technique_calls.looked_at)
    set_remote = asks_async(technique_calls.set_remote)

    profile = asks_async(training_calls.profile)
    zones = asks_async(training_calls.zones)
    readiness = asks_async(training_calls.readiness)
    club_readiness = asks_async(training_calls.club_readiness)
    plan = asks_async(training_calls.plan)
    plans = lists_async(training_calls.plans)
    loads = asks_async(training_calls.loads)
    decide_load = asks_async(training_calls.decide_load)
    lift_cap = asks_async(training_calls.lift_cap)
    tell_maximum = asks_async(training_calls.tell_maximum)
    maxima = lists_async(training_calls.maxima)
    take_back_maximum = asks_async(training_calls.take_back_maximum)
    import_history = asks_async(training_calls.import_history)
    history_csv = asks_async(training_calls.history_csv)
    velocity_loss = asks_async(training_calls.velocity_loss)
    correct_set = asks_async(training_calls.correct_set)
    correct_rep = asks_async(training_calls.correct_rep)
    club = asks_async(training_calls.club)
    change_club = asks_async(training_calls.change_club)
    rep_max = asks_async(training_calls.rep_max)

    limits = asks_async(calls.limits)
    gym = asks_async(calls.gym)
    lifts = asks_async(calls.lifts)

    async def stream(self, *, cut_by: CutBy | None = None, **about: Unpack[About]) -> AsyncStreamWriter:
        """Open a stream to push samples into while the set goes on; see Client.stream()."""
        opened = await self._transport.send(stream_calls.open_stream(**about))
        return AsyncStreamWriter(self._transport, opened, BlockWriter(cut_by or CutBy()))

    def live(
        self,
        spool: Spool | None = None,
        *,
        cut_by: CutBy | None = None,
        wait_s: float = 10.0,
        **about: Unpack[About],
    ) -> AsyncLiveSender:
        """Send a set while it is lifted, over a network that may fail: samples go into the spool first.

        spool: where they are kept until they are sent; a folder of its own that ends with the program when left out.
        wait_s: how long the end of the `with` waits for the network. The rest as for stream().
        """
        kept = spool or Spool.temporary()
        writer = BlockWriter(cut_by or CutBy(age_s=0.25))
        return AsyncLiveSender(self._transport, kept, about_of(**about), writer, wait_s=wait_s)

    async def replay(self, spool: Spool, *, end: bool = False) -> Replayed:
        """Send what a spool still holds, the oldest first, and close its sets that ended.

        end: those a killed program left in mid-set have ended too; not while a sender still fills the spool.
        """
        return await self._transport.walk(replay(spool, end=end))

    async def events(
        self, stream: Stream | StreamCore | str | None = None, *, last_id: int | None = None, until_closed: bool = True
    ) -> AsyncIterator[Event]:
        """Events as they happen, over as many connections as it takes; see Client.events()."""
        path = events_path(stream)
        async for event in self._transport.listen(path, Resume(last_id)):
            yield event
            if stream is not None and until_closed and event.kind == "set_closed":
                return
