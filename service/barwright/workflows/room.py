"""How much room is left on the disk."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from barwright.ingest.limits import MIB


@dataclass(frozen=True, slots=True)
class Room:
    """folder: of the data; None where nothing is kept on a disk of this machine. least: below it nothing is ready.

    A full block is 8 MiB and SQLite's log may grow to several of them before it is folded back.
    """

    folder: Path | None = None
    least: int = 64 * MIB

    def free_bytes(self) -> float:
        """Room for what is not the superuser's."""
        return float("nan") if self.folder is None else float(shutil.disk_usage(self.folder).free)

    def is_short(self) -> bool:
        """Whether there is less than there should be."""
        return self.free_bytes() < self.least
