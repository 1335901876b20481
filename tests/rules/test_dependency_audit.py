"""The audit of dependencies: fails on what is known and unexplained, and says when it could not look."""

from __future__ import annotations

import importlib.util
import json
import sys
from datetime import date
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from types import ModuleType

import pytest

from rules.test_file_lengths import TOP

TODAY = date(2026, 11, 25)
REPORT = {  # the shape of `pip-audit --format json` (its README, 2.9)
    "dependencies": [
        {"name": "good", "version": "1.0", "vulns": []},
        {
            "name": "bad",
            "version": "1.0",
            "vulns": [
                {"id": "PYSEC-2026-1", "aliases": ["CVE-2026-1"], "fix_versions": ["1.1"], "description": "bad"},
            ],
        },
        {"name": "private", "skip_reason": "not on the index"},
    ]
}
EXPLAINED = (
    '[[exception]]\nid = "CVE-2026-1"\nreason = "only its command line, which is not used"\nuntil = 2026-12-31\n'
)


@pytest.fixture(scope="module")
def audit() -> ModuleType:
    spec = importlib.util.spec_from_file_location("audit", TOP / ".ci" / "audit.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["audit"] = module
    spec.loader.exec_module(module)
    return module


def test_an_unexplained_vulnerability_is_a_finding(audit: ModuleType) -> None:
    assert audit.findings(REPORT, [], TODAY) == ["bad 1.0: PYSEC-2026-1, fixed in 1.1"]


def test_an_exception_holds_until_its_day(audit: ModuleType) -> None:
    exceptions = audit.exceptions_in(EXPLAINED)
    assert audit.findings(REPORT, exceptions, date(2026, 12, 31)) == []
    assert len(audit.findings(REPORT, exceptions, date(2027, 1, 1))) == 1


@pytest.mark.parametrize(
    "text", ['[[exception]]\nid = "X"\n', EXPLAINED.replace("only its command line, which is not used", "fine")]
)
def test_an_exception_without_an_explanation_is_none(audit: ModuleType, text: str) -> None:
    with pytest.raises((KeyError, ValueError)):
        audit.exceptions_in(text)


def test_the_exceptions_of_the_project_are_well_formed(audit: ModuleType) -> None:
    audit.exceptions_in((TOP / ".ci" / "audit_exceptions.toml").read_text())


@pytest.mark.parametrize(
    ("status", "told", "why"),
    [
        (200, {"vulnerabilities": [{"id": "PYSEC-2021-66"}]}, None),
        (200, {"vulnerabilities": []}, "tells no advisories"),
        (404, {}, "cannot be reached"),
        (200, None, "cannot be reached"),
    ],
)
def test_an_index_that_knows_no_advisories_is_not_taken_for_a_good_answer(
    audit: ModuleType, status: int, told: object, why: str | None
) -> None:
    class Index(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = b"<html>" if told is None else json.dumps(told).encode()
            self.send_response(status)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None: ...

    with HTTPServer(("127.0.0.1", 0), Index) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        found = audit.advisories_missing(f"http://127.0.0.1:{server.server_port}/pypi/x/json")
        server.shutdown()
    assert found is None if why is None else why in found


@pytest.fixture
def somewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, audit: ModuleType) -> Path:
    """A project with a lock, and advisories that can be reached."""
    (tmp_path / ".ci").mkdir()
    (tmp_path / ".ci" / "audit_exceptions.toml").write_text("")
    (tmp_path / "requirements.lock").write_text("bad==1.0\n")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(audit, "advisories_missing", lambda: None)
    return tmp_path


def test_a_finding_fails_and_is_not_looked_up_twice_a_day(
    audit: ModuleType, somewhere: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = []
    monkeypatch.setattr(audit, "audit", lambda: asked.append(1) or REPORT)
    assert audit.main() == audit.main() == 1
    assert len(asked) == 1
    assert "bad 1.0: PYSEC-2026-1" in capsys.readouterr().err
    (somewhere / "requirements.lock").write_text("bad==1.1\n")
    audit.main()
    assert len(asked) == 2


def test_a_closed_network_is_told_and_fails_nothing(
    audit: ModuleType, somewhere: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(audit, "advisories_missing", lambda: "no way out")
    assert audit.main() == 0
    assert "NOT AUDITED: no way out" in capsys.readouterr().err
    assert not (somewhere / "build").exists()
