"""An erased athlete on PostgreSQL and in a bucket: what is done as docs/operate.md says leaves no byte in any file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import obstore
import psycopg
import pytest
from obstore.store import S3Store

import stand_in
from barwright.app import create_app
from barwright.settings import Settings
from conftest import Service, TestClient
from postgres import CHEAP, Postgres, postgres
from told_person import bare_samples, squeezed_samples, tell_everything, words_of

pytestmark = pytest.mark.xdist_group("bucket")

# As a server comes: a log that standbys can follow, whose files are used again.
USUAL = CHEAP | {"wal_level": "replica", "full_page_writes": "on", "min_wal_size": "80MB"}


@pytest.fixture(scope="module")
def own_server(tmp_path_factory) -> Iterator[tuple[Postgres, Path]]:
    """A server of its own and the folder with every file of it; no other test writes there."""
    folder = tmp_path_factory.mktemp("cluster") / "data"
    with postgres(folder, USUAL) as server:
        yield server, folder


@pytest.fixture
def service_on(own_server, bucket, tmp_path) -> Iterator[Service]:
    """A service on a fresh database of that server, and on a fresh bucket."""
    server, _ = own_server
    url = server.create("erased")
    told = {"BARWRIGHT_DATABASE_URL": url, "BARWRIGHT_RAW": bucket}
    settings = Settings.from_env(told, str(tmp_path))
    with TestClient(create_app(settings, analyse=stand_in.outcome_of), raise_server_exceptions=False) as client:
        service = Service(client, settings, client.app.state.parts)
        client.headers.update(service.new_key())
        yield service
    server.drop("erased")


def in_files(folder: Path, traces: list[bytes]) -> dict[bytes, set[str]]:
    """Which of these bytes are in any file, and in which."""
    found: dict[bytes, set[str]] = {}
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink():
            content = path.read_bytes()
            for trace in traces:
                if trace in content:
                    found.setdefault(trace, set()).add(str(path.relative_to(folder)))
    return found


def in_bucket(bucket: str, traces: list[bytes]) -> set[bytes]:
    """The same of every object of the whole bucket, whoever it belongs to, by its name and by what is in it."""
    store = S3Store(bucket.removeprefix("s3://").partition("/")[0], client_options={"allow_http": True})
    contents = [
        one["path"].encode() + obstore.get(store, one["path"]).bytes().to_bytes()
        for page in obstore.list(store)
        for one in page
    ]
    return {trace for trace in traces for content in contents if trace in content}


def renew_the_log(url: str) -> None:
    """Exactly what docs/operate.md says: once for every file of the log."""
    with psycopg.connect(url, autocommit=True) as connection:
        (files,) = connection.execute("SELECT count(*) FROM pg_ls_waldir()").fetchone()
        for _ in range(files + 1):
            connection.execute("SELECT pg_switch_wal()")
            connection.execute("CHECKPOINT")


@pytest.mark.parametrize("others", [True, False])
def test_no_byte_of_an_erased_athlete_is_left_on_postgresql(own_server, service_on, bucket, others):
    """others: without any other athlete tables end up empty, and PostgreSQL keeps what it remembers of their values."""
    server, folder = own_server
    url = server.of("erased")
    athlete, stream, _ = tell_everything(service_on)
    words, pieces = words_of(stream), squeezed_samples(service_on.parts)
    traces = [*words, *bare_samples(), *pieces]
    kept = service_on.closed_set(athlete="Rana") if others else None
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute("ANALYZE")  # as autovacuum does by itself; the planner then remembers names
        connection.execute("CHECKPOINT")
        (remembered,) = connection.execute(
            "SELECT count(*) FROM pg_stats WHERE tablename = 'athlete' AND attname = 'name'"
        ).fetchone()
    assert remembered == 1
    before, stored = in_files(folder, traces), in_bucket(bucket, traces)
    assert before.keys() >= set(words)  # the search finds what is there
    assert len((before.keys() | stored) & set(pieces)) >= 0.9 * len(pieces) >= 50
    assert stored & set(pieces)
    receipt = service_on.client.delete(f"/v1/athletes/{athlete['id']}").json()
    assert (len(receipt["objects"]), receipt["objects_waiting"]) == (1, 0)
    assert in_bucket(bucket, traces) == set()
    assert in_files(folder, traces)  # PostgreSQL does not overwrite by itself
    service_on.parts.database.vacuum()
    places = set().union(*in_files(folder, traces).values())
    assert {place.partition("/")[0] for place in places} <= {"pg_wal"}
    renew_the_log(server.url)
    assert in_files(folder, traces) == {}
    if kept is not None:
        assert service_on.client.get(f"/v1/sets/{kept['id']}").json() == kept
