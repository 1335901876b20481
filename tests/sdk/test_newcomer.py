"""Somebody's first file: columns named as a breakout board's example prints them, no unit anywhere, one command."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from barsim import simulate
from barwright.__main__ import main as service_main
from barwright_client import PreviewColumn
from barwright_client.command import main
from barwright_client.file_check import check_file
from sdk.conftest import RealService

ABOUT = ["--lift", "snatch", "--load-kg", "60", "--athlete", "Imke", "--device", "bar sensor"]
NAMES = "time_ms,AccX,AccY,AccZ,GyrX,GyrY,GyrZ"
SNATCH = simulate("snatch", seed=3, device="good", load_kg=60)


@pytest.fixture(scope="module")
def newcomer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A snatch in g and deg/s, times in whole milliseconds."""
    samples = SNATCH.imu_samples
    columns = np.column_stack((samples.accel_m_s2 / 9.80665, np.degrees(samples.gyro_rad_s)))
    times = np.round((samples.t_s - samples.t_s[0]) * 1000).astype(int)
    rows = [f"{t},{','.join(f'{value:.4f}' for value in row)}" for t, row in zip(times, columns, strict=True)]
    path = tmp_path_factory.mktemp("newcomer") / "snatch.csv"
    path.write_text("\n".join([NAMES, *rows]) + "\n")
    return path


@pytest.fixture
def service(start_service: Callable[..., RealService]) -> RealService:
    return start_service()


def test_one_command_and_it_is_in(service: RealService, newcomer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    client = service.client()
    assert main(["send", str(newcomer), *ABOUT], lambda url, key: client) == 0
    out = capsys.readouterr().out
    assert "analysed" in out
    assert out.count(" made ") == 1
    (one,) = service.client().sets()
    true = SNATCH.truth.reps[0].measures["peak_velocity"]
    figure = service.client().set(one.id).reps[0]["peak_velocity"]
    assert figure.value is not None
    assert abs(figure.value - true) < 0.05
    told = service.http.get(f"/v1/sets/{one.id}", headers={"Authorization": f"Bearer {service.new_key()}"}).json()
    assert [note for note in told["notes"] if "read as [g]" in note]
    assert [note for note in told["notes"] if "read as deg/s" in note]


def test_the_plain_form_of_curl(service: RealService, newcomer: Path) -> None:
    meta = {"athlete": "Imke", "device": "bar sensor", "lift": "snatch", "load_kg": 60}
    answer = service.http.post(
        "/v1/recordings",
        data={"meta": json.dumps(meta)},
        files={"file": ("snatch.csv", newcomer.read_bytes())},
        headers={"Authorization": f"Bearer {service.new_key()}"},
    )
    assert (answer.status_code, answer.json()["state"], len(answer.json()["reps"])) == (201, "analysed", 1)


def test_what_it_would_be_taken_for(service: RealService, newcomer: Path, capsys: pytest.CaptureFixture[str]) -> None:
    client = service.client()
    assert main(["preview", str(newcomer)], lambda url, key: client) == 0
    out = capsys.readouterr().out
    assert "AccX -> accel_x in [g] (inferred): " in out
    assert "time_ms -> time in ms (header): 0.0 2.0 5.0" in out
    assert "would be taken" in out
    assert service_main(["preview", str(newcomer)]) == 0
    here = capsys.readouterr().out
    assert [line for line in out.splitlines() if " -> " in line] == [
        line for line in here.splitlines() if " -> " in line
    ]


def test_a_preview_in_python(service: RealService, newcomer: Path) -> None:
    found = service.client().preview(newcomer)
    assert (found.taken, found.kind, found.units) == (True, "imu", {"accel": "[g]", "gyro": "deg/s"})
    assert isinstance(found.columns[1], PreviewColumn)
    assert (found.columns[1].channel, found.columns[1].unit_from) == ("accel_x", "inferred")
    assert found.force_at_rest.value == pytest.approx(1.0, abs=0.02)
    assert found.rate_hz == pytest.approx(416, abs=2)
    refused = service.client().preview(b"a,b\n1,2\n", file_name="set.csv")
    assert refused.problem is not None
    assert (refused.taken, refused.problem.code) == (False, "missing-column")
    assert "would be refused: " in refused.words()[-1]


def test_what_the_header_does_not_say_can_be_told(
    service: RealService, newcomer: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = tmp_path / "bare.csv"
    bare.write_text(newcomer.read_text().partition("\n")[2])
    client = service.client()
    columns = "t_ms,accel_x,accel_y,accel_z,gyro_x,gyro_y,gyro_z"
    told: list[Any] = ["--columns", columns, "--units", "accel=[g],gyro=deg/s"]
    assert main(["send", str(bare), *ABOUT, *told], lambda url, key: client) == 0
    assert "1 made" in capsys.readouterr().out
    assert service_main(["analyse", str(bare), *told]) == 0
    assert " made " in capsys.readouterr().out
    assert service_main(["analyse", str(bare)]) == 1
    assert "`columns`" in capsys.readouterr().err
    assert service_main(["preview", str(bare), "--scale", "accel=x"]) == 2


def test_check_without_a_service_sends_it_to_the_preview(newcomer: Path) -> None:
    found = check_file(newcomer)
    assert found.verdict == "unknown"
    assert "preview" in found.words[0]
