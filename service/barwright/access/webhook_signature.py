"""Signatures of messages to webhooks, after Standard Webhooks 1.0.0 (symmetric, `v1`)."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

PREFIX = "whsec_"
_SECRET_BYTES = 32  # the specification asks for 24 to 64


def new_secret() -> str:
    """A fresh secret; shown once to whoever makes the webhook."""
    return PREFIX + base64.b64encode(secrets.token_bytes(_SECRET_BYTES)).decode()


def signature(secret: str, message_id: str, timestamp_s: int, body: bytes) -> str:
    """The webhook-signature of a message: HMAC-SHA256 over `id.timestamp.body`, in base64 behind `v1,`."""
    key = base64.b64decode(secret.removeprefix(PREFIX))
    told = f"{message_id}.{timestamp_s}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key, told, hashlib.sha256).digest()).decode()
