"""After a start: what every first look at Today would have to wait for is worked out beforehand."""

from __future__ import annotations

import gc
import logging
from contextlib import suppress

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.storage.keys import ids_of_all_clubs
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows.check_readiness import catch_up, check_club
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

_SELDOM = 20_000  # a page of sets is thousands of objects, all in use until it is sent: every 700 is in vain


def settle_in(parts: Parts) -> None:
    """Works out what days say of every lift, and today's readiness, of every club once.

    What is loaded by then is no longer searched for garbage; with many clubs this takes minutes, and requests that come
    meanwhile must not wait for such a search either.
    """
    _search_no_more()
    turn = parts.database.alone("settle-in")
    with suppress(StorageUnavailableError):  # then the first one who asks waits a little
        parts.database.get_to_know_itself()
        if turn.take():  # else another service is at it
            with parts.database.reading() as session:
                clubs = ids_of_all_clubs(session)
            for club_id in clubs:
                caller = Caller(club_id, "", frozenset({Scope.RESULTS_READ}))
                catch_up(parts, caller)
                check_club(parts, caller, None)
    turn.give_back()
    _search_no_more()
    log.info("settled in: what the days say of every club's lifts is worked out")


def _search_no_more() -> None:
    gc.collect()
    gc.freeze()
    gc.set_threshold(_SELDOM)
