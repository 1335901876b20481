"""A data folder is one process's at a time: a second one would clear away the first one's raw objects."""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class FolderInUseError(OSError):
    """Another process works on the folder."""


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Nobody else works on the folder meanwhile. Raises FolderInUseError when somebody does already."""
    with (folder / "lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise FolderInUseError(f"another service already uses the folder {folder}") from error
        yield
