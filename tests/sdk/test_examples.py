"""Every Python example of the SDK's page, run in order against the real service with its real analysis."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import barwright_client
from barwright.workflows.analysis_job import AnalysisJob, Outcome, run_job
from sdk.conftest import RealService

PROJECT = Path(__file__).parents[2]
PAGES = ("sdk/README.md", "docs/tinkerer.md", "docs/gym_app.md")


def examples_in(page: str) -> list[tuple[int, str]]:
    """(first line, code) of each Python example."""
    text = (PROJECT / page).read_text()
    found = re.finditer(r"^```python\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    return [(text.count("\n", 0, one.start(1)) + 1, one[1]) for one in found]


@pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")
@pytest.mark.parametrize("page", PAGES)
def test_examples(
    page: str,
    start_service: Callable[[Callable[[AnalysisJob], Outcome]], RealService],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    service = start_service(run_job)
    monkeypatch.chdir(PROJECT)
    monkeypatch.setenv("BARWRIGHT_KEY", service.new_key())
    monkeypatch.setattr(barwright_client, "Client", functools.partial(barwright_client.Client, http=service.http))
    examples = examples_in(page)
    assert examples
    names: dict[str, object] = {}
    for line, code in examples:
        exec(compile("\n" * (line - 1) + code, page, "exec"), names)
    assert "±" in capsys.readouterr().out
