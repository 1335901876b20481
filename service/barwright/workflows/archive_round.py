"""A whole archive analysed again, as after a new revision of the method: may be stopped and gone on with at any time.

Every set is done in one transaction with the mark that it is done. What a stop cuts off is simply not done yet, and
done when the round goes on; nothing is done twice, even by two rounds of one name at the same time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor

from barwright.storage.rounds import DueSet, Round, due_sets
from barwright.storage.sessions import Database
from barwright.workflows.analyse_stored_set import analyse_in_round
from barwright.workflows.parts import Parts
from barwright.workflows.refresh_profile import refresh_profile

_AT_ONCE = 200
Told = Iterable[tuple[DueSet, str]]  # each set and what came of it
Work = Callable[[list[DueSet]], Told]


def run_round(
    parts: Parts,
    of_round: Round,
    club: str | None,
    work: Work,
    told: Callable[[Counter[str]], None] = lambda _: None,
) -> Counter[str]:
    """All sets that are due, a few hundred at a time; then profiles. Answers how often what came of a set.

    told: hears the counts after each few hundred. Raises StorageUnavailableError: what is done stays done.
    """
    counts: Counter[str] = Counter()
    for batch in _batches(parts.database, of_round, club):
        touched: dict[str, set[str]] = {}
        for one, came in work(batch):
            counts[came] += 1
            touched.setdefault(one.club_id, set()).add(one.athlete_id)
        for club_id, athletes in touched.items():
            refresh_profile(parts, club_id, athletes)
        told(counts)
    return counts


def here(parts: Parts, of_round: Round, threads: int) -> Work:
    """In this process, which hands the arithmetic to as many workers as it has threads."""

    def work(batch: list[DueSet]) -> Iterator[tuple[DueSet, str]]:
        with ThreadPoolExecutor(threads, thread_name_prefix="round") as pool:
            doing = pool.map(lambda one: analyse_in_round(parts, one.club_id, one.set_id, of_round), batch)
            yield from zip(batch, doing, strict=True)

    return work


def _batches(database: Database, of_round: Round, club: str | None) -> Iterator[list[DueSet]]:
    after = ""
    while True:
        with database.reading() as session:
            batch = due_sets(session, of_round, club, after, _AT_ONCE)
        if not batch:
            return
        yield batch
        after = batch[-1].set_id
