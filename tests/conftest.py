"""A service on a fresh database for every test that wants one."""

from __future__ import annotations

import os
import shutil
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import httpx
import pytest

import stand_in
from barwright.access.scopes import ALL_SCOPES, Scope
from barwright.app import create_app
from barwright.settings import Settings
from barwright.storage.migrate import migrate
from barwright.storage.sessions import Database
from barwright.workflows.manage_keys import issue_key
from barwright.workflows.parts import Parts, utc_now
from buckets import REGION, make_bucket, object_store
from postgres import Postgres, empty, postgres, shared_folder

with warnings.catch_warnings():
    warnings.simplefilter("ignore", UserWarning)  # it asks for another client library; httpx does what is needed here
    from starlette.testclient import TestClient

CLUB = "Quarry Lane Lifting Club"
IMU_COLUMNS = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")


@dataclass
class Service:
    """The app with a client that carries a key with every scope."""

    client: TestClient
    settings: Settings
    parts: Parts

    def new_key(self, *scopes: Scope, club: str = CLUB) -> dict[str, str]:
        """Headers with a fresh key."""
        shown = issue_key(self.parts.database, club, frozenset(scopes) or ALL_SCOPES, utc_now())
        return {"Authorization": f"Bearer {shown}"}

    def stream(self, **changes: Any) -> dict[str, Any]:
        """A new stream."""
        answer = self.client.post("/v1/streams", json={**STREAM, **changes})
        assert answer.status_code == 201, answer.text
        return answer.json()

    def send(self, stream_id: str, block: dict[str, Any]) -> httpx.Response:
        """One block as JSON."""
        return self.client.post(f"/v1/streams/{stream_id}/blocks", json=block)

    def closed_set(self, blocks: int = 2, **changes: Any) -> dict[str, Any]:
        """A set that has been sent, closed and analysed."""
        stream = self.stream(**changes)
        for seq in range(blocks):
            assert self.send(stream["id"], imu_block(seq)).status_code == 200
        closed = self.client.post(f"/v1/streams/{stream['id']}/close?wait=20").json()
        return self.client.get(f"/v1/sets/{closed['set_id']}").json()


STREAM = {
    "athlete": "Imke",
    "device": "bar 3",
    "lift": "snatch",
    "load_kg": 60,
    "started_at": "2026-03-01T17:30:00Z",
    "units": {"accel": "[g]", "gyro": "deg/s"},
}


def imu_block(seq: int, count: int = 50, boot: str = "b1", **changes: Any) -> dict[str, Any]:
    """`count` samples at 200 Hz that follow on the block before."""
    channels = {name: [0.01 * i for i in range(count)] for name in IMU_COLUMNS}
    return {"boot": boot, "seq": seq, "t0_us": seq * count * 5000, "dt_us": 5000, "channels": channels, **changes}


def still_poses(**changes: Any) -> dict[str, Any]:
    """Means of nine poses of a sensor that reads (0.02, -0.03, 0.04) [g] too much, as the body of a calibration."""
    ups = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
    ups += [(0.6, 0.8, 0), (0, 0.6, -0.8), (-0.8, 0, 0.6)]
    poses = [{"accel": [x + 0.02, y - 0.03, z + 0.04], "gyro": [0.5, -0.2, 0.1], "samples": 600} for x, y, z in ups]
    units = {"accel": "[g]", "gyro": "deg/s"}
    return {"units": units, "rate_hz": 200, "gravity_m_s2": 9.80665, "poses": poses, **changes}


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated database to copy: migrations run once, not once per test."""
    path = tmp_path_factory.mktemp("empty") / "barwright.db"
    migrate(f"sqlite:///{path}")
    return path


ON_BOTH = {"storage", "api", "workflows"}  # folders whose tests run on SQLite and on PostgreSQL
# Files of these folders that ask more of bodies, keys or processor time than of rows.
ON_SQLITE_ONLY = {
    "test_calibration.py",
    "test_full_disk.py",
    "test_killed.py",
    "test_preview.py",
    "test_problems.py",
    "test_who_may.py",
}


# What starts services of its own, a browser or PostgreSQL, kills things, or draws many lifts: `make test-long`.
LONG = (
    "tests/analysis/devices/test_expected.py", "tests/analysis/motion/test_calibration.py",
    "tests/analysis/motion/test_lever.py", "tests/analysis/motion/test_mounting.py",
    "tests/analysis/motion/test_rest_solve.py", "tests/analysis/motion/test_string_check.py",
    "tests/analysis/poses/test_calibrate.py", "tests/analysis/reps/test_phases.py",
    "tests/analysis/technique/test_paths.py", "tests/analysis/technique/test_whole_way.py",
    "tests/analysis/test_real_recordings.py", "tests/api/test_calibration.py", "tests/api/test_feeds.py",
    "tests/api/test_who_may.py", "tests/browser/", "tests/contract/test_any_request.py",
    "tests/contract/test_commands.py", "tests/contract/test_connections.py", "tests/contract/test_live_restart.py",
    "tests/contract/test_power_cut.py", "tests/contract/test_whole_way.py", "tests/fuzz/",
    "tests/live/test_killed_processes.py", "tests/live/test_run.py", "tests/live/test_two_services.py", "tests/mqtt/",
    "tests/sdk/test_demo.py", "tests/sdk/test_newcomer.py", "tests/senders/", "tests/workflows/test_analyst.py",
    "tests/workflows/test_archive_round.py", "tests/workflows/test_back_up.py", "tests/workflows/test_killed.py",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Marks what is left to `make test-long`; without `-m` everything runs."""
    for item in items:
        if item.nodeid.startswith(LONG) or "postgresql" in item.nodeid:
            item.add_marker(pytest.mark.long)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """What rests on a database runs on both kinds, unless it is marked as a matter of one."""
    if "database_kind" not in metafunc.fixturenames:
        return
    path = metafunc.definition.path
    both = path.parent.name in ON_BOTH and path.name not in ON_SQLITE_ONLY
    if both and not metafunc.definition.get_closest_marker("sqlite"):
        metafunc.parametrize("database_kind", ["sqlite", "postgresql"])


@pytest.fixture
def database_kind() -> str:
    """sqlite or postgresql."""
    return "sqlite"


@pytest.fixture(scope="session")
def server() -> Iterator[Postgres]:
    """A PostgreSQL server, one for all test processes."""
    with postgres(shared_folder()) as found:
        yield found


@pytest.fixture(scope="session")
def own_database(server: Postgres) -> Iterator[str]:
    """The address of a database of this test process."""
    name = "own_" + os.environ.get("PYTEST_XDIST_WORKER", "alone")
    yield server.create(name)
    server.drop(name)


@pytest.fixture
def postgres_url(own_database: str) -> str:
    """The same without a row in it."""
    empty(own_database)
    return own_database


@pytest.fixture
def settings(request: pytest.FixtureRequest, tmp_path: Path, empty_database: Path, database_kind: str) -> Settings:
    """A fresh data folder and database."""
    if database_kind == "postgresql":
        url = request.getfixturevalue("postgres_url")
        return Settings.from_env({"BARWRIGHT_DATABASE_URL": url}, str(tmp_path))
    shutil.copy(empty_database, tmp_path / "barwright.db")
    return Settings.from_env({}, str(tmp_path))


@pytest.fixture(scope="session")
def bucket_address() -> Iterator[str]:
    """An S3-compatible store; tests that use it share one process by `xdist_group("bucket")`."""
    with object_store() as address, pytest.MonkeyPatch.context() as patch:
        for name, value in {**REGION, "AWS_ENDPOINT_URL": address}.items():
            patch.setenv(name, value)
        yield address


@pytest.fixture
def bucket(bucket_address: str) -> str:
    """The place of a fresh bucket, as BARWRIGHT_RAW takes it."""
    name = f"raw-{os.urandom(6).hex()}"
    make_bucket(bucket_address, name)
    return f"s3://{name}/below"


@pytest.fixture
def database(settings: Settings) -> Iterator[Database]:
    """A fresh database."""
    database = Database(settings.database_url)
    yield database
    database.close()


@pytest.fixture
def service(request: pytest.FixtureRequest, settings: Settings, database_kind: str) -> Iterator[Service]:
    """A running app with the stand-in analysis."""
    if database_kind == "postgresql":
        yield from _on_postgresql(request.getfixturevalue("standing_app"))
        return
    app = create_app(settings, analyse=stand_in.outcome_of)
    with TestClient(app, raise_server_exceptions=False) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        yield service


@pytest.fixture(scope="session")
def standing_app(own_database: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, Settings]]:
    """An app on PostgreSQL that stays from test to test: making it costs more than most tests do."""
    folder = str(tmp_path_factory.mktemp("standing"))
    settings = Settings.from_env({"BARWRIGHT_DATABASE_URL": own_database}, folder)
    with TestClient(create_app(settings, analyse=stand_in.outcome_of), raise_server_exceptions=False) as client:
        yield client, settings


def _on_postgresql(standing: tuple[TestClient, Settings]) -> Iterator[Service]:
    client, settings = standing
    shutil.rmtree(settings.raw, ignore_errors=True)
    Path(settings.raw).mkdir()
    parts: Parts = client.app.state.parts  # type: ignore[attr-defined]
    before = {field.name: getattr(parts, field.name) for field in fields(parts)}
    service = Service(client, settings, parts)
    headers = client.headers.copy()
    client.headers.update(service.new_key())
    yield service
    client.headers = headers
    client.cookies.clear()
    for name, value in before.items():  # some tests put another clock in
        object.__setattr__(parts, name, value)
