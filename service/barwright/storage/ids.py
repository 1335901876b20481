"""Short random ids; the prefix says what the id names and means nothing else."""

from __future__ import annotations

import secrets

_LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: read aloud without mistakes
_LENGTH = 20  # 100 bits


def new_id(prefix: str) -> str:
    """For example ath_4k0m... for an athlete."""
    return prefix + "_" + "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
