"""What a coach does, in a real browser on a real service."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from barwright_client import CutBy
from browser.conftest import WAIT_MS, Hall
from quarry_lane.sending import pieces, samples_in

STREAMS = Path(__file__).parents[2] / "sample_streams"
pytestmark = pytest.mark.xdist_group("browser")
PHRASE = "chalk and iron and wood"


def row(page: Page, name: str):
    return page.get_by_role("listitem").filter(has=page.get_by_role("heading", name=name, exact=True))


def open_athlete(page: Page, name: str) -> None:
    page.goto("/athletes")
    page.get_by_role("link", name=re.compile(f"^{name}\\b")).click()
    expect(page.get_by_role("heading", name=name, exact=True)).to_be_visible()


def test_a_changed_load_is_there_after_a_reload(phone: Page, picture) -> None:
    phone.goto("/")
    tomas = row(phone, "Tomas")
    tomas.get_by_role("link", name=re.compile("^Change")).first.click()
    tomas.get_by_label("Load, kg").fill("101")
    tomas.get_by_label("Why").select_option("Looked slow")
    picture(phone, "today-change-phone")
    tomas.get_by_role("button", name="Keep").click()
    expect(row(phone, "Tomas").get_by_text("101 kg", exact=True)).to_be_visible()
    assert phone.url.rstrip("/").endswith(phone.url.split("/")[2])  # it was swapped in place: still on Today
    phone.reload()
    expect(row(phone, "Tomas").get_by_text("101 kg", exact=True)).to_be_visible()
    expect(row(phone, "Tomas").get_by_text("Looked slow")).to_be_visible()


def test_a_load_that_cannot_be_is_told_without_losing_the_page(desktop: Page, hall: Hall) -> None:
    desktop.goto("/")
    emeka = row(desktop, "Emeka")
    emeka.get_by_role("link", name=re.compile("^Change")).first.click()
    emeka.get_by_label("Load, kg").fill("heavy")
    emeka.get_by_role("button", name="Keep").click()
    expect(desktop.get_by_role("alert").get_by_text("it has to be a number")).to_be_visible()
    expect(emeka.get_by_label("Load, kg")).to_have_value("heavy")
    hall.said[:] = [said for said in hall.said if "422" not in said]  # browsers note every such answer


def test_a_live_set_appears_on_wall_and_athlete_without_a_reload(hall: Hall, desktop: Page, picture) -> None:
    (sample,) = [one for one in samples_in(STREAMS) if one.file.name == "lucja_bench_press_35.csv"]
    with hall.client() as client:
        client.create_device("Rack 2", kind="encoder")
        rack = next(one.id for one in client.devices() if one.name == "Rack 2")
        wall = desktop.context.new_page()
        wall.goto(f"/wall/{rack}")
        expect(wall.get_by_text("Nothing here yet")).to_be_visible()
        expect(wall.get_by_text("Live", exact=True)).to_be_visible()
        open_athlete(desktop, "Lucja")
        expect(desktop.get_by_text("Live", exact=True)).to_be_visible()
        told = {**sample.meta, "device": "Rack 2", "started_at": datetime.now(UTC)}
        with client.stream(**told, velocity_loss=2, cut_by=CutBy(samples=int(told["rate_hz"]))) as stream:
            for piece in pieces(sample):
                stream.push(piece)
            expect(wall.get_by_text("Lucja")).to_be_visible()
            expect(wall.get_by_text("Stop the set.")).to_be_visible()
            expect(wall.get_by_text("stop at 2 % loss")).to_be_visible()
            wall.set_viewport_size({"width": 1180, "height": 820})
            picture(wall, "wall-live-tablet")
            stream.close(wait_s=60)
    expect(wall.get_by_text(re.compile("^Rep 5"))).to_be_visible()
    expect(wall.get_by_role("listitem")).to_have_count(5)
    expect(wall.locator(".wall-zone")).to_contain_text("zone")
    wall.close()
    expect(desktop.get_by_role("link", name=re.compile("Bench press 35 kg"))).to_be_visible()
    expect(desktop.get_by_text("5 reps")).to_be_visible()


def test_a_rep_marked_failed_changes_the_day(desktop: Page) -> None:
    def day_max() -> str:
        return row(desktop, "Imke").locator(".max", has_text="Snatch").inner_text()

    desktop.goto("/")
    before = day_max()
    assert "70" in before
    open_athlete(desktop, "Imke")
    desktop.get_by_role("link", name=re.compile("Snatch 70 kg")).click()
    desktop.get_by_role("button", name="Mark as failed").click()
    expect(desktop.get_by_text("the analysis said made")).to_be_visible()
    desktop.goto("/")
    assert day_max() != before
    desktop.go_back()
    desktop.get_by_role("button", name="Mark as made").click()
    expect(desktop.get_by_role("button", name="Mark as failed")).to_be_visible()
    desktop.goto("/")
    assert day_max() == before


def test_reps_are_stepped_by_key_and_laid_over_one_another(desktop: Page) -> None:
    open_athlete(desktop, "Imke")
    desktop.get_by_role("link", name=re.compile("Snatch 63 kg")).click()
    expect(desktop.get_by_role("heading", name="Rep 1")).to_be_visible()
    desktop.keyboard.press("ArrowRight")
    expect(desktop.get_by_role("heading", name="Rep 2")).to_be_visible()
    assert "rep=" in desktop.url
    desktop.keyboard.press("ArrowLeft")
    expect(desktop.get_by_role("heading", name="Rep 1")).to_be_visible()
    desktop.get_by_label("Lay another rep beneath").select_option(index=1)
    expect(desktop.locator("path.c-other").first).to_be_attached()
    desktop.get_by_text("As a table").first.click()
    expect(desktop.get_by_role("columnheader", name="Height, cm")).to_be_visible()


def test_a_week_is_planned(phone: Page) -> None:
    phone.goto("/plan")
    phone.get_by_label("Athlete").select_option(label="Emeka")
    expect(phone.get_by_role("heading", name=re.compile("^Emeka"))).to_be_visible()
    rest = phone.get_by_role("link", name=re.compile(r"^Plan \w+day$"))  # the one day without a plan yet
    name = (rest.get_attribute("aria-label") or "").removeprefix("Plan ")
    rest.click()
    line = phone.get_by_role("group", name="Line 1", exact=True)
    line.get_by_label("Lift").select_option(label="Front squat")
    line.get_by_label("Sets").fill("4")
    line.get_by_label("Reps").fill("3")
    line.get_by_label("Target", exact=True).fill("70")
    phone.get_by_label("Note for the day").fill("legs")
    phone.get_by_role("button", name="Keep the day").click()
    day = phone.get_by_role("listitem").filter(has=phone.get_by_role("heading", name=re.compile(f"^{name}")))
    expect(day.get_by_text(re.compile("Front squat, 4.×.3.at.70.%"))).to_be_visible()
    expect(day.get_by_text("legs")).to_be_visible()
    phone.get_by_role("link", name="Week after →").click()
    phone.get_by_role("button", name="Copy the week before").click()
    expect(phone.get_by_text(re.compile("Front squat, 4.×.3.at.70.%"))).to_be_visible()


def test_an_athlete_is_erased(desktop: Page) -> None:
    desktop.goto("/athletes")
    desktop.get_by_label("Name").fill("Somebody Else")
    desktop.get_by_role("button", name="Add").click()
    desktop.get_by_role("link", name="Erase Somebody Else").click()
    desktop.get_by_label("Type the name to go on").fill("Somebody Else")
    desktop.get_by_role("button", name="Erase for good").click()
    expect(desktop.get_by_role("heading", name="Athletes")).to_be_visible()
    expect(desktop.get_by_text("Somebody Else")).to_have_count(0)


def test_signing_in_with_a_passphrase_a_wrong_one_and_a_link_that_is_over(hall: Hall, picture) -> None:
    context = hall.context(signed_in=False)
    page = context.new_page()
    link = hall.link("Second")
    page.goto(link)
    expect(page.get_by_role("link", name="Today")).to_be_visible()
    page.goto("/club")
    page.get_by_label("Choose a passphrase").fill(PHRASE)
    page.locator("#you").get_by_role("button", name="Keep").nth(1).click()
    expect(page.get_by_label("New passphrase")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.get_by_label("Your name").fill("Second")
    page.get_by_label("Passphrase").fill("not the right one")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert").filter(has_text="do not belong together")).to_be_visible()
    picture(page, "sign-in-wrong-desktop")
    page.get_by_label("Passphrase").fill(PHRASE)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("link", name="Today")).to_be_visible()
    page.goto(link)
    expect(page.get_by_role("alert").filter(has_text="This link is over")).to_be_visible()
    context.close()


def test_everything_but_live_works_without_scripts(hall: Hall) -> None:
    context = hall.context("phone", signed_in=False, java_script_enabled=False)
    page = context.new_page()
    page.goto(hall.link("Third"))
    page.get_by_role("button", name="Sign in").click()
    emeka = row(page, "Emeka")
    emeka.get_by_role("link", name=re.compile("^Change")).nth(1).click()
    page.get_by_label("Load, kg").fill("66")
    page.get_by_role("button", name="Keep").click()
    expect(row(page, "Emeka").get_by_text("66 kg", exact=True)).to_be_visible()
    page.get_by_text("More", exact=True).click()
    page.get_by_role("link", name="Sets", exact=True).last.click()
    page.get_by_label("Athlete").select_option(label="Imke")
    page.get_by_role("button", name="Show").click()
    page.get_by_role("link", name=re.compile("Snatch 63 kg")).click()
    page.get_by_role("link", name="Rep 2 →").click()
    expect(page.get_by_role("heading", name="Rep 2")).to_be_visible()
    page.get_by_text("As a table").first.click()
    expect(page.get_by_role("columnheader", name="Height, cm")).to_be_visible()
    context.close()


def test_when_the_service_is_away_nothing_is_lost_in_silence(desktop: Page, hall: Hall) -> None:
    desktop.goto("/")
    tomas = row(desktop, "Tomas")
    loads = tomas.get_by_text("99 kg", exact=True)
    before = loads.count()  # a plan in percent may come to it by itself
    tomas.get_by_role("link", name=re.compile("^Change")).last.click()
    tomas.get_by_label("Load, kg").fill("99")
    desktop.context.set_offline(True)
    tomas.get_by_role("button", name="Keep").click()
    expect(desktop.get_by_role("alert").get_by_text("Nothing was changed")).to_be_visible(timeout=WAIT_MS)
    desktop.context.set_offline(False)
    tomas.get_by_role("button", name="Keep").click()
    expect(loads).to_have_count(before + 1)
    hall.said[:] = [said for said in hall.said if "ERR_INTERNET_DISCONNECTED" not in said and "htmx:" not in said]
