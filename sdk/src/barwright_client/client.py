"""The client that blocks: one method per thing the service does. Arguments and texts are those of the calls."""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self, Unpack

from barwright_client import calls, stream_calls
from barwright_client.attempts import RetryPolicy
from barwright_client.blocks import BlockWriter, CutBy
from barwright_client.live_stream import StreamWriter
from barwright_client.methods import asks, lists
from barwright_client.stream_calls import About

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

    create_device = asks(calls.create_device)
    devices = lists(calls.devices)
    calibrate = asks(calls.calibrate)
    calibrations = lists(calls.calibrations)
    calibration = asks(calls.calibration)
    delete_calibration = asks(calls.delete_calibration)

    record = asks(stream_calls.record)
    sets = lists(calls.sets)
    set = asks(calls.read_set)
    reanalyse = asks(calls.reanalyse)
    path = asks(calls.path)

    limits = asks(calls.limits)
    lifts = asks(calls.lifts)

    def stream(self, *, cut_by: CutBy | None = None, **about: Unpack[About]) -> StreamWriter:
        """Open a stream to push samples into while the set goes on; see record() for what the arguments mean.

        lift, load_kg, athlete, device, and where wanted bar_axis, device_kind, units, rate_hz, started_at. cut_by: when
        a block is full.
        """
        opened = self._transport.send(stream_calls.open_stream(**about))
        return StreamWriter(self._transport, opened, BlockWriter(cut_by or CutBy()))
