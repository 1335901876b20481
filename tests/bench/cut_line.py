"""A network between senders and a service that can be pulled out: what is on its way then never arrives."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress


class CutLine:
    """Passes connections on to wherever the service is at the moment. url: for the senders; it stays the same.

    Pulled out, it is silent: connections are made, and nothing passes in either direction. Back in, what was open is
    closed, as it is when a router has forgotten it.
    """

    def __init__(self, port_of_service: Callable[[], int]) -> None:
        self._port_of_service = port_of_service
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._in = threading.Event()
        self._in.set()
        self.url = f"http://127.0.0.1:{self._listening.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def pull_out(self, seconds: float) -> None:
        """Comes back when the network does."""
        self._in.clear()
        time.sleep(seconds)
        self._in.set()

    def close(self) -> None:
        """Takes no more connections."""
        self._listening.close()

    def _accept(self) -> None:
        with suppress(OSError):  # closed
            while True:
                sender, _ = self._listening.accept()
                threading.Thread(target=self._join, args=(sender,), daemon=True).start()

    def _join(self, sender: socket.socket) -> None:
        self._in.wait()
        try:
            service = socket.create_connection(("127.0.0.1", self._port_of_service()))
        except OSError:  # it is dead just now
            sender.close()
            return
        for one, other in ((sender, service), (service, sender)):
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            threading.Thread(target=self._pass, args=(one, other), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while piece := one.recv(65536):
                if not self._in.is_set():
                    self._in.wait()
                    break
                other.sendall(piece)
        for each in (one, other):
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
