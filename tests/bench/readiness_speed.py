"""One athlete with five years behind: how long a real service on SQLite takes to answer."""

from __future__ import annotations

import io
import json
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import httpx
import numpy as np

from barwright.analysis.profiles.priors import prior_for
from bench.athletes import Habits, athlete
from bench.tables import Table, against

if TYPE_CHECKING:
    from bench.work import Bench

LIFTS = ("back_squat", "bench_press", "snatch")
SESSIONS = 750  # of each lift: three times a week for five years
YEARS = 5
MOST_MS = 20.0
ASKED = 15
HZ = 100


def history(today: date, lifts: tuple[str, ...] = LIFTS, sessions: int = SESSIONS) -> str:
    """Five years of sets as a file of history, the last day two days ago."""
    rows = ["date,lift,set,load[kg],reps,velocity[m/s],velocity_u[m/s]"]
    for seed, lift in enumerate(lifts):
        one = athlete(seed, prior_for(lift), Habits(days=(sessions, sessions), gap=3, break_share=0.005))
        past = one.day - one.day[-1]
        for k, count in enumerate(np.bincount(one.row)):
            on = today - timedelta(days=2 - round(float(past[k]) * YEARS * 365 / max(-int(past[0]), 1)))
            own = np.flatnonzero(one.row == k)
            for number, place in enumerate(own[:count], 1):
                rows.append(f"{on},{lift},{number},{one.load_kg[place]:g},3,{one.velocity[place]:.3f},0.02")
    return "\n".join(dict.fromkeys(rows)) + "\n"


def squat_csv(mean_m_s: float) -> bytes:
    """A string recording of one squat: 0.5 m down and up again, up at a mean velocity."""
    down, up = 1.2, 0.5 / mean_m_s
    t = np.arange(0.0, 1.0 + down + 0.3 + up + 1.0, 1 / HZ)

    def move(start: float, long: float) -> Any:
        s = np.clip((t - start) / long, 0, 1)
        return 0.5 * s**3 * (10 - 15 * s + 6 * s**2)

    position = 1.2 - move(1.0, down) + move(1.3 + down, up)
    out = io.StringIO()
    out.write("t_s,position[m]\n")
    out.writelines(f"{a:.3f},{b:.5f}\n" for a, b in zip(t, position, strict=True))
    return out.getvalue().encode()


@contextmanager
def service(folder: str) -> Iterator[httpx.Client]:
    """`barwright serve` in a process of its own, and a client with a key."""
    run = [sys.executable, "-m", "barwright"]
    key = subprocess.run(
        [*run, "new-key", "--data", folder, "--club", "Quarry Lane"], check=True, capture_output=True, text=True
    ).stdout.strip()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    process = subprocess.Popen([*run, "serve", "--data", folder, "--port", str(port)], stderr=subprocess.DEVNULL)
    try:
        base = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=base, headers={"Authorization": f"Bearer {key}"}, timeout=120) as client:
            for _ in range(200):
                try:
                    client.get("/healthz/ready")
                    break
                except httpx.TransportError:
                    time.sleep(0.1)
            yield client
    finally:
        process.terminate()
        process.wait()


class Asked:
    """The service asked about one athlete."""

    def __init__(self, client: httpx.Client, who: str) -> None:
        self.client = client
        self.who = who

    def ms(self, path: str) -> float:
        """Milliseconds from asking to the whole answer, on a connection that is open."""
        start = time.perf_counter()
        answer = self.client.get(path.replace("WHO", self.who))
        taken = 1000 * (time.perf_counter() - start)
        assert answer.status_code == 200, answer.text
        return taken

    def record(self, on: date, minute: int, load: float, speed: float) -> None:
        """One squat, recorded and analysed."""
        meta = {
            "athlete": "Imke", "device": "string", "lift": LIFTS[0], "load_kg": load,
            "started_at": f"{on}T00:{minute:02d}:00Z",
        }  # fmt: skip
        file = {"file": ("set.csv", squat_csv(speed))}
        answer = self.client.post("/v1/recordings", data={"meta": json.dumps(meta)}, files=file)
        assert answer.status_code == 201, answer.text


def measured(asked: Asked, today: date) -> dict[str, list[float]]:
    """Milliseconds of every kind of question."""
    ready = f"/v1/athletes/WHO/readiness?on={today}"
    out: dict[str, list[float]] = {}
    for _ in range(3):
        asked.ms(f"/v1/athletes/WHO/readiness?on={today - timedelta(days=1)}")  # the process has begun to work
    out["readiness, first question of a new day"] = []
    out["readiness, right after a set arrived"] = []
    for back in range(
        9, 0, -1
    ):  # days of training one after another, asked each time on the day after for the first time
        day = today - timedelta(days=back)
        asked.record(day, 1, 80 + back, 0.7)
        out["readiness, first question of a new day"].append(asked.ms(f"{ready[:-10]}{day + timedelta(days=1)}"))
    for k in range(ASKED):
        asked.record(today, 1 + k, 60 + 2 * k, 0.95 - 0.02 * k)
        out["readiness, right after a set arrived"].append(asked.ms(ready))
    out["readiness, asked again"] = [asked.ms(ready) for _ in range(2 * ASKED)]
    past = [today - timedelta(days=29 * k) for k in range(1, ASKED + 1)]
    out["readiness of a day long ago, never asked before"] = [asked.ms(f"{ready[:-10]}{day}") for day in past]
    out["loads"] = [asked.ms(f"/v1/athletes/WHO/loads?on={today}") for _ in range(ASKED)]
    out["zones"] = [asked.ms(f"/v1/athletes/WHO/zones/{LIFTS[0]}?velocity=0.6") for _ in range(ASKED)]
    out["profile with a year of points"] = [asked.ms(f"/v1/athletes/WHO/profiles/{LIFTS[0]}") for _ in range(ASKED)]
    return out


def readiness_speed(bench: Bench) -> list[Table]:
    """The table."""
    today = datetime.now(UTC).date()
    with tempfile.TemporaryDirectory() as folder, service(folder) as client:
        who = client.post("/v1/athletes", json={"name": "Imke"}).json()["id"]
        file = history(today - timedelta(days=9))
        headers = {"Content-Type": "text/csv"}
        start = time.perf_counter()
        made = client.post(f"/v1/athletes/{who}/history", content=file.encode(), headers=headers)
        taken = time.perf_counter() - start
        assert made.status_code == 201, made.text
        found = measured(Asked(client, who), today)
    rows = [
        (name, f"{np.median(ms):.1f}", f"{against(float(np.max(ms)), MOST_MS, 1)}" if "readiness" in name else
         f"{np.max(ms):.1f}", str(len(ms)))
        for name, ms in found.items()
    ]  # fmt: skip
    rows.append((f"the file of {made.json()['sets']} sets taken in", f"{1000 * taken:.0f}", "", "1"))
    notes = (
        f"`barwright serve` on SQLite, one athlete with {len(LIFTS)} lifts, {SESSIONS} days of each in {YEARS} years;",
        "from asking to the whole answer, so with HTTP and the key. All lifts are answered at once. Aimed at: 20 ms.",
    )
    head = ("question", "median, ms", "most, ms", "times")
    return [Table("Speed: answers with five years behind, a real service", head, tuple(rows), notes)]
