"""The command line; what each command is stands in commands/."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from barwright.commands import analysing, archive, bridging, keeping, letting_in, previewing, running
from barwright.commands.asked import ELSE, GOOD, Trouble, is_no_database
from barwright.workflows.one_thread import one_thread_each


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command. Exit codes: 0 good, 2 bad use, 1 anything else."""
    one_thread_each()  # before anything loads numpy
    told = _parser().parse_args(arguments)
    try:
        told.run(told)
    except Trouble as trouble:
        print(f"barwright: {trouble}", file=sys.stderr)
        return trouble.code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader has gone; nothing to tell it
    except KeyboardInterrupt:
        return ELSE
    except Exception as error:
        if not is_no_database(error):
            raise
        print(f"barwright: the database cannot be used: {' '.join(str(error).split())}", file=sys.stderr)
        return ELSE
    return GOOD


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="barwright", description="Bar velocity and bar path from a sensor on the bar."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for part in (running, letting_in, analysing, previewing, keeping, archive, bridging):
        part.add_to(commands)
    return parser


if __name__ == "__main__":
    sys.exit(main())
