"""Every notebook is a valid one, holds no results of somebody's machine, and its cells run in order."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import pytest

from barwright.settings import Settings
from served import served

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "docs" / "notebooks").glob("*.ipynb"))


def test_there_is_one() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("file", NOTEBOOKS, ids=lambda file: file.stem)
def test_cells_run(file: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    book = nbformat.read(file, as_version=4)
    nbformat.validate(book)
    cells = [cell for cell in book.cells if cell.cell_type == "code"]
    assert all(not cell.outputs and cell.execution_count is None for cell in cells)
    monkeypatch.chdir(ROOT)
    names: dict[str, object] = {"__name__": "__main__"}
    with served(settings) as service:
        monkeypatch.setenv("BARWRIGHT_URL", service.url)
        monkeypatch.setenv("BARWRIGHT_KEY", service.key())
        for number, cell in enumerate(cells):
            exec(compile(cell.source, f"{file.name} cell {number}", "exec"), names)  # our own
    said = capsys.readouterr().out
    up = float(re.search(r"up (\d\.\d+) m", said)[1])
    assert 1.0 < up < 2.2  # a snatch ends overhead (common practice, no source)
    svg = names["drawing"](names["x_m"], names["z_m"])
    assert svg.count("<polyline") == 1
    assert len(re.search(r'points="([^"]+)"', svg)[1].split()) > 100
