"""Who of the club lifts elsewhere."""

from __future__ import annotations

from barwright.access.caller import Caller
from barwright.storage.athletes import AthleteStore
from barwright.storage.reviews import ReviewStore
from barwright.workflows.parts import Parts


def remote_names(parts: Parts, caller: Caller) -> list[str]:
    """Names of the remote athletes, in order."""
    with parts.database.reading() as session:
        ids = ReviewStore(session, caller.club_id).remote()
        return [one.facts.name for one in AthleteStore(session, caller.club_id).all() if one.id in ids]
