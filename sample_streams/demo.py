"""`make demo`: a club with twelve weeks behind it, its recordings sent to a service, each rep beside its truth."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from barwright_client import Client, ClientError, SetResult
from quarry_lane.club import NAME, register
from quarry_lane.prepared import COACH, prepare
from quarry_lane.running import DemoFailed, free_port, new_key, service, sign_in_link
from quarry_lane.sending import Sample, moved_by, samples_in, send
from quarry_lane.table import WIDTH, table_of

HERE = Path(__file__).parent
DATA = HERE.parent / "data" / "demo"
PORT = 8400
_LEGEND = """\
Figures are ± one standard uncertainty. rep: its index in the API. rearmost, foremost: how far the bar went toward the
lifter (negative) and away. All recordings are simulated and the athletes invented; the true peak is the simulator's.
"""


def main() -> int:
    """Exit code 0 when everything was sent, analysed and shown."""
    parser = argparse.ArgumentParser(description="Start a service, send it the club's recordings, show the reps.")
    parser.add_argument("--once", action="store_true", help="end after the table instead of serving on")
    parser.add_argument("--data", type=Path, default=DATA, help="folder to keep everything in (default: data/demo)")
    parser.add_argument("--port", type=int, default=PORT, help=f"port to serve on (default: {PORT}; 0 takes any)")
    parser.add_argument("--quick", action="store_true", help="five athletes instead of thirty")
    asked = parser.parse_args()
    # A background shell starts its commands with Ctrl-C ignored; the demo is to end cleanly there too.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    try:
        _demo(asked.data.resolve(), asked.port, asked.once, asked.quick)
    except (DemoFailed, ClientError) as failure:
        print(f"demo: {failure}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nThe service has ended.")
    return 0


def _demo(data: Path, wanted: int, once: bool, quick: bool) -> None:
    console = Console()
    console.width = max(console.width, WIDTH)
    samples = samples_in(HERE)
    if not samples:
        raise DemoFailed(f"no recordings in {HERE}; `make samples` writes them")
    port = free_port(wanted)
    if wanted not in (0, port):
        console.print(f"Port {wanted} is taken; using {port}.")
    key = new_key(data, NAME)
    today = datetime.now(UTC).date()
    _prepare(data, today, console, quick)
    with service(data, port) as address:
        with Client(address, key) as client:
            register(client, [sample.meta for sample in samples])
            results = _send_all(client, samples, console, moved_by(samples, today))
        console.print(table_of(results))
        print(_LEGEND)
        if once:
            print("The service ends now; `make demo` keeps it running.")
        else:
            print(_where(address, key, data, results[0][1], sign_in_link(data, NAME, COACH, address)), flush=True)
            threading.Event().wait()


def _progress(console: Console) -> Progress:
    shown = (
        TextColumn("{task.description:<44}"),
        BarColumn(24),
        TextColumn("{task.percentage:3.0f} %"),
        TimeElapsedColumn(),
    )
    return Progress(*shown, console=console)


def _prepare(data: Path, today: date, console: Console, quick: bool) -> None:
    with _progress(console) as progress:
        task = progress.add_task(f"twelve weeks of {'five' if quick else 'thirty'} athletes", total=None)
        prepare(data, today, lambda done, of: progress.update(task, completed=done, total=of), quick)


def _send_all(
    client: Client, samples: list[Sample], console: Console, moved: timedelta
) -> list[tuple[Sample, SetResult]]:
    results = []
    with _progress(console) as progress:
        for sample in samples:
            how = "live, in blocks" if sample.live else "as a file"
            task = progress.add_task(f"{sample.file.name} ({how})", total=None)

            def told(done: int, of: int, task: TaskID = task) -> None:
                progress.update(task, completed=done, total=of)

            result = send(client, sample, told, moved)
            if result.state != "analysed":
                raise DemoFailed(f"{sample.file.name} was not analysed: {result.reason or result.state}")
            results.append((sample, result))
    return results


def _where(address: str, key: str, data: Path, result: SetResult, link: str) -> str:
    return "\n".join(
        [
            "Open this in a browser; it signs you in as the club's coach, once:",
            "",
            f"          {link}",
            "",
            f"service   {address}",
            f"OpenAPI   {address}/openapi.json",
            f"key       {key}",
            f"data      {data} (emptied by the next demo)",
            "",
            f"curl -H 'Authorization: Bearer {key}' {address}/v1/sets/{result.id}",
            "",
            "Serving until Ctrl-C.",
        ]
    )


if __name__ == "__main__":
    sys.exit(main())
