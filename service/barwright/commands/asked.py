"""What all commands share: the folder they are told, and how trouble is said."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from barwright.settings import Settings

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

GOOD, ELSE, BAD_USE = 0, 1, 2


class Trouble(Exception):  # noqa: N818 - one plain line for stderr
    """What went wrong, and the exit code."""

    def __init__(self, line: str, code: int = ELSE) -> None:
        super().__init__(line)
        self.code = code


def data_option(command: argparse.ArgumentParser) -> None:
    """The option --data."""
    command.add_argument("--data", metavar="DIR", help="folder of the database (default: $BARWRIGHT_DATA, else ./data)")


def settings_of(told: argparse.Namespace) -> Settings:
    """What environment and --data say; the folder is made. Raises Trouble."""
    try:
        settings = Settings.from_env(data=told.data)
        settings.data.mkdir(parents=True, exist_ok=True)
    except ValueError as error:
        raise Trouble(str(error), BAD_USE) from error
    except OSError as error:
        raise Trouble(f"the folder {told.data!r} cannot be used: {error.strerror}") from error
    return settings


def is_no_database(error: Exception) -> bool:
    """Whether the database could not be reached, read or written."""
    if "barwright.storage.sessions" not in sys.modules:  # dear to load only to say no
        return False
    from barwright.storage.sessions import StorageUnavailableError

    return isinstance(error, StorageUnavailableError)
