"""The client that blocks: one method per thing the service does. Arguments and texts are those of the calls."""

from __future__ import annotations

from collections.abc import Iterator
from types import TracebackType
from typing import TYPE_CHECKING, Self, Unpack

from barwright_client import bench_calls, calls, records, stream_calls, technique_calls, training_calls
from barwright_client.answers import Stream
from barwright_client.attempts import RetryPolicy
from barwright_client.blocks import BlockWriter, CutBy
from barwright_client.events import Event, Resume
from barwright_client.live_sender import LiveSender
from barwright_client.live_stream import StreamWriter
from barwright_client.methods import asks, lists
from barwright_client.replay import Replayed, replay
from barwright_client.spool import Spool
from barwright_client.stream_calls import About, about_of, events_path
from barwright_client.stream_core import StreamCore

if TYPE_CHECKING:
    from barwright_client.transport import HttpClient


class Client:
    """A Barwright service and one key. Use it as a context manager, or close() it.

    base_url: such as http://127.0.0.1:8400. timeout_s: for each step of each try. http: an httpx.Client of your own
    (proxies, certificates, tests); it stays yours to close. retry: see RetryPolicy.
    Every method raises the errors of `barwright_client.errors`.
    """

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout_s: float = 20.0,
        http: HttpClient | None = None,
        retry: RetryPolicy | None = None,
    ) -> None:
        from barwright_client.transport import Service, Transport  # httpx takes a quarter of a second to load

        self._transport = Transport(Service(base_url, key, timeout_s, retry or RetryPolicy()), http)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections (not those of an `http` handed in)."""
        self._transport.close()

    create_athlete = asks(calls.create_athlete)
    athletes = lists(calls.athletes)
    delete_athlete = asks(calls.delete_athlete)
    export_athlete = asks(calls.export_athlete)
    export_athlete_zip = asks(calls.export_athlete_zip)

    create_device = asks(calls.create_device)
    devices = lists(calls.devices)
    calibrate = asks(calls.calibrate)
    calibrations = lists(calls.calibrations)
    calibration = asks(calls.calibration)
    delete_calibration = asks(calls.delete_calibration)
    check_device = asks(bench_calls.check_device)
    device_checks = lists(bench_calls.device_checks)
    check_known_motion = asks(bench_calls.check_known_motion)
    set_up_string = asks(bench_calls.set_up_string)
    keys = lists(records.keys)
    make_key = asks(records.make_key)
    replace_key = asks(records.replace_key)
    revoke_key = asks(records.revoke_key)
    audit = lists(records.audit)
    analyses = lists(records.analyses)

    record = asks(stream_calls.record)
    preview = asks(stream_calls.preview)
    sets = lists(calls.sets)
    set = asks(calls.read_set)
    reanalyse = asks(calls.reanalyse)
    path = asks(calls.path)

    technique = asks(technique_calls.technique)
    compare = asks(technique_calls.compare)
    give_drill = asks(technique_calls.give_drill)
    given_drills = lists(technique_calls.given_drills)
    end_drill = asks(technique_calls.end_drill)
    drills = lists(technique_calls.drills)
    drill = asks(technique_calls.drill)
    add_drill = asks(technique_calls.add_drill)
    change_drill = asks(technique_calls.change_drill)
    restore_drill = asks(technique_calls.restore_drill)
    review = lists(technique_calls.review)
    looked_at = asks(technique_calls.looked_at)
    set_remote = asks(technique_calls.set_remote)

    profile = asks(training_calls.profile)
    zones = asks(training_calls.zones)
    readiness = asks(training_calls.readiness)
    club_readiness = asks(training_calls.club_readiness)
    plan = asks(training_calls.plan)
    plans = lists(training_calls.plans)
    loads = asks(training_calls.loads)
    decide_load = asks(training_calls.decide_load)
    lift_cap = asks(training_calls.lift_cap)
    tell_maximum = asks(training_calls.tell_maximum)
    maxima = lists(training_calls.maxima)
    take_back_maximum = asks(training_calls.take_back_maximum)
    import_history = asks(training_calls.import_history)
    history_csv = asks(training_calls.history_csv)
    velocity_loss = asks(training_calls.velocity_loss)
    correct_set = asks(training_calls.correct_set)
    correct_rep = asks(training_calls.correct_rep)
    club = asks(training_calls.club)
    change_club = asks(training_calls.change_club)
    rep_max = asks(training_calls.rep_max)

    limits = asks(calls.limits)
    gym = asks(calls.gym)
    lifts = asks(calls.lifts)

    def stream(self, *, cut_by: CutBy | None = None, **about: Unpack[About]) -> StreamWriter:
        """Open a stream to push samples into while the set goes on; see record() for what the arguments mean.

        lift, load_kg, athlete, device, and where wanted bar_axis, device_kind, units, rate_hz, started_at. cut_by: when
        a block is full.
        """
        opened = self._transport.send(stream_calls.open_stream(**about))
        return StreamWriter(self._transport, opened, BlockWriter(cut_by or CutBy()))

    def live(
        self,
        spool: Spool | None = None,
        *,
        cut_by: CutBy | None = None,
        wait_s: float = 10.0,
        **about: Unpack[About],
    ) -> LiveSender:
        """Send a set while it is lifted, over a network that may fail: samples go into the spool first.

        spool: where they are kept until they are sent; a folder of its own that ends with the program when left out.
        wait_s: how long the end of the `with` waits for the network. The rest as for stream().
        """
        kept = spool or Spool.temporary()
        writer = BlockWriter(cut_by or CutBy(age_s=0.25))
        return LiveSender(self._transport, kept, about_of(**about), writer, wait_s=wait_s)

    def replay(self, spool: Spool, *, end: bool = False) -> Replayed:
        """Send what a spool still holds, the oldest first, and close its sets that ended.

        end: those a killed program left in mid-set have ended too; not while a sender still fills the spool.
        """
        return self._transport.walk(replay(spool, end=end))

    def events(
        self, stream: Stream | StreamCore | str | None = None, *, last_id: int | None = None, until_closed: bool = True
    ) -> Iterator[Event]:
        """Events as they happen, over as many connections as it takes: reps, corrections, advice to stop, sets closed.

        stream: a stream or its id; all that happened in it comes first, and set_closed is the last (until_closed).
        None: every stream of the club, from now on. last_id: go on after this event. `gap`: events are missing there.
        """
        path = events_path(stream)
        for event in self._transport.listen(path, Resume(last_id)):
            yield event
            if stream is not None and until_closed and event.kind == "set_closed":
                return
