"""A screen beside the platform: `gym_screen.py ATHLETE_ID`, with BARWRIGHT_KEY and, where it is another, BARWRIGHT_URL.

The key needs results:read. Events say when to ask; everything shown comes from one call. Ctrl-C ends it.
"""

from __future__ import annotations

import contextlib
import os
import sys

from barwright_client import Client, GymScreen

LAST_REPS = 6
CLEAR = "\x1b[2J\x1b[H"
ASK_AFTER = {"set_opened", "rep", "rep_corrected", "stop_advised", "set_closed", "gap"}


def page(screen: GymScreen) -> str:
    """What is shown, as text."""
    if screen.set_id is None:
        return "\n".join([f"{screen.athlete}: no set yet", *coming(screen)])
    lines = [f"{screen.athlete}   {screen.lift} {screen.load_kg:g} kg   {screen.state}", ""]
    for rep in screen.reps[-LAST_REPS:]:
        sure = "~" if rep.provisional else " "  # may still change while the set is open
        lines.append(f"{sure}{rep.index + 1:3}  {rep.outcome:8}{rep.velocity!s:20}{rep.zone or ''}")
    if screen.stop:
        lines += ["", f"{'STOP' if screen.stop.advised else 'go on'}: {screen.stop.words}"]
    return "\n".join([*lines, "", *coming(screen)])


def coming(screen: GymScreen) -> list[str]:
    """The next set by today's plan, or why there is none; and the caution that belongs to every load."""
    if screen.next is None:
        return [f"next: {screen.next_reason}", screen.caution]
    line = screen.next
    return [f"next: {line['lift']} {line['load_kg']} kg x {line['reps']}, {screen.sets_left} sets left", screen.caution]


def watch(client: Client, athlete: str) -> None:
    """Shows the screen now, and again whenever something happened to this athlete."""
    screen = client.gym(athlete)
    print(CLEAR + page(screen), flush=True)
    for event in client.events(last_id=screen.last_event_id):
        about = event.data.get("athlete_id", athlete)  # a gap is about everybody
        known = event.id is not None and event.id <= screen.last_event_id  # the screen has it already
        if event.kind in ASK_AFTER and about == athlete and not known:
            screen = client.gym(athlete)
            print(CLEAR + page(screen), flush=True)


if __name__ == "__main__":
    url = os.environ.get("BARWRIGHT_URL", "http://127.0.0.1:8400")
    with contextlib.suppress(KeyboardInterrupt), Client(url, os.environ["BARWRIGHT_KEY"]) as service:
        watch(service, sys.argv[1])
