"""One HTTP connection: what never becomes a request is answered as a problem too, and a head has its limit."""

from __future__ import annotations

import logging
import secrets
from http import HTTPStatus

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from barwright.api.edge import REQUEST_ID
from barwright.api.problems import problem

log = logging.getLogger(__name__)

MOST_HEAD_BYTES = 65_536  # request line and headers; they are held in memory before any key has been looked at
_UNREADABLE = (
    "The bytes that arrived are not an HTTP/1.1 request (RFC 9112), or use a method this service does not know."
)
_TOO_LARGE = f"The request line and headers are larger than {MOST_HEAD_BYTES} bytes; send what is long in the body."


class Connection(HttpToolsProtocol):
    """Counts the bytes of every request's head."""

    _head_bytes = 0

    def data_received(self, data: bytes) -> None:
        """As they come from the network."""
        self._head_bytes += len(data)
        super().data_received(data)
        if self._head_bytes > MOST_HEAD_BYTES and not self.transport.is_closing():
            self._refuse("head-too-large", _TOO_LARGE)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Fields behind a body say nothing here and are not kept."""
        if self._head_bytes >= 0:
            super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """The head has ended; a body is counted elsewhere."""
        self._head_bytes = -(2**62)
        super().on_headers_complete()

    def on_message_complete(self) -> None:
        """The next head begins."""
        self._head_bytes = 0
        super().on_message_complete()

    def send_400_response(self, msg: str) -> None:
        """What cannot be read ends the connection."""
        self._refuse("request-unreadable", _UNREADABLE)

    def _refuse(self, code: str, detail: str) -> None:
        answer = problem(code, detail, "")
        status, request_id = HTTPStatus(answer.status_code), secrets.token_hex(8)
        log.info("request %s: %s", request_id, code)
        head = [f"HTTP/1.1 {status.value} {status.phrase}", "connection: close", f"{REQUEST_ID}: {request_id}"]
        head += [f"{name.decode()}: {value.decode()}" for name, value in answer.raw_headers]
        self.transport.write("\r\n".join([*head, "", ""]).encode() + bytes(answer.body))
        self.transport.close()
