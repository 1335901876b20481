"""Keys a club hands to its devices and programs: shown once, kept only as a digest."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import zlib
from dataclasses import dataclass

PREFIX = "bw_"
_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
_RANDOM_LENGTH = 40  # 62**40 is above 2**238: too many to guess, so a plain digest is enough
_CHECK_LENGTH = 6  # 62**6 holds any CRC-32
_HINT_LENGTH = 7  # the prefix and 4 of 40 letters: tells a club's keys apart, and leaves 62**36 to guess


@dataclass(frozen=True, slots=True)
class NewKey:
    """`shown` goes to the caller once; `digest` and `hint`, its first letters, are what is stored."""

    shown: str
    digest: str
    hint: str


def new_key() -> NewKey:
    """A fresh random key."""
    body = "".join(secrets.choice(_LETTERS) for _ in range(_RANDOM_LENGTH))
    shown = PREFIX + body + _check_letters(body)
    return NewKey(shown, digest_of(shown), shown[:_HINT_LENGTH])


def looks_like_a_key(text: str) -> bool:
    """Whether prefix, length, letters and checksum fit: finds typing mistakes without asking the database."""
    if not text.startswith(PREFIX) or len(text) != len(PREFIX) + _RANDOM_LENGTH + _CHECK_LENGTH:
        return False
    body, check = text[len(PREFIX) : -_CHECK_LENGTH], text[-_CHECK_LENGTH:]
    return all(letter in _LETTERS for letter in body) and hmac.compare_digest(check, _check_letters(body))


def digest_of(shown: str) -> str:
    """SHA-256 of a key, in hex."""
    return hashlib.sha256(shown.encode()).hexdigest()


def same_text(one: str, other: str) -> bool:
    """Whether two secrets or digests are the same; takes as long wherever they differ."""
    return hmac.compare_digest(one.encode(), other.encode())


def _check_letters(body: str) -> str:
    number = zlib.crc32(body.encode())
    letters = []
    for _ in range(_CHECK_LENGTH):
        number, rest = divmod(number, len(_LETTERS))
        letters.append(_LETTERS[rest])
    return "".join(reversed(letters))
