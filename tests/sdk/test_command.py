"""The command barwright-client, against the real service; and its look at files without one."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from barwright_client import Client
from barwright_client.command import day_words, main, words_of
from barwright_client.events import Event
from barwright_client.file_check import check_file
from barwright_client.training import Readiness
from sdk.conftest import RealService

PROJECT = Path(__file__).parents[2]
SNATCH = PROJECT / "sample_streams/imke_snatch_55.csv"
ABOUT = ["--lift", "bench_press", "--load-kg", "35", "--athlete", "Lucja", "--device", "string"]


@pytest.fixture
def run(start_service: Callable[..., RealService]) -> Callable[..., int]:
    service = start_service()
    client = service.client()
    return lambda *arguments: main(arguments, lambda url, key: client)


def test_send_prints_every_rep(run: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("send", str(PROJECT / "sample_streams/lucja_bench_press_35.csv"), *ABOUT) == 0
    out = capsys.readouterr().out
    assert "analysed" in out
    assert out.count(" made ") >= 3
    assert "m/s" in out
    assert run("readiness") == 0
    out = capsys.readouterr().out
    assert "Lucja: not known yet (bench press); 0 earlier days" in out
    assert "not an instruction" in out
    assert run("zones", "Lucja", "bench_press", "--velocity", "0.5") == 0
    out = capsys.readouterr().out
    assert "0.5 m/s: " in out
    assert re.search(r"^absolute strength: 0\.00 to 0\.50 m/s, \d+ to \d+ kg$", out, re.MULTILINE)
    assert re.search(r"^starting strength: from 1\.30 m/s", out, re.MULTILINE)
    assert "not an instruction" in out  # kilograms never come without it
    assert run("readiness", "lucja") == 1
    assert capsys.readouterr().err == "barwright-client: the club has no athlete 'lucja'; was 'Lucja' meant?\n"


def test_export_writes_a_file(run: Callable[..., int], tmp_path: Path) -> None:
    assert run("send", str(PROJECT / "sample_streams/lucja_bench_press_35.csv"), *ABOUT) == 0
    out = tmp_path / "lucja.json"
    assert run("export", "Lucja", "-o", str(out)) == 0
    assert json.loads(out.read_text())["streams"][0]["set"]["lift"] == "bench_press"


def test_what_cannot_be_done_is_one_line(run: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("export", "Nobody") == 1
    assert capsys.readouterr().err == "barwright-client: the club has no athlete 'Nobody'\n"
    assert run("send", "not_there.csv", *ABOUT) == 1
    assert capsys.readouterr().err == "barwright-client: not_there.csv: no such file or directory\n"


def test_without_a_key_it_is_bad_use(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.delenv("BARWRIGHT_KEY", raising=False)
    assert main(["--key", "", "readiness"]) == 2
    assert "BARWRIGHT_KEY" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        main(["dance"])
    assert ended.value.code == 2


def test_readiness_is_told_with_its_lift_and_maximum() -> None:
    nothing = {"value": None, "u": None, "unit": "kg", "reason": "no set"}
    document = {
        "athlete_id": "ath_1", "athlete": "Imke", "on": "2026-03-01", "verdict": "down", "lift": "back_squat",
        "day_max": {"value": 83.2, "u": 2.1, "unit": "kg"}, "usual_max": {"value": 88.0, "u": 1.2, "unit": "kg"},
        "change": nothing, "reasons": [], "lifts": [], "caution": "",
    }  # fmt: skip
    assert day_words(Readiness.read(document)) == "below usual (back squat), maximum today 83 ± 2 kg"
    unseen = {**document, "verdict": "not_enough_data", "day_max": nothing}
    assert day_words(Readiness.read(unseen)) == "not known yet (back squat), usual maximum 88.0 ± 1.2 kg"
    unknown = {**unseen, "usual_max": nothing, "lift": None}
    assert day_words(Readiness.read(unknown)) == "not known yet"


def test_watch_speaks_in_lines() -> None:
    about = {"athlete": "Imke", "lift": "snatch", "load_kg": 60, "set_id": "set_1", "stream_id": "str_1"}
    figure = {"value": 1.9, "u": 0.02, "unit": "m/s"}
    rep = {"index": 0, "outcome": "made", "start_s": 0, "stop_s": 1, "measures": {"peak_velocity": figure}}
    lines = [
        words_of(Event("rep", 1, {**about, "provisional": True, "rep": rep})),
        words_of(Event("rep_corrected", 2, {**about, "withdrawn": True, "rep": {"index": 1}})),
        words_of(Event("set_closed", 3, {**about, "made": 1, "verdict": "good"})),
        words_of(Event("gap", None, {"reason": "slow_listener", "lost": 4})),
    ]
    assert lines == [
        "Imke snatch 60 kg: rep 1 made, peak velocity 1.90 ± 0.02 m/s (so far)",
        "Imke snatch 60 kg: rep 2 was none after all",
        "Imke snatch 60 kg: set closed, 1 made, samples good (set_1)",
        "events are missing here (slow_listener, 4 lost)",
    ]


def test_check_needs_no_service(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(SNATCH)]) == 0
    assert capsys.readouterr().out.splitlines()[:2] == [f"{SNATCH}: good", "  7006 samples at 416 Hz over 16.8 s."]


def written(path: Path, **changes: np.ndarray) -> Path:
    """A second and a half of a resting sensor at 200 Hz, changed."""
    n = 300
    rng = np.random.default_rng(1)
    columns = {"t_s": np.arange(n) / 200, **{f"accel_{a}[m/s2]": rng.normal(0, 0.02, n) for a in "xyz"}}
    columns["accel_z[m/s2]"] += 9.81
    columns |= {f"gyro_{a}[rad/s]": rng.normal(0, 0.001, n) for a in "xyz"}
    columns |= changes
    rows = [
        ",".join(columns),
        *(",".join(f"{value:.6f}" for value in row) for row in zip(*columns.values(), strict=True)),
    ]
    path.write_text("\n".join(rows))
    return path


def test_check_says_what_is_wrong(tmp_path: Path) -> None:
    good = written(tmp_path / "good.csv")
    assert check_file(good).verdict == "good"
    t = np.arange(300) / 200
    cases = {
        "times gravity": {"accel_z[m/s2]": np.full(300, 1.0)},
        "holes": {"t_s": t + 0.3 * (t > 1)},
        "full scale": {"gyro_x[rad/s]": np.zeros(300), "accel_x[m/s2]": np.where(abs(t - 1) < 0.05, 78.0, 0.01 * t)},
        "blunted": {"t_s": t * 4},
        "not still": {"accel_x[m/s2]": 5 * np.sin(20 * t)},
        "backwards": {"t_s": np.where(t == 0.5, 0.2, t)},
        "takes longer": {"t_s": t / 2},
    }
    for word, changes in cases.items():
        found = check_file(written(tmp_path / "bad.csv", **changes))
        assert found.verdict != "good", word
        assert any(word in sentence for sentence in found.words), (word, found.words)
    missing = tmp_path / "missing.csv"
    missing.write_text("t_s,accel_x\n" + "0,1\n" * 20)
    assert "accel_y" in check_file(missing).words[0]


def test_the_command_is_installed_with_the_package() -> None:
    from importlib.metadata import distribution

    (entry,) = (one for one in distribution("barwright-client").entry_points if one.group == "console_scripts")
    assert (entry.name, entry.value) == ("barwright-client", "barwright_client.command:main")
    assert entry.load() is main
    assert Client
