"""Coaches at the door: passphrases, one-time links, sessions and the token that each form carries."""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import secrets
from dataclasses import dataclass

SHORTEST_PASSPHRASE = 10
LONGEST_PASSPHRASE = 200
_TOKEN_BYTES = 32  # 256 random bits: too many to guess, so a plain digest is enough
# scrypt (RFC 7914): 32 MiB and about a quarter of a second for each guess; common practice, no source.
_N, _R, _P = 2**15, 8, 3
_MEMORY = 64 * 2**20


@dataclass(frozen=True, slots=True)
class Token:
    """A session's or a link's secret: `shown` goes out once, `digest` is what is stored."""

    shown: str
    digest: str


def new_token() -> Token:
    """A fresh random token."""
    shown = secrets.token_urlsafe(_TOKEN_BYTES)
    return Token(shown, digest_of_token(shown))


def digest_of_token(shown: str) -> str:
    """SHA-256 of a token, in hex."""
    return hashlib.sha256(shown.encode()).hexdigest()


def hash_passphrase(passphrase: str) -> str:
    """What is stored of a passphrase: scrypt with its own salt, parameters beside it."""
    salt = secrets.token_bytes(16)
    return f"scrypt${_N}${_R}${_P}${salt.hex()}${_scrypt(passphrase, salt, _N, _R, _P).hex()}"


def check_passphrase(passphrase: str, stored: str | None) -> bool:
    """Whether this is the passphrase; takes as long when there is none to compare with."""
    n, r, p, salt, wanted = _read(stored) if stored else (_N, _R, _P, b"no such coach at all", b"")
    found = _scrypt(passphrase, salt, n, r, p)
    return hmac.compare_digest(found, wanted) and stored is not None


def form_token(session: str) -> str:
    """The token every form of a session carries, masked afresh each time.

    Pages are compressed; a token that never changed could be guessed from their lengths (BREACH, 2013).
    """
    mask = secrets.token_bytes(_TOKEN_BYTES)
    return base64.urlsafe_b64encode(mask + _xor(mask, _form_key(session))).decode()


def check_form_token(session: str, given: str) -> bool:
    """Whether the token came from a form of this session."""
    try:
        both = base64.urlsafe_b64decode(given.encode())
    except (binascii.Error, ValueError):
        return False
    if len(both) != 2 * _TOKEN_BYTES:
        return False
    return hmac.compare_digest(_xor(both[:_TOKEN_BYTES], both[_TOKEN_BYTES:]), _form_key(session))


def _form_key(session: str) -> bytes:
    return hmac.digest(session.encode(), b"form", "sha256")


def _xor(one: bytes, other: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(one, other, strict=True))


def _scrypt(passphrase: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(passphrase.encode(), salt=salt, n=n, r=r, p=p, maxmem=_MEMORY, dklen=32)


def _read(stored: str) -> tuple[int, int, int, bytes, bytes]:
    _, n, r, p, salt, wanted = stored.split("$")
    return int(n), int(r), int(p), bytes.fromhex(salt), bytes.fromhex(wanted)
