"""What the environment says; read by app.py and commands/ only."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Settings:
    """data: folder of the database and the raw samples. database_url: empty for SQLite in that folder.

    raw: another folder for the raw samples, or s3://bucket/prefix. workers: processes that analyse sets.
    """

    data: Path
    database_url: str
    workers: int = 1
    raw: str = ""

    def __post_init__(self) -> None:
        if not self.raw:
            object.__setattr__(self, "raw", str(self.data / "raw"))

    @classmethod
    def from_env(cls, environ: Mapping[str, str] = os.environ, data: str | None = None) -> Settings:
        """BARWRIGHT_DATA, BARWRIGHT_DATABASE_URL, BARWRIGHT_WORKERS, BARWRIGHT_RAW. `data`, when given, goes first."""
        folder = Path(data or environ.get("BARWRIGHT_DATA") or "data")
        url = environ.get("BARWRIGHT_DATABASE_URL") or f"sqlite:///{folder / 'barwright.db'}"
        workers = environ.get("BARWRIGHT_WORKERS") or "1"
        if not workers.isdecimal() or not 1 <= int(workers) <= 64:
            raise ValueError(f"BARWRIGHT_WORKERS is {workers!r}; it has to be a whole number from 1 to 64")
        return cls(folder, url, int(workers), environ.get("BARWRIGHT_RAW") or "")

    @property
    def alone(self) -> bool:
        """No other service can use the same database and raw samples; only then may left-overs be cleared at start."""
        return self.on_sqlite and Path(self.raw) == self.data / "raw"

    @property
    def on_sqlite(self) -> bool:
        """SQLite migrates itself at start; other databases wait for `barwright migrate`."""
        return self.database_url.startswith("sqlite")
