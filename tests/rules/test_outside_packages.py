"""Which outside packages each folder may import; how folders of the service hang together, import-linter checks."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

from rules.test_file_lengths import TOP, sources

SERVICE = "service/barwright/"
WEB = {"prometheus_client", "fastapi", "starlette", "pydantic", "msgspec", "numpy", "cbor2", "uvicorn"}
ALLOWED: dict[str, set[str]] = {
    SERVICE + "analysis": {"numpy", "scipy"},
    SERVICE + "access": set(),
    SERVICE + "ingest": {"numpy", "cbor2", "msgspec", "pyarrow", "pandas", "zstandard"},
    SERVICE + "storage": {"numpy", "sqlalchemy", "sqlmodel", "alembic", "zstandard", "msgspec", "cbor2"},
    SERVICE + "workflows": {"numpy", "msgspec", "sqlalchemy", "sqlmodel"},  # a session passes through; no query
    SERVICE + "api": WEB,
    SERVICE + "mqtt": {"aiomqtt", "paho", "httpx"},  # an extra; imported by one command only
    SERVICE + "coach": {"fastapi", "starlette", "jinja2", "markupsafe", "numpy"},
    SERVICE + "pictures": set(),
    SERVICE + "report": {"numpy"},
    "sdk/src/barwright_client": {"httpx"},
}
HTTPX_ONLY_IN = "transport.py"
ON_FIRST_USE = {"sdk/src/barwright_client/frames.py": {"pandas"}}  # extras, imported inside a function
EXTRAS = {  # files that are themselves imported on first use
    SERVICE + "api/traces.py": {"opentelemetry"},
    SERVICE + "storage/engine.py": {"psycopg"},
    SERVICE + "storage/jobs.py": {"procrastinate"},
    SERVICE + "storage/notices.py": {"psycopg"},
    SERVICE + "storage/queue_tables.py": {"procrastinate"},
    SERVICE + "storage/raw_bucket.py": {"obstore"},
    SERVICE + "storage/worker.py": {"procrastinate", "psycopg_pool"},
    SERVICE + "workflows/archive_on_dask.py": {"dask"},
}


def imported(path: Path) -> set[str]:
    """Top names of everything a file imports, wherever in it, that is neither ours nor the standard library's."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.add(node.module.split(".")[0])
    return names - set(sys.stdlib_module_names) - {"barwright", "barwright_client"}


@pytest.mark.parametrize("folder", list(ALLOWED))
def test_a_folder_imports_only_what_it_may(folder: str) -> None:
    found = {str(path.relative_to(TOP)): imported(path) for path in sources(folder)}
    assert found
    may = {path: ALLOWED[folder] | ON_FIRST_USE.get(path, set()) | EXTRAS.get(path, set()) for path in found}
    strange = {path: names - may[path] for path, names in found.items()}
    assert not {path: names for path, names in strange.items() if names}


@pytest.mark.parametrize("path", list(ON_FIRST_USE))
def test_an_extra_is_not_imported_with_the_file(path: str) -> None:
    at_the_top = [node for node in ast.parse((TOP / path).read_text()).body if isinstance(node, ast.Import)]
    names = {alias.name for node in at_the_top for alias in node.names}
    assert not names & ON_FIRST_USE[path]


@pytest.mark.parametrize("folder", [SERVICE + "workflows", SERVICE + "api"])
def test_statements_are_written_in_storage_only(folder: str) -> None:
    told = {"select", "insert", "update", "delete", "text"}
    for path in sources(folder):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in {"sqlmodel", "sqlalchemy"}:
                assert not told & {alias.name for alias in node.names}, path


def test_the_client_touches_its_http_library_in_one_file_only() -> None:
    users = {path.name for path in sources("sdk/src/barwright_client") if "httpx" in imported(path)}
    assert users == {HTTPX_ONLY_IN}


def test_the_client_knows_nothing_of_the_service() -> None:
    for path in sources("sdk/src"):
        text = path.read_text().replace("barwright.app", "").replace("vnd.barwright.int16", "")  # a media type
        assert "barwright." not in text, path
