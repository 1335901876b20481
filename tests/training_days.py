"""Invented training for tests: histories as CSV, and warm-up sets of a day as recordings with a known velocity."""

from __future__ import annotations

import json
import math
import random
from datetime import date, timedelta

DAY = date(2026, 3, 1)  # the day that is asked about; all history lies before it
WARM_UPS = (0.55, 0.65, 0.75)


def line_velocity(share: float, one_rep: float = 1.72, slope: float = 1.25) -> float:
    """Peak velocity of a snatch at a share of the maximum."""
    return one_rep + slope * (1.0 - share)


def history(days: int = 30, max_kg: float = 100.0, lift: str = "snatch", seed: int = 4, before: date = DAY) -> str:
    """CSV of `days` sessions every other day before a day, three loads each; days differ by 2 %, reps by 0.02 m/s."""
    dice = random.Random(seed)
    rows = ["date,lift,set,load[kg],reps,velocity[m/s],velocity_u[m/s]"]
    for session in range(days, 0, -1):
        day, strength = before - timedelta(days=2 * session), math.exp(dice.gauss(0.0, 0.02))
        for number, share in enumerate(WARM_UPS, 1):
            load = round(max_kg * share)
            velocity = line_velocity(load / (max_kg * strength)) + dice.gauss(0.0, 0.02)
            rows.append(f"{day},{lift},{number},{load},2,{velocity:.3f},0.02")
    return "\n".join(rows) + "\n"


def import_history(client, athlete_id: str, text: str, **params: str):
    """The answer to a file of history."""
    headers = {"Content-Type": "text/csv"}
    return client.post(f"/v1/athletes/{athlete_id}/history", content=text.encode(), headers=headers, params=params)


def record(client, athlete: str, load_kg: float, velocity: float, at: str = f"{DAY}T17:30:00Z", lift: str = "snatch"):
    """A set of one rep that the stand-in analysis finds this peak velocity in, to 0.01 m/s."""
    rows = "".join(f"{i * 0.005:.3f},{velocity if i == 50 else 0.0}\n" for i in range(100))
    meta = {"athlete": athlete, "device": "string", "lift": lift, "load_kg": load_kg, "started_at": at}
    file = {"file": ("set.csv", b"t_s,velocity[m/s]\n" + rows.encode())}
    answer = client.post("/v1/recordings", data={"meta": json.dumps(meta)}, files=file)
    assert answer.status_code == 201, answer.text
    return answer.json()


def warm_up(client, athlete: str, strength: float = 1.0, max_kg: float = 100.0, on: date = DAY) -> list[dict]:
    """Three warm-up sets of a day, as fast as somebody with `strength` times the usual maximum lifts them."""
    return [
        record(
            client,
            athlete,
            round(max_kg * share),
            round(line_velocity(round(max_kg * share) / (max_kg * strength)), 3),
            f"{on}T17:{30 + number}:00Z",
        )
        for number, share in enumerate(WARM_UPS)
    ]


def problem(answer) -> tuple[int, str, list[str]]:
    """Status, code and pointers of a problem."""
    told = answer.json()
    return answer.status_code, told["code"], [one["pointer"] for one in told["errors"]]
