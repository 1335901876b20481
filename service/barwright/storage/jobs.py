"""The queue of analyses on PostgreSQL: asked for in the transaction that makes them due, taken by `barwright work`."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from sqlalchemy import func, select, text
from sqlalchemy.exc import OperationalError
from sqlmodel import Session

from barwright.storage.turns import lock_of

if TYPE_CHECKING:
    from procrastinate import App

QUEUE, TASK = "analysis", "analyse_set"
# A set waits at most once, and two runs of one set never overlap: the job's locks carry its id.
_WAITS = text("SELECT 1 FROM procrastinate_jobs WHERE queueing_lock = :set_id AND status = 'todo'")
_LENGTH = text("SELECT count(*) FROM procrastinate_jobs WHERE queue_name = :queue AND status IN ('todo', 'doing')")
_FORGOTTEN = text(
    "SELECT club_id, id FROM lift_set WHERE state = 'analysing' "
    "AND NOT EXISTS (SELECT 1 FROM procrastinate_jobs WHERE queueing_lock = lift_set.id AND status = 'todo') "
    "AND NOT EXISTS (SELECT 1 FROM procrastinate_jobs WHERE lock = lift_set.id AND status = 'doing') "
    "AND id NOT IN (SELECT lock FROM procrastinate_jobs WHERE status = 'failed' AND lock IS NOT NULL) "
    "ORDER BY started_at LIMIT 1000 FOR UPDATE SKIP LOCKED"
)
_GIVEN_UP = text("DELETE FROM procrastinate_jobs WHERE queue_name = :queue AND status = 'failed'")


def ask_for_analysis(session: Session, club_id: str, set_id: str) -> None:
    """The set is due from the commit of this session on; on SQLite its state alone says so."""
    if not on_postgresql(session):
        return
    if session.connection().execute(_WAITS, {"set_id": set_id}).first() is not None:
        return
    from procrastinate.exceptions import ConnectorException

    driver = session.connection().connection.dbapi_connection
    job = _asking().configure_task(TASK, queue=QUEUE, lock=set_id, queueing_lock=set_id, connection=driver)
    try:
        job.defer(club_id=club_id, set_id=set_id)
    except ConnectorException as error:
        raise OperationalError("ask for an analysis", {}, error.__cause__ or error) from error


def ask_for_forgotten(session: Session) -> int:
    """Asks for analyses that are due and that no job stands for, at most 1000 at a time; how many there were."""
    session.connection().execute(select(func.pg_advisory_xact_lock(lock_of("turn", "forgotten"))))
    due = session.connection().execute(_FORGOTTEN).all()
    for club_id, set_id in due:
        ask_for_analysis(session, club_id, set_id)
    return len(due)


def try_again_what_failed(session: Session) -> None:
    """Jobs that ended with an error are due again: whoever starts anew may have mended it."""
    session.connection().execute(_GIVEN_UP, {"queue": QUEUE})


def jobs_unfinished(session: Session) -> int:
    """Sets that wait for their analysis or are being analysed, of all clubs."""
    return int(session.connection().execute(_LENGTH, {"queue": QUEUE}).scalar() or 0)


def on_postgresql(session: Session) -> bool:
    """Whether this session is one of PostgreSQL."""
    return session.get_bind().dialect.name == "postgresql"


@cache
def _asking() -> App:
    from procrastinate import App, SyncPsycopgConnector

    return App(connector=SyncPsycopgConnector())  # never opened: it works in the connections it is handed
