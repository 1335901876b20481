"""Starting and ending a service of one's own."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

HOST = "127.0.0.1"
_READY_S = 60.0
_MARK = "made-by-the-demo"


class DemoFailed(Exception):  # noqa: N818 - it reads as what happened
    """The demo cannot go on; the text is for whoever ran it."""


def free_port(wanted: int) -> int:
    """`wanted` when it is free, else any port that is."""
    for port in (wanted, 0):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise DemoFailed(f"no free port on {HOST}")


def new_key(data: Path, club: str) -> str:
    """A key of a club in a data folder that is emptied first, when an earlier demo made it."""
    if data.exists() and any(data.iterdir()):
        if not (data / _MARK).exists():
            raise DemoFailed(f"{data} was not made by the demo, so it is not emptied; name a folder that is new")
        shutil.rmtree(data)
    data.mkdir(parents=True, exist_ok=True)
    (data / _MARK).touch()
    command = [sys.executable, "-m", "barwright", "new-key", "--data", str(data), "--club", club]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise DemoFailed(f"no key could be made: {done.stderr.strip()}")
    return done.stdout.strip()


def sign_in_link(data: Path, club: str, coach: str, address: str) -> str:
    """A link that signs the coach in once."""
    command = [sys.executable, "-m", "barwright", "sign-in-link", "--data", str(data)]
    command += ["--club", club, "--coach", coach, "--address", address]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise DemoFailed(f"no sign-in link could be made: {done.stderr.strip()}")
    return done.stdout.strip()


@contextmanager
def service(data: Path, port: int) -> Iterator[str]:
    """A running service's address; ended on the way out. Its log is serve.log in the data folder."""
    log = data / "serve.log"
    command = [sys.executable, "-m", "barwright", "serve", "--host", HOST, "--port", str(port), "--data", str(data)]
    with log.open("w") as out:
        running = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, start_new_session=True)
    try:
        address = f"http://{HOST}:{port}"
        _wait_until_ready(running, address, log)
        yield address
    finally:
        running.send_signal(signal.SIGINT)
        try:
            running.wait(timeout=15)
        except subprocess.TimeoutExpired:
            running.kill()
            running.wait()


def _wait_until_ready(running: subprocess.Popen[bytes], address: str, log: Path) -> None:
    until = time.monotonic() + _READY_S
    while time.monotonic() < until:
        if running.poll() is not None:
            raise DemoFailed(f"the service ended at once; the end of {log}:\n{_end_of(log)}")
        try:
            with urllib.request.urlopen(f"{address}/healthz/ready", timeout=5):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise DemoFailed(f"the service was not ready after {_READY_S:.0f} s; the end of {log}:\n{_end_of(log)}")


def _end_of(log: Path) -> str:
    return "\n".join(log.read_text().splitlines()[-8:])
