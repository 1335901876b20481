"""reanalyse-all: a whole archive analysed again."""

from __future__ import annotations

import argparse
import logging
from typing import TYPE_CHECKING

from barwright.commands.asked import BAD_USE, Trouble, data_option, settings_of
from barwright.log_lines import write_log

if TYPE_CHECKING:
    from collections import Counter

    from barwright.commands.asked import Commands
    from barwright.settings import Settings
    from barwright.storage.rounds import Round
    from barwright.workflows.archive_round import Work


def add_to(commands: Commands) -> None:
    """The options."""
    again = commands.add_parser("reanalyse-all", help="analyse every set again that another method analysed")
    data_option(again)
    again.add_argument("--club", metavar="NAME", help="only this club's")
    again.add_argument(
        "--round",
        metavar="NAME",
        help="every set, whatever analysed it; the same name goes on where it stopped (default: the present method)",
    )
    again.add_argument("--dask", metavar="ADDRESS", help="on the workers of this scheduler, tcp://host:port")
    again.set_defaults(run=_reanalyse_all)


def _reanalyse_all(told: argparse.Namespace) -> None:
    from barwright.analysis.reps.set_analysis import METHOD
    from barwright.ingest.limits import Limits
    from barwright.storage.raw_objects import open_raw
    from barwright.storage.rounds import Round
    from barwright.storage.sessions import Database, StorageUnavailableError
    from barwright.workflows.analyst import Analyst
    from barwright.workflows.archive_round import here, run_round
    from barwright.workflows.parts import Parts

    settings = settings_of(told)
    write_log(settings.log, logging.WARNING)
    if told.round is not None and not 0 < len(told.round.strip()) <= 60:
        raise Trouble("--round has to be a name of 1 to 60 characters", BAD_USE)
    of_round = Round(METHOD, METHOD) if told.round is None else Round(told.round.strip(), None)
    analyst = Analyst(settings.workers)
    database = Database(settings.database_url)
    try:
        parts = Parts(database, open_raw(settings.raw), Limits(), analyst)
        work = here(parts, of_round, settings.workers) if told.dask is None else _on_dask(told.dask, settings, of_round)
        counts = run_round(parts, of_round, told.club, work, _said)
    except (StorageUnavailableError, ValueError) as error:
        raise Trouble(f"stopped: {error}. What is done stays done; the same command goes on from there") from error
    finally:
        database.close()
        analyst.close()
    _said(counts)
    if counts["damaged"]:
        raise Trouble(f"the samples of {counts['damaged']} sets cannot be read; `barwright verify` names them")


def _on_dask(address: str, settings: Settings, of_round: Round) -> Work:
    try:
        from barwright.workflows.archive_on_dask import connect, on_dask
    except ImportError as error:
        raise Trouble("dask is not installed: pip install 'barwright[archive]'", BAD_USE) from error
    try:
        client = connect(address)
    except (OSError, ValueError) as error:
        raise Trouble(f"no scheduler of dask answers at {address}: {error}") from error
    return on_dask(client, settings.database_url, settings.raw, of_round)


def _said(counts: Counter[str]) -> None:
    words = ", ".join(f"{number} {what}" for what, number in sorted(counts.items()))
    print(words or "nothing is due", flush=True)
