"""What is left after chaos, held against what was pushed."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from pathlib import Path

from barwright.ingest.block import Block
from bench.chaos_sender import BLOCK
from bench.kills import results_of

MISSING = "blocks that push() had taken and that are missing, or not the same"
STRANGE = "blocks, or samples, that nobody pushed"
DOUBLED = "streams and sets that are there twice, or not at all"
NOT_ONCE = "sets not analysed, or not exactly once"
OTHER = "sets whose results are not those of an undisturbed run"
TOLD_TWICE = "reps told as new twice while the set went on"
WHICH_STREAMS = """
SELECT athlete.name, stream.id, lift_set.id FROM stream JOIN athlete ON athlete.id = stream.athlete_id
JOIN lift_set ON lift_set.stream_id = stream.id
"""


def problems_of(
    data: Path,
    blocks: Sequence[Callable[[str], list[Block]]],
    expected: Mapping[int, str],
    samples: Mapping[int, int],
) -> Counter[str]:
    """How often each went wrong.

    blocks: of each set, all it would have, for a device start of this name. expected: results. samples: of each set.
    """
    found = Counter(dict.fromkeys((MISSING, STRANGE, DOUBLED, NOT_ONCE, OTHER, TOLD_TWICE), 0))
    results, streams = results_of(data), streams_of(data)
    times = Counter(number for number, _, _ in streams)
    found[DOUBLED] = sum(times[number] != 1 for number in range(len(blocks))) + abs(len(results) - len(blocks))
    with closing(sqlite3.connect(data / "barwright.db")) as database:
        for number, stream_id, set_id in streams:
            rows = database.execute(
                "SELECT boot, seq, digest, samples FROM block WHERE stream_id=?", [stream_id]
            ).fetchall()
            boots = {row[0] for row in rows} or {""}
            pushed = {one.seq: one.digest() for one in blocks[number](min(boots)) if one.seq * BLOCK < samples[number]}
            stored = {(boot, seq): digest for boot, seq, digest, _ in rows}
            found[MISSING] += sum(stored.get((min(boots), seq)) != digest for seq, digest in pushed.items())
            found[STRANGE] += len(set(stored) - {(min(boots), seq) for seq in pushed})
            found[STRANGE] += sum(row[3] for row in rows) > samples[number]
            (state,) = database.execute("SELECT state, revision FROM lift_set WHERE id=?", [set_id]).fetchall()
            found[NOT_ONCE] += state != ("analysed", 1)
            found[OTHER] += results[set_id] != expected[number]
        told = database.execute(
            "SELECT stream_id, json_extract(data, '$.rep.index') FROM live_event WHERE kind='rep'"
        ).fetchall()
    found[TOLD_TWICE] = len(told) - len(set(told))
    return found


def streams_of(data: Path) -> list[tuple[int, str, str]]:
    """(number, stream, set) of everything that was sent."""
    with closing(sqlite3.connect(data / "barwright.db")) as database:
        rows = database.execute(WHICH_STREAMS).fetchall()
    return [(int(name.split()[1]), stream_id, set_id) for name, stream_id, set_id in rows]
