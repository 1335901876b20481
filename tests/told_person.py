"""A person who has something in every table that can have it, and the bytes by which they are found again."""

from __future__ import annotations

from typing import Any

import numpy as np
from sqlalchemy import select

from barwright.storage.raw_objects import StoredObject
from barwright.storage.tables import METADATA
from barwright.workflows.parts import Parts
from conftest import IMU_COLUMNS, Service, imu_block

NAME = "Imke Sommerwind-Ypsilon"  # no other word of the program or of the tests
NOTE = "Mother, Zwetschge 77"
PIECE, APART = 12, 150  # bytes of stored samples that are searched for, and how far from each other


def marked_block(seq: int, count: int = 100) -> dict[str, Any]:
    """Samples like no others, not small whole numbers either: they are found wherever they are."""
    random = np.random.default_rng(1234 + seq)
    columns = {name: random.normal(size=count).tolist() for name in IMU_COLUMNS}
    return imu_block(seq, count, channels=columns)


def tell_everything(service: Service) -> tuple[dict[str, Any], dict[str, Any], str]:
    """The athlete, a closed stream of theirs, and its set; another stream stays open."""
    post = service.client.post
    body = {"name": NAME, "birth_year": 2011, "consent_on": "2026-01-05", "guardian_note": NOTE}
    athlete = post("/v1/athletes", json=body, headers={"Idempotency-Key": "a"}).json()
    url = f"/v1/athletes/{athlete['id']}"
    stream = service.stream(athlete=NAME)
    for seq in range(2):
        assert service.send(stream["id"], marked_block(seq)).status_code == 200
    closed = post(f"/v1/streams/{stream['id']}/close?wait=20").json()
    service.send(service.stream(athlete=NAME)["id"], marked_block(2))
    assert post(f"{url}/maxima", json={"lift": "snatch", "load_kg": 61.5, "on": "2026-03-01"}).status_code == 201
    history = b"date,lift,set,load,reps,velocity,note\n2026-02-01,snatch,1,51,1,1.9,=cmd\n"
    sent = post(f"{url}/history", content=history, headers={"Content-Type": "text/csv"})
    assert sent.status_code in (200, 201), sent.text
    plan = {"on": "2026-03-02", "note": "quiet week", "sets": [{"lift": "snatch", "percent": 80, "reps": 2, "sets": 3}]}
    assert post(f"{url}/plans", json=plan).status_code == 201
    assert service.client.patch(f"/v1/sets/{closed['set_id']}", json={"load_kg": 61, "reason": "weighed"}).is_success
    return athlete, stream, closed["set_id"]


def words_of(stream: dict[str, Any]) -> list[bytes]:
    """Name, note and the id of a stream; ids of sets may stay in the trail, and lead from there to nobody."""
    return [NAME.encode(), NOTE.encode(), stream["id"].encode()]


def bare_samples() -> list[bytes]:
    """Two values in a row of every column of every marked block, as they are when nothing squeezes them."""
    columns = [np.array(marked_block(seq)["channels"][name]) for seq in range(3) for name in IMU_COLUMNS]
    return [column[10:12].tobytes() for column in columns]


def squeezed_samples(parts: Parts) -> list[bytes]:
    """Pieces out of the middle of everything that now holds samples, as it is stored: rows and raw objects."""
    with parts.database.reading() as session:
        rows = session.connection().execute(select(METADATA.tables["block_body"].c.body)).scalars().all()
        streams = METADATA.tables["stream"]
        kept = session.connection().execute(select(streams.c.raw_object, streams.c.raw_digest)).all()
    objects = [parts.raw.get(StoredObject(name, digest)) for name, digest in kept if name is not None]
    bodies = [bytes(one) for one in [*rows, *objects]]
    return [one[at : at + PIECE] for one in bodies for at in range(APART, len(one) - APART, APART)]
