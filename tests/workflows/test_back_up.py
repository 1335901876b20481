"""Backups taken while sets come in, restored elsewhere; and what `verify` finds when something is wrong."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import threading
import time
from dataclasses import replace
from pathlib import Path

import httpx
import pytest

import stand_in
from barwright.__main__ import main
from barwright.app import create_app
from barwright.settings import Settings
from barwright.storage.raw_objects import open_raw
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.storage.verifying import rows_of_stream
from barwright.workflows.back_up import BackupError, back_up, restore
from barwright.workflows.parts import utc_now
from barwright.workflows.verify import verify
from conftest import STREAM, Service, TestClient, imu_block
from served import served

pytestmark = [pytest.mark.sqlite, pytest.mark.xdist_group("bucket")]


@pytest.fixture(params=["folder", "bucket"])
def settings_of_both(request, settings):
    """Raw samples in a folder, and in a bucket."""
    return settings if request.param == "folder" else replace(settings, raw=request.getfixturevalue("bucket"))


def verdict_of(settings):
    database = Database(settings.database_url)
    found = verify(database, open_raw(settings.raw))
    database.close()
    return found


class Lifters(threading.Thread):
    """Sends sets without a break; some are closed, some are told off anew, one in eight athletes is erased."""

    def __init__(self, client, number):
        super().__init__(daemon=True)
        self.client, self.number = client, number
        self.acknowledged: list[tuple[float, str, int, str]] = []  # when, stream, seq, athlete
        self.erased: set[str] = set()
        self.stop = threading.Event()

    def run(self):
        count = 0
        while not self.stop.is_set():
            count += 1
            name = f"Lifter {self.number}-{count // 4}"
            stream = self.client.post("/v1/streams", json={**STREAM, "athlete": name}).json()
            for seq in range(3):
                answer = self.client.post(f"/v1/streams/{stream['id']}/blocks", json=imu_block(seq))
                assert answer.status_code == 200, answer.text
                self.acknowledged.append((time.monotonic(), stream["id"], seq, stream["athlete_id"]))
            self.client.post(f"/v1/streams/{stream['id']}/close")
            if count % 3 == 0:  # a late block: the raw object is written anew and the old one deleted
                self.client.post(f"/v1/streams/{stream['id']}/blocks", json=imu_block(3))
            if count % 8 == 0:
                assert self.client.delete(f"/v1/athletes/{stream['athlete_id']}").status_code == 200
                self.erased.add(stream["athlete_id"])


def test_a_backup_under_load_restores_to_a_state_that_verifies(settings_of_both, tmp_path):
    settings, to = settings_of_both, tmp_path / "backup"
    with served(settings, analyse=stand_in.outcome_of, look=None) as running:
        headers = {"Authorization": f"Bearer {running.key()}"}
        lifters = [Lifters(httpx.Client(base_url=running.url, headers=headers, timeout=30), n) for n in range(3)]
        for one in lifters:
            one.start()
        made = []
        for _ in range(3):  # the second and third into the same folder: only what is new is copied
            time.sleep(0.5)
            began = time.monotonic()
            database = Path(settings.database_url.removeprefix("sqlite:///"))
            made.append(back_up(database, open_raw(settings.raw), to, utc_now()))
        for one in lifters:
            one.stop.set()
        for one in lifters:
            one.join()
    assert not any(one.damaged for one in made)
    assert made[1].objects > made[0].objects
    assert made[2].copied < made[2].objects
    assert len(list(to.glob("barwright-*.db"))) == 1

    elsewhere = Settings.from_env({}, str(tmp_path / "elsewhere"))
    Path(elsewhere.data).mkdir()
    restore(to, elsewhere.data, elsewhere.data / "barwright.db", open_raw(elsewhere.raw))
    found = verdict_of(elsewhere)
    assert (found.wrong, found.extra) == ([], [])
    assert found.objects == made[2].objects
    assert found.unfinished_sets or found.streams
    database = Database(elsewhere.database_url)
    erased = set().union(*(one.erased for one in lifters))
    before = [told for one in lifters for told in one.acknowledged if told[0] < began and told[3] not in erased]
    assert before
    with database.reading() as session:
        for _, stream_id, seq, _ in before:
            rows = rows_of_stream(session, stream_id)
            assert rows is not None
            assert ("b1", seq) in rows.blocks
    database.close()
    with TestClient(create_app(elsewhere, analyse=stand_in.outcome_of)) as client:  # what was left is finished
        deadline = time.monotonic() + 20
        while "barwright_sets_unfinished 0" not in client.get("/metrics").text:
            assert time.monotonic() < deadline
            time.sleep(0.02)
    assert (verdict_of(elsewhere).wrong, verdict_of(elsewhere).unfinished_sets) == ([], 0)


@pytest.fixture
def kept(settings):
    """Two closed sets and an open one, the service stopped."""
    app = create_app(settings, analyse=stand_in.outcome_of)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        sets = [service.closed_set(athlete=name) for name in ("Imke", "Rana")]
        open_stream = service.stream()
        service.send(open_stream["id"], imu_block(0))
        service.send(open_stream["id"], imu_block(4))
    return sets, open_stream


def test_what_is_in_order_is_said_to_be(settings, kept, capsys):
    assert main(["verify", "--data", str(settings.data)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0].startswith("3 streams, 6 blocks, 2 raw objects of ")
    assert told[1] == f"gap: {kept[1]['id']}: blocks 1 to 3 of boot 'b1' never came"
    assert told[2] == "all is as it was acknowledged"


def damage(settings, kept, how):
    database = sqlite3.connect(settings.data / "barwright.db")
    name = database.execute("SELECT raw_object FROM stream WHERE id=?", (kept[0][0]["stream_id"],)).fetchone()[0]
    file = settings.data / "raw" / name
    if how == "object gone":
        file.unlink()
    elif how == "object changed":
        content = bytearray(file.read_bytes())
        content[len(content) // 2] ^= 1
        file.write_bytes(content)
    elif how == "samples of an open stream gone":
        database.execute("DELETE FROM block_body")
    elif how == "another block's samples":
        other = database.execute("SELECT body FROM block_body ORDER BY block_id DESC").fetchone()[0]
        database.execute("UPDATE block_body SET body=?", (other,))
    elif how == "row of a block gone":
        database.execute("DELETE FROM block WHERE stream_id=? AND seq=1", (kept[0][0]["stream_id"],))
    elif how == "set gone":
        database.execute("DELETE FROM lift_set WHERE id=?", (kept[0][0]["id"],))
    elif how == "counts":
        database.execute("UPDATE device_start SET samples=samples+1 WHERE stream_id=?", (kept[0][0]["stream_id"],))
    database.commit()
    database.close()


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ("object gone", "is gone"),
        ("object changed", "is not what was written"),
        ("samples of an open stream gone", "was acknowledged and its samples are gone"),
        ("another block's samples", "there twice"),
        ("row of a block gone", "has samples and no row"),
        ("set gone", "there is no set"),
        ("counts", "what was counted of its device starts"),
    ],
)
def test_what_is_wrong_is_found(settings, kept, how, words, capsys):
    damage(settings, kept, how)
    assert main(["verify", "--data", str(settings.data)]) == 1
    out = capsys.readouterr().out
    assert any(line.startswith("wrong: ") and words in line for line in out.splitlines()), out
    assert kept[0][1]["stream_id"] not in out  # what is in order is not accused


def test_a_quick_look_only_misses_what_is_missing(settings, kept, capsys):
    damage(settings, kept, "object changed")
    assert main(["verify", "--quick", "--data", str(settings.data)]) == 0
    damage(settings, kept, "object gone")
    assert main(["verify", "--quick", "--data", str(settings.data)]) == 1


def test_objects_that_no_stream_names_are_told_and_cleared_when_old(settings, kept, capsys):
    raw = settings.data / "raw"
    for name in ("old.bwb", "young.bwb"):
        (raw / name).write_bytes(b"x")
    os.utime(raw / "old.bwb", (0, 0))
    assert main(["verify", "--clear", "--data", str(settings.data)]) == 0
    out = capsys.readouterr().out
    assert "extra: young.bwb, 1 bytes" in out
    assert (not (raw / "old.bwb").exists(), (raw / "young.bwb").exists()) == (True, True)


def test_commands_back_up_and_restore(settings, kept, tmp_path, capsys):
    to, other = tmp_path / "backup", tmp_path / "other"
    assert main(["backup", "--data", str(settings.data), "--to", str(to)]) == 0
    assert main(["restore", "--from", str(to), "--data", str(other)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "all is as it was acknowledged"
    with TestClient(create_app(Settings.from_env({}, str(other)), analyse=stand_in.outcome_of)) as client:
        assert client.get("/healthz/ready").status_code == 200
    assert main(["restore", "--from", str(to), "--data", str(other)]) == 1
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize("what", ["database", "object", "contents"])
def test_half_a_backup_is_not_restored(settings, kept, tmp_path, what):
    to = tmp_path / "backup"
    made = back_up(settings.data / "barwright.db", open_raw(settings.raw), to, utc_now())
    if what == "database":
        with (to / made.database).open("r+b") as file:
            file.truncate(8192)
    elif what == "object":
        next((to / "raw").iterdir()).unlink()
    else:
        (to / "backup.json").unlink()
    other = tmp_path / "other"
    with pytest.raises(BackupError):
        restore(to, other, other / "barwright.db", open_raw(str(other / "raw")))
    assert not (other / "barwright.db").exists()


def test_a_backup_that_breaks_off_leaves_the_one_before(settings, kept, tmp_path):
    to = tmp_path / "backup"
    database, raw = settings.data / "barwright.db", open_raw(settings.raw)
    back_up(database, raw, to, utc_now())
    before = json.loads((to / "backup.json").read_text())
    shutil.rmtree(settings.data / "raw")  # and then the disk goes
    with pytest.raises(StorageUnavailableError):
        back_up(database, raw, to, utc_now())
    assert json.loads((to / "backup.json").read_text()) == before
    other = tmp_path / "other"
    restore(to, other, other / "barwright.db", open_raw(str(other / "raw")))


def test_a_damaged_object_is_told_and_the_rest_is_backed_up(settings, kept, tmp_path, capsys):
    damage(settings, kept, "object changed")
    assert main(["backup", "--data", str(settings.data), "--to", str(tmp_path / "backup")]) == 1
    assert "could not be read as they were written" in capsys.readouterr().err
    assert json.loads((tmp_path / "backup" / "backup.json").read_text())["copied"] == 1


def test_another_folder_is_not_taken_for_a_backup(settings, kept, tmp_path, capsys):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    assert main(["backup", "--data", str(settings.data), "--to", str(tmp_path / "mine")]) == 1
    assert "something else than a backup" in capsys.readouterr().err
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["letter.txt"]


def test_other_databases_have_their_own_tools(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BARWRIGHT_DATABASE_URL", "postgresql://somewhere/x")
    assert main(["backup", "--data", str(tmp_path), "--to", str(tmp_path / "b")]) == 2
    assert "pg_dump" in capsys.readouterr().err
