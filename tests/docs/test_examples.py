"""What the pages tell people to type does what they say."""

from __future__ import annotations

import csv
import functools
import itertools
import os
import re
import shlex
import shutil
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import numpy as np
import pytest
from fastapi.testclient import TestClient
from scipy.spatial.transform import Rotation

import barwright_client
from barwright import __main__ as commands
from docs.pages import PAGES, PROJECT, code_in, named, run

MIGRATIONS = "service/barwright/storage/migrations"


def single_curls() -> list[tuple[str, int, str]]:
    """(page, line, command) of every shell block that is one curl and needs nothing but the key."""
    found = [(named(one), line, code) for one in PAGES for line, code in code_in(named(one), "sh")]
    needs = re.compile(r"\$(?!BARWRIGHT_KEY)")
    return [each for each in found if each[2].startswith("curl ") and not needs.search(each[2])]


def signed() -> dict[str, str]:
    return {"Authorization": f"Bearer {os.environ['BARWRIGHT_KEY']}"}


def send(client: TestClient, command: str) -> httpx.Response:
    """A curl command sent to the app in memory: -s, -X, -H, -d and -F, up to a pipe."""
    words = shlex.split(command.replace("\\\n", " ").replace("$BARWRIGHT_KEY", os.environ["BARWRIGHT_KEY"]))
    words = words[1 : words.index("|") if "|" in words else None]
    headers: dict[str, str] = {}
    fields: dict[str, str] = {}
    files: dict[str, tuple[str, bytes]] = {}
    (address,) = (word for word in words if word.startswith("http://"))
    body = method = None
    rest = iter(word for word in words if word not in ("-s", address))
    for option in rest:
        value = next(rest)
        if option == "-H":
            name, _, told = value.partition(": ")
            headers[name] = told
        elif option == "-d":
            body = value
        elif option == "-X":
            method = value
        else:
            assert option == "-F", f"{option} is not known to this test"
            name, _, told = value.partition("=")
            if told.startswith("@"):
                files[name] = (Path(told[1:]).name, (PROJECT / told[1:]).read_bytes())
            else:
                fields[name] = told
    split = urlsplit(address)
    assert split.netloc == "127.0.0.1:8400"
    way = method or ("POST" if body or files else "GET")
    where = f"{split.path}?{split.query}"
    return client.request(way, where, headers=headers, content=body, data=fields or None, files=files or None)


@pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")
def test_the_front_page_runs(real_service, monkeypatch, capsys):
    monkeypatch.chdir(PROJECT)
    monkeypatch.setattr(barwright_client, "Client", functools.partial(barwright_client.Client, http=real_service))
    codes = code_in("README.md", "python")
    assert codes
    run("README.md", codes)
    told = capsys.readouterr().out
    assert len(re.findall(r"^back_squat 80(?:\.0)? \d made \d\.\d+ ± \d\.\d+ m/s$", told, re.MULTILINE)) == 5
    assert re.search(r"^first rep: 0\.\d\d m up and down, \d+ points to draw$", told, re.MULTILINE)


def test_there_are_curl_examples():
    assert {"README.md", "docs/tinkerer.md", "docs/gym_app.md"} <= {page for page, _, _ in single_curls()}


@pytest.mark.parametrize(("page", "line", "command"), single_curls())
def test_a_curl_example_is_answered(real_service, page, line, command):
    answer = send(real_service, command)
    assert answer.is_success, answer.text


def test_the_one_curl_of_the_front_page_answers_the_analysed_set(real_service):
    (command,) = (code for page, _, code in single_curls() if page == "README.md")
    analysed = send(real_service, command).json()
    (rep,) = analysed["reps"]
    assert set(rep["measures"]["peak_velocity"]) >= {"value", "u", "unit"}
    assert rep["phases"]
    assert rep["path_measures"]
    assert analysed["quality"]["verdict"] == "good"
    assert analysed["quality"]["words"]
    assert real_service.get("/v1/athletes", headers=signed()).json()["items"][0]["name"] == "Imke"


def commands_told() -> list[tuple[str, str]]:
    """(page, command) of every `.venv/bin/barwright ...` in a shell block or in the text."""
    found = []
    for one in PAGES:
        for told in re.findall(r"\.venv/bin/barwright ([^\n`]+)", one.read_text()):
            found.append((named(one), re.sub(r"\s*(#.*|&|\))\s*$", "", told)))
    return found


@pytest.mark.parametrize(("page", "command"), commands_told())
def test_a_command_that_is_told_is_understood(page, command):
    asked = commands._parser().parse_args(shlex.split(command))
    assert callable(asked.run)


def test_rolling_the_bar_forward_shows_the_axis(tmp_path, monkeypatch, capsys):
    codes = code_in("docs/frames.md", "python")
    assert codes
    monkeypatch.chdir(tmp_path)
    for (i, letter), sign in itertools.product(enumerate("xyz"), "+-"):
        axis = float(f"{sign}1") * np.eye(3)[i]
        write_roll(tmp_path / "roll.csv", axis)
        run("docs/frames.md", codes)
        assert capsys.readouterr().out.splitlines()[0] == f"bar_axis: {sign}{letter}"


def test_a_sensor_askew_shows_its_direction(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    axis = np.array([0.96, -0.28, 0.0])
    write_roll(tmp_path / "roll.csv", axis)
    turned = run("docs/frames.md", code_in("docs/frames.md", "python"))["turned"]
    assert isinstance(turned, dict)
    direction = np.array([turned[f"gyro_{letter}[deg/s]"] for letter in "xyz"])
    np.testing.assert_allclose(direction / np.linalg.norm(direction), axis, atol=0.01)


def write_roll(file: Path, axis: np.ndarray) -> None:
    """A bar that lies still for 3 s, then rolls forward by 100 degrees, as a gyroscope with a zero error reads it.

    axis (3,): the direction to the lifter's left in sensor axes.
    """
    t = np.arange(0.0, 6.0, 0.01)
    angle = np.radians(100) * np.clip((t - 3.0) / 2.0, 0.0, 1.0)
    bar = Rotation.from_rotvec(np.outer(angle, [0.0, 1.0, 0.0]))
    assert bar[-1].apply([0.0, 0.0, 1.0])[0] > 0.9  # its top went forward: that is what rolling forward means
    mounted, _ = Rotation.align_vectors([[0.0, 1.0, 0.0]], [axis])
    sensor = bar * mounted
    rate = (sensor[:-1].inv() * sensor[1:]).as_rotvec(degrees=True) / 0.01
    rate += np.random.default_rng(5).normal((0.8, -0.5, 0.3), 0.1, rate.shape)
    with file.open("w", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["t_s", *(f"gyro_{letter}[deg/s]" for letter in "xyz")])
        rows.writerows(np.column_stack((t[:-1], rate)).tolist())


def test_a_migration_can_be_drafted_as_told(tmp_path, monkeypatch):
    shutil.copytree(PROJECT / MIGRATIONS, tmp_path / MIGRATIONS)
    monkeypatch.chdir(tmp_path)
    before = set((tmp_path / MIGRATIONS / "versions").glob("*.py"))
    name = run("DEVELOPERS.md", code_in("DEVELOPERS.md", "python"))["NAME"]
    (drafted,) = set((tmp_path / MIGRATIONS / "versions").glob("*.py")) - before
    assert drafted.stem == name
    text = drafted.read_text()
    assert f"revision = '{name}'" in text
    assert "def upgrade() -> None:\n    # ### commands auto generated by Alembic - please adjust! ###\n    pass" in text
