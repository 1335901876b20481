"""Every Python example of the SDK's page, run in order against the real service with its real analysis."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

import barwright_client
from barwright.settings import Settings
from served import served

PROJECT = Path(__file__).parents[2]
PAGES = ("sdk/README.md", "docs/tinkerer.md", "docs/files.md", "docs/gym_app.md", "docs/coach.md", "docs/live.md")


def examples_in(page: str) -> list[tuple[int, str]]:
    """(first line, code) of each Python example."""
    text = (PROJECT / page).read_text()
    found = re.finditer(r"^```python\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    return [(text.count("\n", 0, one.start(1)) + 1, one[1]) for one in found]


@pytest.mark.parametrize("page", PAGES)
def test_examples(
    page: str, settings: Settings, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(PROJECT)
    with served(settings) as service:
        monkeypatch.setenv("BARWRIGHT_KEY", service.key())
        for name in ("Client", "AsyncClient"):
            monkeypatch.setattr(barwright_client, name, _at(service.url, getattr(barwright_client, name)))
        examples = examples_in(page)
        assert examples
        names: dict[str, object] = {}
        for line, code in examples:
            exec(compile("\n" * (line - 1) + code, page, "exec"), names)
    assert "±" in capsys.readouterr().out


def _at(url: str, kind: Any) -> Any:
    def make(told: str, key: str, **more: Any) -> Any:
        assert told == "http://127.0.0.1:8400"
        return kind(url, key, **more)

    return make
