"""Events as they come from the service: reading the text, and when to connect again. No network here."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from barwright_client.answers import Json, Rep
from barwright_client.errors import Broken


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened. kind: set_opened, rep, rep_corrected, stop_advised, set_closed or gap.

    id: what to resume from; None for a gap, which stands for events that are missing (`data` says how many).
    data: everything the service told of it.
    """

    kind: str
    id: int | None
    data: Json = field(default_factory=dict)

    @property
    def at(self) -> datetime | None:
        """When it happened."""
        text = self.data.get("at")
        return None if text is None else datetime.fromisoformat(text)

    @property
    def stream_id(self) -> str | None:
        """The stream it is about."""
        return self.data.get("stream_id")

    @property
    def set_id(self) -> str | None:
        """The set it is about."""
        return self.data.get("set_id")

    @property
    def rep(self) -> Rep | None:
        """The rep of rep and rep_corrected; None for others, and for one that was withdrawn."""
        if self.kind not in ("rep", "rep_corrected") or self.data.get("withdrawn"):
            return None
        return Rep.read(self.data["rep"])

    @property
    def provisional(self) -> bool:
        """True while the set is open: u is larger, and figures may change."""
        return bool(self.data.get("provisional"))


@dataclass(slots=True)
class EventReader:
    """Server-sent events (WHATWG HTML, 9.2.6) out of pieces of any size."""

    retry_s: float | None = None
    _rest: bytes = b""
    _kind: str = ""
    _data: list[str] = field(default_factory=list)
    _id: str = ""

    def feed(self, piece: bytes) -> Iterator[Event]:
        """The events that are complete with this piece."""
        *lines, self._rest = (self._rest + piece).replace(b"\r\n", b"\n").split(b"\n")
        for line in lines:
            event = self._line(line.decode("utf-8", "replace").rstrip("\r"))
            if event is not None:
                yield event

    def _line(self, line: str) -> Event | None:
        if not line:
            return self._dispatch()
        name, _, value = line.partition(":")
        value = value.removeprefix(" ")
        if name == "event":
            self._kind = value
        elif name == "data":
            self._data.append(value)
        elif name == "id" and "\0" not in value:
            self._id = value
        elif name == "retry" and value.isdecimal():
            self.retry_s = int(value) / 1000
        return None

    def _dispatch(self) -> Event | None:
        kind, data, told_id = self._kind or "message", "\n".join(self._data), self._id
        self._kind, self._data, self._id = "", [], ""
        if not data:
            return None
        try:
            document = json.loads(data)
        except ValueError as error:
            raise Broken(f"an event of the service cannot be read: {error}") from error
        known: Any = document if isinstance(document, dict) else {"value": document}
        return Event(kind, int(told_id) if told_id.isdecimal() else None, known)


@dataclass(slots=True)
class Resume:
    """From where to go on after a connection was lost, and how long to wait before.

    Pauses double from first_pause_s to longest_pause_s while nothing comes, each shortened by up to half at random.
    """

    last_id: int | None = None
    first_pause_s: float = 0.5
    longest_pause_s: float = 15.0
    chance: Callable[[], float] = random.random
    _fails: int = 0

    def headers(self) -> dict[str, str]:
        """What the next connection says."""
        told = {} if self.last_id is None else {"Last-Event-ID": str(self.last_id)}
        return {"Accept": "text/event-stream", "Cache-Control": "no-store", **told}

    def came(self, event: Event) -> None:
        """An event is handed on."""
        self._fails = 0
        if event.id is not None:
            self.last_id = event.id

    def pause_s(self) -> float:
        """The connection was lost or could not be made: seconds to wait."""
        doubled = min(self.longest_pause_s, self.first_pause_s * 2.0**self._fails)
        self._fails = min(self._fails + 1, 30)
        return doubled * (1 - 0.5 * self.chance())
