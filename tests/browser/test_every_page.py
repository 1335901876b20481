"""Every page at three widths: no sideways scroll, no serious finding of axe, fingers find their targets, a picture."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from browser.conftest import AXE, Hall

pytestmark = pytest.mark.xdist_group("browser")
PAGES = {
    "today": "/",
    "athletes": "/athletes",
    "athlete": "/athletes/{imke}?lift=snatch",
    "set": "/sets/{set}",
    "sets": "/sets",
    "review": "/review?of=all",
    "plan": "/plan?athlete={imke}",
    "plan-day": "/plan/{imke}/2026-03-02",
    "wall": "/wall",
    "platform": "/wall/{device}",
    "devices": "/devices",
    "bench": "/devices/{device}",
    "club": "/club",
    "erase": "/athletes/{imke}/erase",
    "change-load": "/today/{tomas}/sets/1",
    "wrong": "/athletes/ath_nobody",
}
_SERIOUS = ("serious", "critical")
_THUMB_PX = 44


@pytest.fixture(scope="module")
def addresses(hall: Hall) -> dict[str, str]:
    with hall.client() as client:
        ids = {one.name: one.id for one in client.athletes()}
        imkes = next(one for one in client.sets(athlete=ids["Imke"], lift="snatch") if one.load_kg == 63)
    fill = {"imke": ids["Imke"], "tomas": ids["Tomas"], "set": imkes.id, "device": imkes.device_id}
    return {name: path.format(**fill) for name, path in PAGES.items()}


@pytest.mark.parametrize("size", ["phone", "tablet", "desktop"])
def test_every_page_fits_and_is_usable(
    hall: Hall, addresses: dict[str, str], size: str, picture: Callable[[Page, str], None]
) -> None:
    hall.said.clear()
    context = hall.context(size)
    page = context.new_page()
    found = []
    for name, path in addresses.items():
        page.goto(path)
        found += [f"{name}: {said}" for said in hall.said if "404" not in said]
        picture(page, f"{name}-{size}")
        found += [f"{name}: {one}" for one in too_wide(page)]
        if size == "phone":
            found += [f"{name}: {one}" for one in too_small(page)]
        if size != "tablet":  # it has the elements of the one or the other
            found += [f"{name}: {one}" for one in findings_of_axe(page)]
        page.evaluate("document.querySelectorAll('main details').forEach(one => { one.open = true; })")
        found += [f"{name}, all unfolded: {one}" for one in too_wide(page)]
        hall.said.clear()  # axe and the picture put styles of their own into the page, and are told off for it
    context.close()
    assert not found


def test_dark_pages_have_contrast_too(hall: Hall, addresses: dict[str, str], picture) -> None:
    context = hall.context("phone", color_scheme="dark")
    page = context.new_page()
    found = []
    for name in ("today", "athlete", "set", "platform", "club"):
        page.goto(addresses[name])
        picture(page, f"{name}-dark-phone")
        found += [f"{name}: {one}" for one in findings_of_axe(page)]
    context.close()
    assert not found


def test_the_door_fits_and_is_usable(hall: Hall, picture) -> None:
    context = hall.context("phone", signed_in=False)
    page = context.new_page()
    page.goto("/sign-in")
    picture(page, "sign-in-phone")
    assert not findings_of_axe(page)
    assert not too_small(page)
    context.close()


def test_an_athlete_prints_on_one_sheet_of_a4_and_the_day_without_buttons(
    hall: Hall, addresses: dict[str, str]
) -> None:
    context = hall.context("desktop")
    page = context.new_page()
    page.goto(addresses["athlete"])
    sheet = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    page.goto("/")
    page.emulate_media(media="print")
    assert page.locator(".button:visible").count() == 0
    assert page.locator("nav:visible").count() == 0
    assert page.get_by_text("not an instruction").is_visible()
    context.close()


def test_by_keyboard_alone_the_content_and_every_tab_is_reached(hall: Hall) -> None:
    context = hall.context("desktop")
    page = context.new_page()
    page.goto("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    page.goto("/")
    reached = []
    for _ in range(12):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.textContent.trim()"))
    assert {"Today", "Athletes", "Review", "Plan", "Wall", "Sets", "Devices", "Club"} <= set(reached)
    context.close()


def findings_of_axe(page: Page) -> list[str]:
    """Serious and critical findings of axe-core (Deque, MPL-2.0); put in past the page's own policy."""
    page.evaluate(AXE.read_text())
    result = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{one['id']}: {one['nodes'][0]['target']} ({len(one['nodes'])}) {one['nodes'][0]['failureSummary'][:200]}"
        for one in result["violations"]
        if one["impact"] in _SERIOUS
    ]


def too_wide(page: Page) -> list[str]:
    """What reaches beyond the window: the page itself, or a piece of it outside of what scrolls by itself."""
    script = """seen => {
      const out = [];
      const wide = document.documentElement.scrollWidth;
      if (wide > seen) out.push(`${wide} px wide on ${seen}`);
      for (const panel of document.querySelectorAll('main .panel')) {
        const edge = panel.getBoundingClientRect().right;
        const beyond = [...panel.querySelectorAll('table, dl, .chart')]
          .filter(one => !one.closest('.scroll') && one.getBoundingClientRect().right > edge + 1);
        if (beyond.length) out.push(`${beyond[0].tagName} reaches out of its card`);
      }
      return out;
    }"""
    assert page.viewport_size is not None
    return list(page.evaluate(script, page.viewport_size["width"]))  # a phone's innerWidth grows with what is too wide


def too_small(page: Page) -> list[str]:
    """Buttons, fields and links that stand by themselves under a thumb's width."""
    fields = "input:not([type=hidden]):not([type=checkbox]):not(.hidden-words), select"
    wanted = f".button, {fields}, .tab, summary, .chip, a.line"
    script = """([wanted, least]) => [...document.querySelectorAll(wanted)]
      .filter(one => one.offsetParent !== null)
      .map(one => [one.getBoundingClientRect(), one.textContent.trim().slice(0, 30) || one.name])
      .filter(([box]) => box.height < least || box.width < least)
      .map(([box, said]) => `${said} is ${Math.round(box.width)} x ${Math.round(box.height)} px`)"""
    return list(page.evaluate(script, [wanted, _THUMB_PX]))
