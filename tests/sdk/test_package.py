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
