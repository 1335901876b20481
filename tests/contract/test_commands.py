"""The command line: what it prints, where, and with which exit code."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from barwright.access.keys import looks_like_a_key
from barwright.app import bare_app
from contract.servers import Server, run


def test_a_new_key_is_all_that_is_printed(tmp_path):
    done = run("new-key", "--data", tmp_path / "new", "--club", "Quarry Lane Lifting Club")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == done.stdout.strip() + "\n"
    assert looks_like_a_key(done.stdout.strip())


ABOUT = ("--label", "the wall", "--days", "30")


def test_a_key_has_the_scopes_it_was_made_with(tmp_path):
    reader = run("new-key", "--data", tmp_path, "--club", "A", "--scopes", "results:read", *ABOUT).stdout.strip()
    writer = run("new-key", "--data", tmp_path, "--club", "A").stdout.strip()
    server = Server(tmp_path)
    with server.client(reader) as client:
        assert client.get("/v1/athletes").status_code == 200
        assert client.post("/v1/athletes", json={"name": "Imke"}).status_code == 403
    with server.client(writer) as client:
        assert client.post("/v1/athletes", json={"name": "Imke"}).status_code == 201
        listed = {one["label"]: one for one in client.get("/v1/keys").json()["items"]}
        assert listed["the wall"]["expires_at"] > listed["the wall"]["created_at"]
        assert listed[None]["expires_at"] is None
    with server.client(reader) as client:  # two keys of one club see the same
        assert [one["name"] for one in client.get("/v1/athletes").json()["items"]] == ["Imke"]
    ready = [line for line in server.log if "serving on" in line]
    assert len(ready) == 1
    assert server.stop() == 0


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["fly"],
        ["new-key"],
        ["new-key", "--club", "A", "--scopes", "everything"],
        ["new-key", "--club", "  "],
        ["new-key", "--club", "A", "--days", "0"],
        ["new-key", "--club", "A", "--label", " "],
        ["serve", "--port", "70000"],
        ["serve", "--port", "http"],
        ["analyse"],
        ["analyse", "set.csv", "--lift", "snach"],
        ["analyse", "set.csv", "--units", "accel"],
        ["analyse", "set.csv", "--bar-axis", "1,x,0"],
    ],
)
def test_bad_use_is_exit_code_2_and_a_plain_line(tmp_path, arguments):
    (tmp_path / "set.csv").write_text("t_s,position[m]\n0,0\n0.01,0\n")
    done = run(*arguments, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr
    assert done.stderr.strip().splitlines()[-1].startswith("barwright")


@pytest.mark.parametrize(
    "arguments", [["analyse", "none.csv"], ["analyse", "bad.csv"], ["new-key", "--club", "A", "--data", "bad.csv/x"]]
)
def test_anything_else_is_exit_code_1_and_one_line(tmp_path, arguments):
    (tmp_path / "bad.csv").write_text("t_s,accel_x[g]\n0,0\n0.01,0\n")
    done = run(*arguments, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert len(done.stderr.strip().splitlines()) == 1
    assert done.stderr.startswith("barwright: ")


def test_a_port_in_use_is_one_plain_line(tmp_path):
    server = Server(tmp_path / "a")
    port = server.url.rpartition(":")[2]
    done = run("serve", "--data", tmp_path / "b", "--port", port)
    assert done.returncode == 1
    assert done.stderr.strip().splitlines()[-1].startswith(f"barwright: cannot serve on 127.0.0.1:{port}")
    assert server.stop() == 0


def test_keys_can_be_made_while_the_service_runs_and_many_at_once(tmp_path):
    with ThreadPoolExecutor(4) as pool:
        done = list(pool.map(lambda club: run("new-key", "--data", tmp_path, "--club", club), "AABC"))
    assert [one.returncode for one in done] == [0] * 4, [one.stderr for one in done]
    server = Server(tmp_path)
    late = run("new-key", "--data", tmp_path, "--club", "D").stdout.strip()
    with server.client(late) as client:
        assert client.get("/v1/athletes").status_code == 200
    server.process.send_signal(signal.SIGINT)
    assert server.process.wait(timeout=30) == 0


def test_the_environment_names_the_folder(tmp_path):
    import os

    env = {**os.environ, "BARWRIGHT_DATA": str(tmp_path / "here")}
    assert run("new-key", "--club", "A", env=env, cwd=tmp_path).returncode == 0
    assert (tmp_path / "here" / "barwright.db").exists()
    url = f"sqlite:///{tmp_path / 'other.db'}"
    assert run("migrate", env={**env, "BARWRIGHT_DATABASE_URL": url}, cwd=tmp_path).returncode == 0
    assert (tmp_path / "other.db").exists()


def test_the_openapi_document_is_printed():
    done = run("openapi")
    assert json.loads(done.stdout) == json.loads(json.dumps(bare_app().openapi()))


def test_help_and_keys_never_load_the_numbers(tmp_path):
    told = (
        "import sys; from barwright.__main__ import main; main(['new-key', '--data', sys.argv[1], '--club', 'A']);"
        "slow = {'scipy', 'pandas', 'pyarrow', 'fastapi'} & set(sys.modules); assert not slow, slow"
    )
    done = subprocess.run([sys.executable, "-c", told, str(tmp_path)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("arguments", [["new-key", "--club", "A"], ["migrate"], ["verify"]])
def test_a_database_that_does_not_answer_is_told_in_one_line(tmp_path, monkeypatch, arguments):
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))  # bound, not listening: a connection to it is refused
        monkeypatch.setenv("BARWRIGHT_DATABASE_URL", f"postgresql://x@127.0.0.1:{nobody.getsockname()[1]}/x")
        done = run(*arguments, "--data", tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith("barwright: the database cannot be used: ")
    assert "refused" in line
