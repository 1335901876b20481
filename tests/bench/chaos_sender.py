"""A device with a set on it, as a process of its own that can be killed: `python -m bench.chaos_sender` with Orders.

It pushes a recording at the pace of the lift, notes how many samples push() has taken, then sends what is left.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from barwright_client import Client, ClientError, CutBy, RetryPolicy, Spool

BLOCK = 50  # samples: 250 ms at 200 Hz
PATIENCE_S = 400.0


@dataclass(frozen=True, slots=True)
class Orders:
    """recording: an .npz of t_us and channels. pace: times faster than lifted. resume: only send what is left."""

    url: str
    key: str
    folder: str
    recording: str
    about: dict[str, Any]
    pace: float = 1.0
    resume: bool = False

    def words(self) -> list[str]:
        """As the command line has it."""
        return [sys.executable, "-m", "bench.chaos_sender", json.dumps(asdict(self))]


def taken(folder: Path) -> int:
    """Samples that push() had taken when the program was killed: as it wrote down, or one block more in the spool."""
    lines = (folder / "taken").read_text().split("\n")[:-1]
    kept = [kept for one in Spool(folder / "spool").sets() for kept in one.blocks()]
    spooled = max((int(one.path.name.split("-")[0]) * BLOCK + one.samples for one in kept), default=0)
    return max([spooled, *map(int, lines)])


def lift(orders: Orders) -> None:
    """The set while it is lifted."""
    columns = dict(np.load(orders.recording))
    about = {**orders.about, "started_at": datetime.fromisoformat(orders.about["started_at"])}
    t_us = columns["t_us"]
    client = Client(orders.url, orders.key, retry=RetryPolicy(most_tries=1))
    begun = time.monotonic()
    with (
        (Path(orders.folder) / "taken").open("w") as notes,
        client.live(
            Spool(Path(orders.folder) / "spool"), cut_by=CutBy(samples=BLOCK, age_s=1e9), wait_s=1.0, **about
        ) as sender,
    ):
        for start in range(0, len(t_us), BLOCK):
            part = {name: column[start : start + BLOCK] for name, column in columns.items()}
            time.sleep(max(0.0, begun + part["t_us"][-1] * 1e-6 / orders.pace - time.monotonic()))
            sender.push(part)
            notes.write(f"{min(start + BLOCK, len(t_us))}\n")
            notes.flush()


def send_what_is_left(orders: Orders) -> None:
    """As a program does that begins again: until nothing is left."""
    spool = Spool(Path(orders.folder) / "spool")
    client = Client(orders.url, orders.key, retry=RetryPolicy(most_tries=1))
    give_up_at = time.monotonic() + PATIENCE_S
    while spool.sets():
        try:
            client.replay(spool, end=True)
        except ClientError:
            if time.monotonic() > give_up_at:
                raise
            time.sleep(0.5)


def main() -> None:
    """Does as it is told on the command line."""
    orders = Orders(**json.loads(sys.argv[1]))
    if not orders.resume:
        lift(orders)
    send_what_is_left(orders)


if __name__ == "__main__":
    main()
