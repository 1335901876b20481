"""What the environment says; read by app.py and commands/ only."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from barwright.access.rates import RateLimits


@dataclass(frozen=True, slots=True)
class Settings:
    """data: folder of the database and the raw samples. database_url: empty for SQLite in that folder.

    raw: another folder for the raw samples, or s3://bucket/prefix. workers: processes that analyse sets.
    rates: how many requests a key may make. log: lines as text or json. metrics_token: what GET /metrics asks for.
    traces: address of an OpenTelemetry collector (OTLP over HTTP), empty for none.
    """

    data: Path
    database_url: str
    workers: int = 1
    raw: str = ""
    rates: RateLimits = field(default_factory=RateLimits)
    log: str = "text"
    metrics_token: str = ""
    traces: str = ""

    def __post_init__(self) -> None:
        if not self.raw:
            object.__setattr__(self, "raw", str(self.data / "raw"))

    @classmethod
    def from_env(cls, environ: Mapping[str, str] = os.environ, data: str | None = None) -> Settings:
        """From BARWRIGHT_DATA and the others of the front page; `data`, when given, goes first. Raises ValueError."""
        folder = Path(data or environ.get("BARWRIGHT_DATA") or "data")
        url = environ.get("BARWRIGHT_DATABASE_URL") or f"sqlite:///{folder / 'barwright.db'}"
        workers = environ.get("BARWRIGHT_WORKERS") or "1"
        if not workers.isdecimal() or not 1 <= int(workers) <= 64:
            raise ValueError(f"BARWRIGHT_WORKERS is {workers!r}; it has to be a whole number from 1 to 64")
        log = environ.get("BARWRIGHT_LOG") or "text"
        if log not in ("text", "json"):
            raise ValueError(f"BARWRIGHT_LOG is {log!r}; it has to be text or json")
        raw, token = environ.get("BARWRIGHT_RAW") or "", environ.get("BARWRIGHT_METRICS_TOKEN") or ""
        traces = environ.get("BARWRIGHT_TRACES") or ""
        if traces and not traces.startswith(("http://", "https://")):
            raise ValueError(f"BARWRIGHT_TRACES is {traces!r}; it has to be an address such as http://127.0.0.1:4318")
        return cls(folder, url, int(workers), raw, _rates(environ.get("BARWRIGHT_RATES") or ""), log, token, traces)

    @property
    def alone(self) -> bool:
        """No other service can use the same database and raw samples; only then may left-overs be cleared at start."""
        return self.on_sqlite and Path(self.raw) == self.data / "raw"

    @property
    def on_sqlite(self) -> bool:
        """SQLite migrates itself at start; other databases wait for `barwright migrate`."""
        return self.database_url.startswith("sqlite")


def _rates(text: str) -> RateLimits:
    """For example `requests=6000,blocks=0`: requests a minute of one key; 0 is no limit, what is left out stays."""
    told = {}
    for part in text.split(",") if text else ():
        name, _, number = part.strip().partition("=")
        if name not in ("requests", "blocks", "wrong_keys") or not number.isdecimal() or int(number) > 10**9:
            raise ValueError(
                f"BARWRIGHT_RATES has {part.strip()!r}; requests=N, blocks=N or wrong_keys=N is right, whole numbers "
                "a minute, 0 for no limit"
            )
        told[name] = int(number)
    return RateLimits(**told)
