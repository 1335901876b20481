"""The log: lines of text, or one JSON object a line; either with the id of the request a line is about."""

from __future__ import annotations

import json
import logging
import re
import sys
from datetime import UTC, datetime

from barwright.access.current_request import REQUEST_ID

# Whatever a library or an error message carries along: keys, secrets of webhooks, links and passwords in addresses.
_SECRETS = re.compile(
    r"\bbw_[0-9A-Za-z]{6,}|\bwhsec_[0-9A-Za-z+/=]{6,}|(?<=/sign-in/)[\w-]{8,}|(?i:\bbearer\s+)[^\s\"']{6,}|"
    r"(?<=://)([^/\s:@]*):[^/\s@]+(?=@)"
)


def without_secrets(text: str) -> str:
    """The text with every secret struck out."""
    return _SECRETS.sub("[secret]", text)


class TextLines(logging.Formatter):
    """As people read them."""

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        """One record; the request it belongs to stands in brackets."""
        line = without_secrets(super().format(record))
        request_id = REQUEST_ID.get()
        return line if request_id is None or request_id in line else f"{line} [request {request_id}]"


class JsonLines(logging.Formatter):
    """As programs read them: time (RFC 3339, UTC), level, logger, message, request_id, what else was told."""

    def format(self, record: logging.LogRecord) -> str:
        """One record as one line."""
        told = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": without_secrets(record.getMessage()),
            "request_id": REQUEST_ID.get(),
            **getattr(record, "told", {}),
        }
        if record.exc_info:
            told["error"] = without_secrets(self.formatException(record.exc_info))
        return json.dumps(told, ensure_ascii=False, default=str)


def write_log(form: str, level: int = logging.INFO) -> None:
    """Everything from this level on goes to stderr. form: text or json."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines() if form == "json" else TextLines())
    logging.basicConfig(level=level, handlers=[handler])
