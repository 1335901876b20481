"""The gym screen in docs/examples against the real service: a short program that shows a set while it is lifted."""

from __future__ import annotations

import csv
import re
import runpy
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from barwright.access.scopes import Scope
from barwright.settings import Settings
from barwright_client import Athlete, Client, CutBy, Event
from served import served

PROJECT = Path(__file__).parents[2]
PROGRAM = PROJECT / "docs/examples/gym_screen.py"
LONGEST = 60  # lines: a screen is no more work than that


def test_it_is_short_and_needs_the_client_alone() -> None:
    text = PROGRAM.read_text()
    assert len(text.splitlines()) <= LONGEST
    assert set(re.findall(r"^(?:from|import) (\w+)", text, re.MULTILINE)) == {
        "__future__", "contextlib", "os", "sys", "barwright_client",
    }  # fmt: skip
    assert "(examples/gym_screen.py)" in (PROJECT / "docs/gym_app.md").read_text()


def test_it_shows_a_set_while_it_is_lifted(settings: Settings, monkeypatch, capsys) -> None:
    with served(settings) as service, service.client() as client:
        lucja = client.create_athlete("Lucja")
        client.plan(lucja, [{"lift": "bench_press", "sets": 3, "reps": 5, "percent": 70}])
        first_page, rep_shown = threading.Event(), threading.Event()
        lifting = threading.Thread(target=_lift, args=(service.client(), lucja, first_page, rep_shown))
        asked = _ends_with_the_set(monkeypatch, first_page, rep_shown)
        monkeypatch.setattr(sys, "argv", [PROGRAM.name, lucja.id])
        monkeypatch.setenv("BARWRIGHT_URL", service.url)
        monkeypatch.setenv("BARWRIGHT_KEY", service.key(Scope.RESULTS_READ))
        lifting.start()
        program = runpy.run_path(str(PROGRAM), run_name="__main__")
        lifting.join()
    shown = capsys.readouterr().out.split(program["CLEAR"])[1:]
    assert "Lucja: no set yet" in shown[0]
    assert any("~  1  made" in screen for screen in shown)  # told before the set was closed
    last = shown[-1]
    assert "analysed" in last
    assert "~" not in last
    velocities = re.findall(r"^ +\d  made +(\d\.\d+) ± \d\.\d+ m/s +\w+", last, re.MULTILINE)
    assert len(velocities) == 5  # as many as the recording's truth has, each in a zone
    assert re.search(r"^(STOP|go on): .*%", last, re.MULTILINE)
    assert re.search(r"^next: bench_press [\d.]+ kg x 5, 2 sets left$", last, re.MULTILINE)
    assert len(shown) <= 1 + len(asked)  # one call per event at most


def _ends_with_the_set(
    monkeypatch: pytest.MonkeyPatch, first_page: threading.Event, rep_shown: threading.Event
) -> list[Event]:
    """The feed of a club never ends; here it does, after the set. Answers what came, as it comes."""
    listen, came = Client.events, []

    def events(client: Client, **more: int) -> Iterator[Event]:
        first_page.set()
        for event in listen(client, **more):
            came.append(event)
            yield event
            if event.kind == "rep":
                rep_shown.set()
            if event.kind == "set_closed":
                return

    monkeypatch.setattr(Client, "events", events)
    return came


def _lift(client: Client, athlete: Athlete, first_page: threading.Event, rep_shown: threading.Event) -> None:
    first_page.wait(20)
    with (PROJECT / "sample_streams/lucja_bench_press_35.csv").open() as file:
        rows = list(csv.DictReader(file))
    with client, client.stream(
        lift="bench_press", load_kg=35, athlete=athlete, device="string",
        units={"position": "m"}, velocity_loss=20, cut_by=CutBy(samples=200),
    ) as stream:  # fmt: skip
        for start in range(0, len(rows), 200):
            part = rows[start : start + 200]
            t_s, position = ([float(row[name]) for row in part] for name in ("t_s", "position[m]"))
            stream.push({"t_s": t_s, "position": position})
        rep_shown.wait(20)  # the set is not put down before the screen had its turn
