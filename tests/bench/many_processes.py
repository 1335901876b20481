"""Many processes on one PostgreSQL: sets a minute by workers, and everything killed at random while sets come in."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path
from typing import Any

from barsim import simulate
from barwright.access.scopes import ALL_SCOPES
from barwright.app import create_app
from barwright.ingest.block import Block
from barwright.ingest.limits import Limits
from barwright.settings import Settings
from barwright.storage.blocks import PackedBlock
from barwright.storage.migrate import migrate
from barwright.storage.raw_objects import open_raw
from barwright.storage.sessions import Database
from barwright.storage.sets import SetStore, unfinished_sets
from barwright.storage.streams import StreamStore
from barwright.workflows.analysis_job import run_job
from barwright.workflows.begin_stream import StreamRequest, begin_stream
from barwright.workflows.commit_blocks import Arrival, commit_arrivals
from barwright.workflows.manage_keys import issue_key, who_calls
from barwright.workflows.parts import Parts, utc_now
from barwright.workflows.receive_block import stream_form
from bench.tables import Table
from bench.work import Bench
from chaos import Chaos, Running, recordings, undisturbed
from conftest import Service, TestClient
from live.follow import blocks_of
from postgres import CHEAP, postgres
from served import CLUB

SETS, WARM_UPS, ROUNDS = 120, 10, 3
CHAOS_SETS, KILL_EVERY_SETS, SEED = 500, 8, 20261125
DURABLE = {name: value for name, value in CHEAP.items() if name not in ("fsync", "full_page_writes")}


def workers(_bench: Bench) -> list[Table]:
    """Sets a minute of one worker and of two, each with one process that analyses; in turns, the best of each.

    From the end of the first analysis to the end of the last, all of them asked for before, by workers that have
    analysed something already: how long a worker takes to start is another matter.
    """
    rates: dict[int, list[float]] = {1: [], 2: []}
    with tempfile.TemporaryDirectory() as folder, postgres(Path(tempfile.mkdtemp()) / "data", DURABLE) as server:
        url = server.create("workers")
        database = Database(url)
        sets = _stored_sets(database, Path(folder))
        for _ in range(ROUNDS):
            for count in rates:
                rates[count].append(_rate(database, url, Path(folder), sets, count))
                print(f"workers: {count}: {rates[count][-1]:.0f} sets a minute", file=sys.stderr, flush=True)
        database.close()
    best = {count: max(found) for count, found in rates.items()}
    ratio = best[2] / best[1]
    rows = [
        (str(count), ", ".join(f"{one:.0f}" for one in found), f"{best[count]:.0f}") for count, found in rates.items()
    ]
    rows.append(("2 to 1", "", f"{ratio:.2f} >1.7 {'met' if ratio >= 1.7 else 'NOT met'}"))
    notes = (
        f"{SETS} stored sets of one snatch at 200 Hz are asked for at once, {ROUNDS} times each; from the end of",
        f"the first analysis to the end of the last. {WARM_UPS} sets were analysed by the same workers before.",
    )
    columns = ("workers", "sets a minute, each time", "best")
    return [Table("Sets a minute by workers on PostgreSQL", columns, tuple(rows), notes)]


def _stored_sets(database: Database, folder: Path) -> list[tuple[str, str]]:
    recording = simulate("snatch", seed=5, device="good").recording
    blocks = blocks_of(recording, 5.0)
    parts = Parts(database, open_raw(Settings.from_env({}, str(folder)).raw), Limits(), run_job)
    key = issue_key(database, CLUB, ALL_SCOPES, utc_now())
    caller = who_calls(database, key, utc_now())
    assert caller is not None
    out = []
    for number in range(SETS):
        asked = StreamRequest(
            lift="snatch", load_kg=60.0, athlete=f"Athlete {number % 20}", device="bar", device_kind="imu",
            units={"accel": "m/s2", "gyro": "rad/s"}, bar_axis="+x",
        )  # fmt: skip
        stream_id = begin_stream(parts, caller, asked, None, lambda stream: stream.id.encode()).decode()
        form = stream_form(parts, caller, stream_id)
        arrivals = [Arrival(caller.club_id, form, block, PackedBlock.of(block)) for block in blocks]
        commit_arrivals(database, parts.limits, utc_now(), arrivals)
        with database.writing(caller.club_id) as session:
            StreamStore(session, caller.club_id).close(stream_id, utc_now())
        out.append((caller.club_id, form.set_id))
    return out


def _rate(database: Database, url: str, folder: Path, sets: list[tuple[str, str]], count: int) -> float:
    running = [Running(url, folder, "work") for _ in range(count)]
    try:
        for one in running:
            one.wait_until_ready()
        _analyse_all(database, sets[:WARM_UPS])
        ends = _analyse_all(database, sets)
        return 60.0 * (len(ends) - 1) / (ends[-1] - ends[0]).total_seconds()
    finally:
        for one in running:
            one.stop()


def _analyse_all(database: Database, sets: list[tuple[str, str]]) -> list[datetime]:
    """When the analysis of each was done, the first one first."""
    club_id = sets[0][0]
    with database.writing(club_id) as session:
        for _, set_id in sets:
            SetStore(session, club_id).mark_analysing(set_id)
    unfinished = True
    while unfinished:
        time.sleep(0.5)  # seldom: the cores are for the workers
        with database.reading() as session:
            unfinished = bool(unfinished_sets(session))
    with database.reading() as session:
        found = [SetStore(session, club_id).get(set_id) for _, set_id in sets]
    return sorted(one.analysed_at for one in found if one is not None and one.analysed_at is not None)


def kills_postgresql(_bench: Bench) -> list[Table]:
    """Two services, two workers and the database, one of them killed every few sets, until all are in."""
    with ExitStack() as opened:
        folder = Path(opened.enter_context(tempfile.TemporaryDirectory()))
        blocks = recordings(4)
        expected = _expected(folder / "alone", blocks)
        server = opened.enter_context(postgres(Path(tempfile.mkdtemp()) / "data", DURABLE))
        chaos = Chaos(server, server.create("chaos"), folder, SEED)
        opened.callback(chaos.close)
        after = chaos.run(CHAOS_SETS, blocks, expected, chaos.at_random(KILL_EVERY_SETS))
    by_fifth = [sum(n * 5 // CHAOS_SETS == fifth for n in after.killed_at) for fifth in range(5)]
    good = after.lost == 0 and after.different == 0 and after.revisions == {1: after.sets} and min(by_fifth) > 0
    rows = [
        ("sets sent and closed", str(after.sets), f"{CHAOS_SETS}"),
        ("kills", ", ".join(f"{many} {kind}" for kind, many in sorted(after.kills.items())), "-"),
        ("... while the first, second ... fifth of the sets came in", ", ".join(map(str, by_fifth)), "some in each"),
        ("requests tried again", str(after.tries_again), "-"),
        ("acknowledged blocks", str(after.blocks), "-"),
        ("... that are lost", str(after.lost), "0"),
        ("sets by times analysed", ", ".join(f"{many} x{times}" for times, many in after.revisions.items()), "all x1"),
        ("sets with other results than undisturbed", str(after.different), "0"),
        ("seconds", f"{after.seconds:.0f}", "-"),
        ("all of it", "met" if good else "NOT met", ""),
    ]
    notes = ("SIGKILL every few sets to a service, a worker or every process of the database; all start again.",)
    return [Table("Killed at random on PostgreSQL", ("what", "found", "wanted"), tuple(rows), notes)]


def _expected(folder: Path, blocks: Sequence[Sequence[Block]]) -> list[dict[str, Any]]:
    """From a service of its own, on SQLite, that nobody disturbs."""
    folder.mkdir()
    settings = Settings.from_env({}, str(folder))
    migrate(settings.database_url)
    with TestClient(create_app(settings, analyse=run_job)) as client:
        service = Service(client, settings, client.app.state.parts)
        client.headers.update(service.new_key())
        return undisturbed(service, blocks)
