"""An MQTT 3.1.1 broker (amqtt) in a process of its own, to be killed and started again."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time

_PROGRAM = """
import asyncio, logging, sys
from amqtt.broker import Broker
logging.disable(logging.CRITICAL)
PLUGIN = "amqtt.plugins.authentication.AnonymousAuthPlugin"
CONFIG = {
    "listeners": {"default": {"type": "tcp", "bind": "127.0.0.1:" + sys.argv[1], "max_connections": 200}},
    "plugins": {PLUGIN: {"allow_anonymous": True}},
}
async def main():
    broker = Broker(CONFIG)
    await broker.start()
    await asyncio.Event().wait()
asyncio.run(main())
"""


def free_port() -> int:
    """A port nobody uses now."""
    with socket.create_server(("127.0.0.1", 0)) as one:
        return int(one.getsockname()[1])


class BrokerProcess:
    """Runs on one port from start() to kill(), as often as wanted."""

    def __init__(self) -> None:
        self.port = free_port()
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Returns once it listens."""
        self._process = subprocess.Popen([sys.executable, "-c", _PROGRAM, str(self.port)])
        until = time.monotonic() + 30
        while time.monotonic() < until and self._process.poll() is None:
            try:
                socket.create_connection(("127.0.0.1", self.port), 0.2).close()
            except OSError:
                time.sleep(0.05)
            else:
                return
        raise AssertionError("the broker did not start")

    def kill(self) -> None:
        """As a power cut: no goodbye, nothing kept."""
        if self._process is not None:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait()
            self._process = None
