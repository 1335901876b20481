"""A club is told when the verdict on an athlete's day has become another than the one told last."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlmodel import Session

from barwright.analysis.quantities.estimate import unknown
from barwright.analysis.readiness.today import Verdict
from barwright.storage.athletes import AthleteStore
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.points import Place
from barwright.storage.told_readiness import ToldReadinessStore
from barwright.storage.webhooks import WebhookStore
from barwright.workflows.check_readiness import NOTHING, AthleteToday, LiftToday, days_of, verdict_of
from barwright.workflows.days import today_of
from barwright.workflows.event_data import figure_json
from barwright.workflows.parts import Parts
from barwright.workflows.webhook_messages import enqueue_message

KIND = "readiness_changed"


def tell_readiness(parts: Parts, session: Session, club_id: str, touched: Iterable[Place]) -> None:
    """Messages about those (athlete id, lift, day) whose efforts have just been changed in this session.

    With the change they are kept, or neither is. Of today in the club's time zone only: what is found of an earlier day
    comes too late to act on. Nothing is worked out when no webhook wants it. The session has the club's turn.
    """
    if not WebhookStore(session, club_id).wanting(KIND):
        return
    settings = ClubSettingsStore(session, club_id).get()
    day, now = today_of(parts, settings), parts.now()
    told = ToldReadinessStore(session, club_id)
    for athlete_id, lift in sorted({(athlete_id, lift) for athlete_id, lift, on in touched if on == day}):
        athlete = AthleteStore(session, club_id).get(athlete_id)
        if athlete is None:
            continue
        (today,), _ = days_of(session, club_id, settings, [athlete], day, lift)
        (one,) = today.lifts
        before, verdict = told.verdict(athlete_id, lift, day) or Verdict.NOT_ENOUGH_DATA.value, verdict_of(one).value
        if verdict != before:
            told.put(athlete_id, lift, day, verdict, now)
            enqueue_message(session, club_id, KIND, now, _data(today, one, before), now)


def _data(today: AthleteToday, one: LiftToday, before: str) -> dict[str, Any]:
    """The lift in short, named as in the answer that `link` leads to."""
    found = one.readiness
    return {
        "athlete_id": today.athlete.id,
        "athlete": today.athlete.facts.name,
        "lift": one.lift,
        "on": today.on.isoformat(),
        "before": before,
        "verdict": verdict_of(one).value,
        "change": figure_json(unknown("%", NOTHING) if found is None else found.change),
        "probability": None if found is None else found.probability,
        "smallest_change_percent": None if found is None else found.smallest_percent,
        "reasons": [NOTHING] if found is None else list(found.reasons),
        "caution": today.caution,
        "link": f"/v1/athletes/{today.athlete.id}/readiness?on={today.on}&lift={one.lift}",
    }
