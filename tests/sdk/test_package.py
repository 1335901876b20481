"""The package as others get it: its names, its weight, its one dependency."""

from __future__ import annotations

import ast
import subprocess
import sys
import zipfile
from email import message_from_string
from pathlib import Path

import pytest

import barwright_client

SDK = Path(__file__).parents[2] / "sdk"
SOURCE = SDK / "src" / "barwright_client"


def run(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def imports(file: Path) -> set[str]:
    """Top-level packages a file imports, wherever in the file."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.split(".")[0])
    return found


def test_all_names_what_there_is() -> None:
    assert barwright_client.__all__ == sorted(barwright_client.__all__)
    for name in barwright_client.__all__:
        assert getattr(barwright_client, name).__module__.startswith("barwright_client"), name
    imported = {
        alias.asname or alias.name
        for node in ast.parse((SOURCE / "__init__.py").read_text()).body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert imported == set(barwright_client.__all__)


def test_only_transport_knows_httpx_and_nothing_else_is_needed() -> None:
    allowed = set(sys.stdlib_module_names) | {"barwright_client"}
    for file in SOURCE.glob("*.py"):
        extra = {"transport.py": {"httpx"}, "frames.py": {"pandas"}}.get(file.name, set())
        assert imports(file) - allowed == extra, file.name


def test_importing_is_quick_and_loads_neither_httpx_nor_pandas() -> None:
    """Budget 150 ms of the processor; a busy machine counts more, and takes as much longer for the standard library."""
    code = "import time; t = time.process_time(); import asyncio, json, ssl, urllib.request, dataclasses, zlib, random"
    code += "; a = time.process_time(); import barwright_client; b = time.process_time(); import sys"
    code += "; print(a - t, b - a, *({'httpx', 'pandas', 'numpy'} & set(sys.modules)))"
    answers = [run(sys.executable, "-c", code).split() for _ in range(5)]
    assert all(len(answer) == 2 for answer in answers), answers[0]
    library, ours = (min(float(answer[n]) for answer in answers) for n in (0, 1))
    assert ours < max(0.150, 1.5 * library)


def test_without_pandas_the_error_says_what_to_install() -> None:
    code = "import sys; sys.modules['pandas'] = None\nimport barwright_client\nbarwright_client.reps_frame([])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "ImportError: data frames need pandas: pip install 'barwright-client[pandas]'" in done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    out = tmp_path_factory.mktemp("wheel")
    code = (
        f"import os; os.chdir({str(SDK)!r}); from hatchling.build import build_wheel; print(build_wheel({str(out)!r}))"
    )
    name = run(sys.executable, "-c", code).strip()
    return zipfile.ZipFile(out / name)


def test_the_wheel_needs_httpx_alone(wheel: zipfile.ZipFile) -> None:
    (metadata,) = (name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
    needs = message_from_string(wheel.read(metadata).decode()).get_all("Requires-Dist") or []
    assert [need.split(">")[0] for need in needs if "extra ==" not in need] == ["httpx"]
    assert [need for need in needs if "extra ==" in need] == ["pandas>=2.3; extra == 'pandas'"]


def test_the_wheel_holds_the_whole_package(wheel: zipfile.ZipFile, tmp_path: Path) -> None:
    held = {name for name in wheel.namelist() if not name.split("/")[0].endswith(".dist-info")}
    assert held == {f"barwright_client/{file.name}" for file in SOURCE.iterdir() if file.is_file()}
    assert "barwright_client/py.typed" in held
    wheel.extractall(tmp_path)
    code = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); import barwright_client, barwright_client.transport"
    code += "; print(barwright_client.__file__)"
    assert run(sys.executable, "-c", code).startswith(str(tmp_path))
