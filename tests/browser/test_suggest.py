"""A contractor's list on the pages: asked, answered, the rows looked at, a text spoiled and mended, then taken in."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from evenpull.demo import scenario, story
from evenpull.demo.generate import scenario_plans
from tests.browser.conftest import Site, overflows, serious_findings

pytestmark = [pytest.mark.browser, pytest.mark.slow]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def say_who(page: Page, site: Site) -> None:
    page.goto(site.address + "/who/")
    page.locator("main input[type=text]").fill("P. Achterberg-Lowe")
    page.locator("main button[type=submit]").click()


def send(page: Page, site: Site, name: str, data: bytes) -> None:
    page.goto(site.address + "/intake/")
    page.set_input_files("#file", {"name": name, "mimeType": XLSX, "buffer": data})
    page.get_by_role("button", name="No mapping fits: suggest one").click()


def looks_right(page: Page) -> None:
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
        assert overflows(page) <= 0
        assert serious_findings(page) == []


def test_a_contractors_list(page: Page, empty_site: Site) -> None:
    name, data = story.contractor_file(scenario_plans())
    say_who(page, empty_site)
    send(page, empty_site, name, data)
    expect(page.get_by_role("heading", name="What you have to say (1)")).to_be_visible()
    expect(page.locator("#confirm")).to_have_count(0)
    looks_right(page)
    page.locator("#q1-other").fill("Mars/Phobos")
    page.get_by_role("button", name="Go on with these answers").click()
    expect(page.get_by_role("alert")).to_contain_text("'Mars/Phobos' is no answer to it")
    page.locator("#q1-other").fill("Europe/London")
    page.get_by_role("button", name="Go on with these answers").click()
    expect(page.locator("table", has_text="289.6 N.m")).to_be_visible()
    looks_right(page)
    # the text edited by hand: spoiled, then mended
    text = page.locator("#text").input_value()
    page.locator("#text").fill(text.replace('column = "Torque (Nm)"', 'column = "Moment"'))
    page.get_by_role("button", name="Show the rows of this text").click()
    expect(page.get_by_role("alert")).to_contain_text("Moment")
    page.locator("#text").fill(text.replace('unit = "deg"', 'unit = "rad"'))
    page.get_by_role("button", name="Show the rows of this text").click()
    expect(page.get_by_text("edited by hand")).to_be_visible()
    page.locator("#text").fill(text)
    page.get_by_role("button", name="Show the rows of this text").click()
    page.locator("#title").fill("Brae Skerry list")
    page.get_by_role("button", name="Keep this mapping and take in 8 records").click()
    expect(page.locator("main")).to_contain_text("8 records written")
    page.goto(empty_site.address + "/intake/")
    expect(page.locator("#mapping option", has_text="Brae Skerry list")).to_have_count(1)
    # the next list of this kind: the known mapping is offered first
    send(page, empty_site, "again.xlsx", data)
    expect(page.get_by_role("heading", name="A known mapping reads it")).to_be_visible()
    page.get_by_role("button", name="Brae Skerry list").click()
    expect(page.locator("main")).to_contain_text("8 (would be ignored and counted)")


def test_what_is_no_list_goes_back_with_the_reason(page: Page, empty_site: Site) -> None:
    say_who(page, empty_site)
    send(page, empty_site, "scan.csv", b"%PDF-1.7\n")
    expect(page.locator("main")).to_contain_text("PDF")
    page.goto(empty_site.address + "/intake/")
    page.get_by_role("button", name="No mapping fits: suggest one").click()
    expect(page.locator("main")).to_contain_text("Choose a file first")
    send(page, empty_site, "tools.csv", scenario.tools_text().encode())
    expect(page.locator("main")).not_to_contain_text("records written")
