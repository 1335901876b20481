"""Files stay short enough to read in one go: 400 lines at most. Tables of data are exempt and named here."""

from __future__ import annotations

from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
MOST_LINES = 400
DATA_TABLES: frozenset[str] = frozenset()
FOLDERS = ("service", "sdk", "tests", "sample_streams")


def sources(folder: str) -> list[Path]:
    """Every Python file of a folder."""
    return [path for path in (TOP / folder).rglob("*.py") if "__pycache__" not in path.parts]


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_file_is_longer_than_400_lines(folder: str) -> None:
    found = sources(folder)
    assert found
    long = {
        str(path.relative_to(TOP)): lines
        for path in found
        if (lines := len(path.read_text().splitlines())) > MOST_LINES and str(path.relative_to(TOP)) not in DATA_TABLES
    }
    assert not long, f"split these by what they do: {long}"
