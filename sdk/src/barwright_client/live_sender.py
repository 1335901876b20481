"""Sending a set live from a device that must lose nothing: into the spool first, then over the network there is."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime
from types import TracebackType
from typing import TYPE_CHECKING, Self

from barwright_client.answers import Json
from barwright_client.blocks import BlockWriter, Samples
from barwright_client.call import Steps
from barwright_client.errors import ClientError
from barwright_client.replay import send_set
from barwright_client.spool import Spool

if TYPE_CHECKING:
    import asyncio

    from barwright_client.transport import AsyncTransport, Transport

_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.5, 15.0


class SenderCore:
    """A set on its way, without network or threads.

    error: why sending does not go on just now; None while it does. set_id: once the set is closed and whole.
    """

    def __init__(self, spool: Spool, about: Json, writer: BlockWriter) -> None:
        about.setdefault("started_at", datetime.now(UTC).isoformat())  # it may be told hours later
        self.spool = spool
        self.error: ClientError | None = None
        self.set_id: str | None = None
        self._one = spool.begin(about)
        self._writer = writer
        self._fails = 0

    @property
    def stream_id(self) -> str | None:
        """The stream, once the service has opened it."""
        stream = self._one.stream
        return None if stream is None else str(stream["id"])

    @property
    def losses(self) -> dict[str, int]:
        """Samples lost, by reason; see Spool.losses."""
        return self.spool.losses

    def _keep(self, samples: Samples | None) -> bool:
        """Takes samples; None: the rest of them. True when there is something to send."""
        if self._done or self._one.ended:
            raise ValueError("this set has ended; begin another one")
        blocks = self._writer.rest() if samples is None else self._writer.add(samples)
        for block in blocks:
            self._one.put(block)
        if samples is None:
            self._one.end()
        return bool(blocks) or samples is None

    def _steps(self) -> Steps[None]:
        """Sends what is there; closes the set when it has ended."""
        _, _, self.set_id = yield from send_set(self._one)

    def _went_well(self) -> None:
        self.error, self._fails = None, 0

    def _failed(self, error: ClientError) -> float:
        """Seconds until the next try."""
        self.error = error
        self._fails = min(self._fails + 1, 10)
        return min(_LONGEST_PAUSE_S, _FIRST_PAUSE_S * 2.0 ** (self._fails - 1))

    @property
    def _done(self) -> bool:
        return not self._one.folder.exists()


class LiveSender(SenderCore):
    """A set sent from a thread of its own while samples are pushed; made by Client.live().

    push() keeps samples on the disk and returns; it never waits for the network. Leaving the `with` ends the set and
    waits up to wait_s for the network to take the rest; what is left then stays in the spool for Client.replay().
    """

    def __init__(
        self, transport: Transport, spool: Spool, about: Json, writer: BlockWriter, *, wait_s: float = 10.0
    ) -> None:
        super().__init__(spool, about, writer)
        self._transport = transport
        self._wait_s = wait_s
        self._wake = threading.Event()
        self._wake.set()  # the stream is opened at once, so that others can watch it
        self._stopped = False
        self._turn = threading.Lock()
        self._thread = threading.Thread(target=self._work, name="barwright-live", daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.end(wait_s=self._wait_s if error is None else 0.0)

    def push(self, samples: Samples) -> None:
        """Take samples, as StreamWriter.push() does."""
        with self._turn:
            if self._keep(samples):
                self._wake.set()

    def end(self, *, wait_s: float = 10.0) -> str | None:
        """End the set; its id when everything is with the service within wait_s, else None (see `error`)."""
        with self._turn:
            if not self._done and not self._one.ended:
                self._keep(None)
        self._wake.set()
        until = time.monotonic() + wait_s
        while self._thread.is_alive() and time.monotonic() < until:
            self._thread.join(0.05)
        self._stopped = True
        self._wake.set()
        self._thread.join(self._transport.timeout_s)
        return self.set_id

    def _work(self) -> None:
        pause_s: float | None = None
        while not self._stopped and not self._done:
            self._wake.wait(pause_s)
            self._wake.clear()
            try:
                self._transport.walk(self._steps(), once=True)
            except ClientError as error:
                pause_s = self._failed(error)
                self._pause(pause_s)
            else:
                self._went_well()
                pause_s = None

    def _pause(self, seconds: float) -> None:
        """Not in step with what is pushed: a dead network is not asked four times a second."""
        until = time.monotonic() + seconds
        while time.monotonic() < until and not self._stopped:
            time.sleep(min(0.05, seconds))
        self._wake.set()


class AsyncLiveSender(SenderCore):
    """LiveSender as a task of asyncio; made by AsyncClient.live()."""

    def __init__(
        self, transport: AsyncTransport, spool: Spool, about: Json, writer: BlockWriter, *, wait_s: float = 10.0
    ) -> None:
        import asyncio  # asyncio takes its time to load, and most programs never use it

        super().__init__(spool, about, writer)
        self._asyncio = asyncio
        self._transport = transport
        self._wait_s = wait_s
        self._wake: asyncio.Event = asyncio.Event()
        self._wake.set()
        self._task: asyncio.Task[None] = asyncio.get_running_loop().create_task(self._work())

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        await self.end(wait_s=self._wait_s if error is None else 0.0)

    async def push(self, samples: Samples) -> None:
        """Take samples, as StreamWriter.push() does; writing to the disk is not done on the loop."""
        if await self._asyncio.to_thread(self._keep, samples):
            self._wake.set()

    async def end(self, *, wait_s: float = 10.0) -> str | None:
        """End the set; its id when everything is with the service within wait_s, else None (see `error`)."""
        if not self._done and not self._one.ended:
            await self._asyncio.to_thread(self._keep, None)
        self._wake.set()
        await self._asyncio.wait({self._task}, timeout=wait_s)
        self._task.cancel()
        await self._asyncio.gather(self._task, return_exceptions=True)
        return self.set_id

    async def _work(self) -> None:
        while not self._done:
            await self._wake.wait()
            self._wake.clear()
            try:
                await self._transport.walk(self._steps(), once=True)
            except ClientError as error:
                await self._asyncio.sleep(self._failed(error))
                self._wake.set()
            else:
                self._went_well()
