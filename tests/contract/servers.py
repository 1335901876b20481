"""A real server in a process of its own."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

import httpx

READY = re.compile(r"serving on (http://\S+?),")


def run(*arguments, **more):
    """One command to its end."""
    return subprocess.run(
        [sys.executable, "-m", "barwright", *map(str, arguments)], capture_output=True, text=True, timeout=60, **more
    )


class Server:
    """`barwright serve` on a free port; ready when this returns."""

    def __init__(self, data: Path, *more: str) -> None:
        command = [sys.executable, "-m", "barwright", "serve", "--data", str(data), "--port", "0", *more]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
        self.log: list[str] = []
        self.url = self._wait_until_ready()
        threading.Thread(target=self._drain, daemon=True).start()

    def client(self, key: str) -> httpx.Client:
        """A client with a key."""
        return httpx.Client(base_url=self.url, headers={"Authorization": f"Bearer {key}"}, timeout=60)

    def kill(self) -> None:
        """As a power cut: no goodbye."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> int:
        """As an operator: SIGTERM."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout=30)

    def _wait_until_ready(self) -> str:
        for line in self.process.stderr:
            self.log.append(line)
            found = READY.search(line)
            if found:
                return found[1]
        raise AssertionError("the server did not start:\n" + "".join(self.log))

    def _drain(self) -> None:
        for line in self.process.stderr:
            self.log.append(line)
