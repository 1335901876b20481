"""`make demo`: start a service, send it the club's recordings, show every rep beside its truth."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from barwright_client import Client, ClientError, SetResult
from quarry_lane.club import NAME, register
from quarry_lane.running import DemoFailed, free_port, new_key, service
from quarry_lane.sending import Sample, samples_in, send
from quarry_lane.table import WIDTH, table_of

HERE = Path(__file__).parent
DATA = HERE.parent / "data" / "demo"
PORT = 8400


def main() -> int:
    """Exit code 0 when everything was sent, analysed and shown."""
    parser = argparse.ArgumentParser(description="Start a service, send it the club's recordings, show the reps.")
    parser.add_argument("--once", action="store_true", help="end after the table instead of serving on")
    once: bool = parser.parse_args().once
    # A background shell starts its commands with Ctrl-C ignored; the demo is to end cleanly there too.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    try:
        _demo(once)
    except (DemoFailed, ClientError) as failure:
        print(f"demo: {failure}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nThe service has ended.")
    return 0


def _demo(once: bool) -> None:
    console = Console()
    console.width = max(console.width, WIDTH)
    samples = samples_in(HERE)
    if not samples:
        raise DemoFailed(f"no recordings in {HERE}; `make samples` writes them")
    port = free_port(PORT)
    if port != PORT:
        console.print(f"Port {PORT} is taken; using {port}.")
    key = new_key(DATA, NAME)
    with service(DATA, port) as address:
        with Client(address, key) as client:
            register(client, [sample.meta for sample in samples])
            results = _send_all(client, samples, console)
        console.print(table_of(results))
        console.print(_where(address, key, results[0][1]), soft_wrap=True, highlight=False, markup=False)
        if not once:
            console.print("\nServing until Ctrl-C.")
            threading.Event().wait()


def _send_all(client: Client, samples: list[Sample], console: Console) -> list[tuple[Sample, SetResult]]:
    results = []
    shown = (
        TextColumn("{task.description:<44}"),
        BarColumn(24),
        TextColumn("{task.percentage:3.0f} %"),
        TimeElapsedColumn(),
    )
    with Progress(*shown, console=console) as progress:
        for sample in samples:
            how = "live, in blocks" if sample.live else "as a file"
            task = progress.add_task(f"{sample.file.name} ({how})", total=None)
            result = send(client, sample, lambda done, of, task=task: progress.update(task, completed=done, total=of))
            if result.state != "analysed":
                raise DemoFailed(f"{sample.file.name} was not analysed: {result.reason or result.state}")
            results.append((sample, result))
    return results


def _where(address: str, key: str, result: SetResult) -> str:
    return "\n".join(
        [
            "Figures are ± one standard uncertainty. rep: its index in the API. rearmost, foremost: how far the bar",
            "went toward the lifter (negative) and away. All recordings are simulated and the athletes invented; the",
            "true peak is the simulator's.",
            "",
            f"service   {address}",
            f"OpenAPI   {address}/openapi.json",
            f"key       {key}",
            f"data      {DATA.relative_to(HERE.parent)} (made anew by every demo)",
            "",
            f"curl -H 'Authorization: Bearer {key}' {address}/v1/sets/{result.id}",
        ]
    )


if __name__ == "__main__":
    sys.exit(main())
