"""A real service on a free port with a small club, and a real Chromium to look at it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Playwright, expect, sync_playwright

from analysis.devices.at_home import swinging
from barsim import DEVICES
from barsim.sensors import draw_constants
from barsim.still_log import still_log
from barwright.analysis.motion.samples import ImuSamples
from barwright_client import Client
from quarry_lane.club import NAME
from quarry_lane.prepared import COACH, prepare_few
from quarry_lane.running import free_port, new_key, service, sign_in_link

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
PICTURES = Path(__file__).parents[2] / "build" / "screenshots"
AXE = Path(__file__).parent / "vendored" / "axe-4.14.1.min.js"
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1280, 860)}
ATHLETES = ("Imke", "Tomas", "Lucja", "Emeka")
WAIT_MS = 30_000


@dataclass
class Hall:
    """A running service with its club, and a signed-in browser's cookies. said: what the browser complained of."""

    address: str
    data: Path
    key: str
    browser: Browser
    cookies: Path
    said: list[str] = field(default_factory=list)

    def link(self, coach: str = COACH) -> str:
        """A fresh one-time link."""
        return sign_in_link(self.data, NAME, coach, self.address)

    def client(self) -> Client:
        """The Python client with a key."""
        return Client(self.address, self.key)

    def context(self, size: str = "desktop", signed_in: bool = True, **more: object) -> BrowserContext:
        """A window of its own."""
        width, height = SIZES[size]
        touch = {"is_mobile": True, "has_touch": True, "device_scale_factor": 2} if size == "phone" else {}
        context = self.browser.new_context(
            base_url=self.address,
            viewport={"width": width, "height": height},
            storage_state=self.cookies if signed_in else None,
            **touch,
            **more,  # type: ignore[arg-type]
        )
        context.set_default_timeout(WAIT_MS)
        context.on("console", self._note)
        context.on("weberror", lambda error: self.said.append(str(error.error)))
        return context

    def _note(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.said.append(message.text)


@pytest.fixture(scope="package")  # its event loop must not outlive these tests: others begin their own
def hall(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hall]:
    """The service with four athletes, three sets of Imke's and one of Tomas's; started once."""
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    if chromium is None:
        pytest.fail("no Chromium found: `make browser` installs Debian's, or set CHROMIUM to the path of another")
    expect.set_options(timeout=WAIT_MS)
    data = tmp_path_factory.mktemp("hall")
    key = new_key(data / "club", NAME)
    prepare_few(data / "club", datetime.now(UTC).date(), ATHLETES)
    with service(data / "club", free_port(0)) as address, sync_playwright() as playwright:
        browser = _browser(playwright, chromium)
        hall = Hall(address, data / "club", key, browser, data / "cookies.json")
        _record(hall)
        _sign_in(hall)
        yield hall
        browser.close()


def _browser(playwright: Playwright, chromium: str) -> Browser:
    return playwright.chromium.launch(executable_path=chromium, args=FLAGS)


def _record(hall: Hall) -> None:
    streams = Path(__file__).parents[2] / "sample_streams"
    now = datetime.now(UTC).replace(microsecond=0)
    with hall.client() as client:
        for name, athlete, lift, load in (
            ("imke_snatch_55.csv", "Imke", "snatch", 55),
            ("imke_snatch_63.csv", "Imke", "snatch", 63),
            ("imke_snatch_70.csv", "Imke", "snatch", 70),
            ("tomas_clean_and_jerk_120.cbor", "Tomas", "clean_and_jerk", 120),
        ):
            told = {"athlete": athlete, "device": f"{athlete}'s bar", "bar_axis": "+x", "started_at": now}
            client.record(streams / name, lift=lift, load_kg=load, **told)  # type: ignore[arg-type]
        _on_the_bench(client)


def _on_the_bench(client: Client) -> None:
    """Imke's sensor is checked, and swung as a pendulum."""
    rng = np.random.default_rng(1)
    device = next(one for one in client.devices() if one.name == "Imke's bar")
    base = DEVICES["hobby"]
    sensor = replace(base, rate_hz=100.0, constants=draw_constants(base, rng))
    units = {"accel": "m/s2", "gyro": "rad/s"}
    client.check_device(device, _columns(still_log(sensor, rng, table_s=15.0)), units=units)
    swing = _columns(swinging(rng, 0.75, 20, seconds=8.0))
    client.check_known_motion(device, swing, "pendulum", units=units, length_m=0.75)


def _columns(samples: ImuSamples) -> dict[str, Any]:
    names = [f"{group}_{axis}" for group in ("accel", "gyro") for axis in "xyz"]
    values = np.hstack((samples.accel_m_s2, samples.gyro_rad_s)).T
    return {"t_us": np.round(1e6 * samples.t_s).astype(int).tolist(), **dict(zip(names, values.tolist(), strict=True))}


def _sign_in(hall: Hall) -> None:
    context = hall.context(signed_in=False)
    page = context.new_page()
    page.goto(hall.link())  # with scripts, the link signs in by itself
    expect(page.get_by_role("link", name="Today")).to_be_visible()
    context.storage_state(path=hall.cookies)
    context.close()


@pytest.fixture
def desktop(hall: Hall) -> Iterator[Page]:
    """A signed-in window as wide as a desk's; what it complains of fails the test."""
    yield from _window(hall, "desktop")


@pytest.fixture
def phone(hall: Hall) -> Iterator[Page]:
    """A signed-in phone."""
    yield from _window(hall, "phone")


def _window(hall: Hall, size: str) -> Iterator[Page]:
    hall.said.clear()
    context = hall.context(size)
    yield context.new_page()
    context.close()
    assert not hall.said


@pytest.fixture
def picture() -> Callable[[Page, str], None]:
    """Keeps a picture of a page in build/screenshots."""

    def keep(page: Page, name: str) -> None:
        PICTURES.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=PICTURES / f"{name}.png", full_page=True)

    return keep
