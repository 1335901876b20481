"""Blocks kept in a folder until the service has them: bounded in bytes, in order, every loss counted by its reason."""

from __future__ import annotations

import json
import os
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from threading import RLock
from typing import Any

from barwright_client import cbor
from barwright_client.answers import Json
from barwright_client.blocks import Block

_ABOUT, _OPENED, _ENDED, _REFUSED, _LOSSES = "about.json", "stream.json", "ended", "refused", "losses.json"


@dataclass(frozen=True, slots=True)
class Kept:
    """One block in the spool, as it goes on the wire."""

    path: Path
    samples: int

    def body(self) -> bytes:
        """CBOR, marked as sent later than it was measured."""
        return self.path.read_bytes()


class Spool:
    """A folder of sets that are not yet with the service; one process at a time, from any of its threads.

    most_bytes: of all blocks together. What does not fit is not kept, and counted (`losses`: reason -> samples).
    """

    def __init__(self, folder: str | os.PathLike[str], *, most_bytes: int = 256 << 20) -> None:
        self.folder = Path(folder)
        self.folder.mkdir(parents=True, exist_ok=True)
        self.most_bytes = most_bytes
        self._lock = RLock()  # one thread puts blocks in while another sends them
        for half in self.folder.glob("*/*.part"):  # a crash in the middle of a write
            half.unlink()
        self._bytes = sum(path.stat().st_size for path in self.folder.glob("*/*.cbor"))

    @classmethod
    def temporary(cls) -> Spool:
        """One in a new folder among the system's temporary files."""
        from tempfile import mkdtemp

        return cls(mkdtemp(prefix="barwright-"))

    @property
    def bytes(self) -> int:
        """Bytes of blocks kept now."""
        return self._bytes

    @property
    def losses(self) -> dict[str, int]:
        """Samples lost, by reason: `full`, or the code of the service's refusal. Counted since the folder is there."""
        try:
            return dict(json.loads((self.folder / _LOSSES).read_text()))
        except FileNotFoundError:
            return {}

    def begin(self, about: Json) -> SpooledSet:
        """A new set; about: what is told of the stream when it is opened."""
        name = f"{len(self._names()):06d}-{uuid.uuid4().hex[:8]}"
        while (self.folder / name).exists():
            name = f"{name}x"
        (self.folder / name).mkdir()
        _write(self.folder / name / _ABOUT, json.dumps({"about": about, "key": f'"{uuid.uuid4()}"'}).encode())
        return SpooledSet(self, self.folder / name)

    def sets(self) -> list[SpooledSet]:
        """Every set in the spool, the oldest first."""
        return [SpooledSet(self, self.folder / name) for name in self._names()]

    def lose(self, reason: str, samples: int) -> None:
        """Counts samples that are lost."""
        with self._lock:
            counted = Counter(self.losses)
            counted[reason] += samples
            _write(self.folder / _LOSSES, json.dumps(counted).encode())

    def _names(self) -> list[str]:
        return sorted(path.parent.name for path in self.folder.glob(f"*/{_ABOUT}"))


class SpooledSet:
    """One set in a spool."""

    def __init__(self, spool: Spool, folder: Path) -> None:
        self._spool = spool
        self.folder = folder

    @property
    def about(self) -> Json:
        """What is told of the stream."""
        return dict(self._told()["about"])

    @property
    def key(self) -> str:
        """The Idempotency-Key the stream is opened with, however often that is tried."""
        return str(self._told()["key"])

    @property
    def stream(self) -> Json | None:
        """The stream as the service opened it; None before."""
        try:
            return dict(json.loads((self.folder / _OPENED).read_text()))
        except FileNotFoundError:
            return None

    @property
    def ended(self) -> bool:
        """Whether every block of the set is in the spool or sent."""
        return (self.folder / _ENDED).exists()

    @property
    def refused(self) -> str | None:
        """Why the service will not have the set at all; None when it has not said so."""
        try:
            return (self.folder / _REFUSED).read_text()
        except FileNotFoundError:
            return None

    def opened(self, stream_id: str, set_id: str) -> None:
        """Notes the stream the service opened."""
        _write(self.folder / _OPENED, json.dumps({"id": stream_id, "set_id": set_id}).encode())

    def end(self) -> None:
        """Nothing more comes for this set."""
        _write(self.folder / _ENDED, b"")

    def put(self, block: Block) -> bool:
        """Keeps a block, on the disk when this returns.

        False, and its samples are counted as lost, when there is no room for it or the service refused the set.
        """
        body = cbor.encode({**block.document(), "buffered": True})
        with self._spool._lock:
            reason = self.refused
            if reason is None and self._spool._bytes + len(body) > self._spool.most_bytes:
                reason = "full"
            if reason is not None:
                self._spool.lose(reason, len(block.t_us))
                return False
            _write(self.folder / f"{block.seq:012d}-{len(block.t_us)}-{block.boot}.cbor", body)
            self._spool._bytes += len(body)
        return True

    def blocks(self) -> Iterator[Kept]:
        """Blocks not yet with the service, in order."""
        for path in sorted(self.folder.glob("*.cbor")):
            yield Kept(path, int(path.name.split("-")[1]))

    def sent(self, kept: Kept) -> None:
        """The service has it."""
        with self._spool._lock:
            self._spool._bytes -= kept.path.stat().st_size
            kept.path.unlink()

    def lost(self, kept: Kept, reason: str) -> None:
        """The service will not have it."""
        self._spool.lose(reason, kept.samples)
        self.sent(kept)

    def refuse(self, reason: str) -> int:
        """The service will not have the set: what is there and what is still put in is lost; samples lost now."""
        with self._spool._lock:
            _write(self.folder / _REFUSED, reason.encode())
            there = list(self.blocks())
            for kept in there:
                self.lost(kept, reason)
        return sum(kept.samples for kept in there)

    def drop(self) -> None:
        """The set is with the service as a whole, or nothing of it is wanted there."""
        import shutil  # it loads what nobody needs who only reads

        (self.folder / _ABOUT).unlink(missing_ok=True)  # first: half a folder is no set
        shutil.rmtree(self.folder)

    def _told(self) -> dict[str, Any]:
        return dict(json.loads((self.folder / _ABOUT).read_text()))


def _write(path: Path, content: bytes) -> None:
    """All of it or nothing, whatever happens in between."""
    part = path.with_name(path.name + ".part")
    with part.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
