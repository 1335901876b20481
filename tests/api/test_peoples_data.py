"""What a person may ask for: everything that is kept of them as files, and that it is erased, with proof."""

from __future__ import annotations

import csv
import io
import json
import os
import zipfile
from pathlib import Path

import pytest

from barwright.__main__ import main
from barwright.storage.raw_objects import open_raw
from barwright.workflows.forget_athlete import delete_doomed
from told_person import NAME, NOTE, bare_samples, marked_block, squeezed_samples, tell_everything, words_of


@pytest.fixture
def told(service):
    """An athlete with something in every table that can have it."""
    return tell_everything(service)


def files_of(answer) -> dict[str, str]:
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name).decode() for name in archive.namelist()}


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_everything_is_exported_as_plain_files(service, told):
    athlete, stream, set_id = told
    answer = service.client.get(f"/v1/athletes/{athlete['id']}/export", headers={"Accept": "application/zip"})
    files = files_of(answer)
    for name in files.keys() - {"README.txt"}:
        assert name in files["README.txt"] or name.split("/")[0] + "/" in files["README.txt"], name
    person = json.loads(files["athlete.json"])
    assert (person["name"], person["consent_on"], person["guardian_note"]) == (NAME, "2026-01-05", NOTE)
    assert [float(one["load_kg"]) for one in rows(files["maxima.csv"])] == [61.5]
    assert [one["note"] for one in rows(files["told_sets.csv"])] == ["'=cmd"]  # text, to a spreadsheet too
    assert json.loads(files["plans.json"])[0]["note"] == "quiet week"
    assert [one["reason"] for one in rows(files["corrections.csv"])] == ["weighed"]
    sets = {one["set_id"]: one for one in rows(files["sets.csv"])}
    assert (len(sets), sets[set_id]["load_kg"], sets[set_id]["state"]) == (2, "61.0", "analysed")
    shown = service.client.get(f"/v1/sets/{set_id}").json()["reps"][0]["measures"]["peak_velocity"]
    (figure,) = [one for one in rows(files["figures.csv"]) if one["name"] == "peak_velocity"]
    assert (float(figure["value"]), float(figure["u"]), figure["unit"]) == (shown["value"], shown["u"], shown["unit"])
    path = rows(files[f"paths/{set_id}.1.csv"])
    assert len(path) == 200
    assert float(path[1]["z_m"]) == pytest.approx(0.5 * float(path[1]["t_s"]))
    samples = rows(files[f"samples/{stream['id']}.1.csv"])
    sent = [value for seq in range(2) for value in marked_block(seq)["channels"]["gyro_y"]]
    assert [float(one["gyro_y"]) for one in samples] == sent  # every bit of every number
    assert [int(one["t_us"]) for one in samples] == [5000 * n for n in range(200)]
    blocks = [one for one in rows(files["blocks.csv"]) if one["stream_id"] == stream["id"]]
    assert [(one["seq"], one["first_row"], one["rows"]) for one in blocks] == [("0", "1", "100"), ("1", "101", "100")]


def test_the_samples_of_an_export_can_be_analysed_as_they_are(service, told, tmp_path, capsys):
    athlete, stream, _ = told
    answer = service.client.get(f"/v1/athletes/{athlete['id']}/export", headers={"Accept": "application/zip"})
    (tmp_path / "set.csv").write_text(files_of(answer)[f"samples/{stream['id']}.1.csv"])
    main(["analyse", str(tmp_path / "set.csv"), "--units", "accel=[g],gyro=deg/s", "--json"])
    out, err = capsys.readouterr()
    assert "200" in out or "samples" in err  # understood; noise is no lift
    assert "column" not in err


def test_nobody_elses_athlete_is_exported(service, told):
    other = service.new_key(club="Another club")
    for accept in ("application/zip", "application/json"):
        headers = {**other, "Accept": accept}
        assert service.client.get(f"/v1/athletes/{told[0]['id']}/export", headers=headers).status_code == 404


def test_an_export_says_which_samples_are_lost(service, told):
    athlete, stream, _ = told
    service.parts.raw.delete([one.name for one in service.parts.raw.all()])
    answer = service.client.get(f"/v1/athletes/{athlete['id']}/export", headers={"Accept": "application/zip"})
    assert f"Of stream {stream['id']} there are no raw samples in here" in files_of(answer)["README.txt"]


@pytest.mark.sqlite
@pytest.mark.parametrize("vacuumed", [False, True])
def test_no_byte_of_an_erased_athlete_is_left(service, told, vacuumed):
    words, pieces = words_of(told[1]), squeezed_samples(service.parts)
    traces = [*words, *bare_samples(), *pieces]
    kept = service.closed_set(athlete="Rana")
    found = {path: path.read_bytes() for path in service.settings.data.rglob("*") if path.is_file()}
    there = {trace for trace in traces for content in found.values() if trace in content}
    assert there >= set(words)  # the search finds what is there
    assert len(there & set(pieces)) >= 0.9 * len(pieces) >= 50  # a page may end within a piece
    answer = service.client.delete(f"/v1/athletes/{told[0]['id']}")
    receipt = answer.json()
    assert receipt["rows"] | {"live_event": 0, "analysis_run": 0} == {
        "athlete": 1, "stream": 2, "lift_set": 2, "block": 3, "block_body": 1, "device_start": 2, "rep": 1, "effort": 2,
        "point": receipt["rows"]["point"], "belief": receipt["rows"]["belief"], "maximum": 1, "plan": 1,
        "set_correction": 1, "live_event": 0, "analysis_run": 0,
    }  # fmt: skip
    assert (len(receipt["objects"]), receipt["objects_waiting"], receipt["answers"]) == (1, 0, 1)
    assert receipt["log_emptied"] is True
    if vacuumed:
        service.parts.database.vacuum()
    for path in service.settings.data.rglob("*"):
        if path.is_file():
            for trace in traces:
                assert trace not in path.read_bytes(), (path, trace)
    assert service.client.get(f"/v1/sets/{kept['id']}").json() == kept
    assert len(service.parts.raw.all()) == 1


@pytest.mark.sqlite
def test_the_raw_bytes_are_searched_for_as_they_are_stored(service, told):
    """The search above would see samples: they lie unpacked in the row of an open stream once it is unfolded."""
    import sqlite3

    import zstandard

    database = sqlite3.connect(service.settings.data / "barwright.db")
    (body,) = database.execute("SELECT body FROM block_body").fetchone()
    assert bare_samples()[-1] in zstandard.ZstdDecompressor().decompress(bytes(body)[4:])
    database.close()


@pytest.mark.sqlite
@pytest.mark.xdist_group("bucket")
def test_an_object_store_that_is_away_is_told_and_tried_again(service, told, bucket, monkeypatch):
    raw = open_raw(bucket)
    for one in service.parts.raw.all():
        raw.put(one.name.partition(".")[0], (Path(service.settings.raw) / one.name).read_bytes())
    address = os.environ["AWS_ENDPOINT_URL"]
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:9")
    object.__setattr__(service.parts, "raw", open_raw(bucket))
    receipt = service.client.delete(f"/v1/athletes/{told[0]['id']}").json()
    assert (len(receipt["objects"]), receipt["objects_waiting"]) == (1, 1)
    assert service.client.get(f"/v1/athletes/{told[0]['id']}").status_code == 404
    assert not delete_doomed(service.parts)
    monkeypatch.setenv("AWS_ENDPOINT_URL", address)
    object.__setattr__(service.parts, "raw", open_raw(bucket))
    assert len(service.parts.raw.all()) == 1
    assert delete_doomed(service.parts)
    assert service.parts.raw.all() == []


def test_consent_and_guardian_are_told_changed_and_forgotten(service, told):
    url = f"/v1/athletes/{told[0]['id']}"
    assert service.client.get(url).json()["consent_on"] == "2026-01-05"
    changed = service.client.patch(url, json={"consent_on": None, "guardian_note": "Father"}).json()
    assert (changed["consent_on"], changed["guardian_note"]) == (None, "Father")
    bad = service.client.patch(url, json={"consent_on": "5 January"})
    assert (bad.status_code, bad.json()["errors"][0]["pointer"]) == (422, "/consent_on")
