"""A study on the pages as a person does it: planned, its card printed, its readings typed in a drawn order, judged."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Site, overflows, serious_findings, start_site
from tests.study.files import PLAIN, ROWS

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    yield from start_site(tmp_path_factory.mktemp("home") / "studies")


@pytest.mark.parametrize("width", [1280, 390])
def test_from_the_plan_to_what_it_says(page: Page, site: Site, width: int) -> None:
    name = f"T-ST-{width}"
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(f"{site.address}/who/?next=/new-study/")
    page.get_by_label("name").fill("V. Sunde-Farrow")
    page.keyboard.press("Enter")
    page.wait_for_url("**/new-study/")
    page.get_by_label("Text every key").fill(PLAIN.replace('id = "T-ST-1"', f'id = "{name}"'))
    page.get_by_role("button", name="Check and judge").click()
    expect(page.get_by_label("Check result")).to_contain_text("8 readings to be taken")
    assert overflows(page) <= 0 and serious_findings(page) == []
    page.get_by_role("button", name="Write this revision").click()
    page.wait_for_url(f"**/studies/{name}/")

    page.get_by_role("button", name="Print a card").click()
    card = page.locator("#run li a").first
    serial = card.text_content() or ""
    assert page.request.get(site.address + (card.get_attribute("href") or "")).body().startswith(b"%PDF")
    page.get_by_role("link", name="Studies", exact=True).first.click()
    page.get_by_label("Serial on the card").fill(serial.lower())
    page.get_by_role("button", name="Type in its readings").click()
    page.wait_for_url("**/run/?card=*")
    assert overflows(page) <= 0 and serious_findings(page) == []
    _type(page)
    page.wait_for_url(f"**/studies/{name}/")
    expect(page.get_by_role("status")).to_contain_text("Measuring scatters with s = ")
    expect(page.locator("#history")).to_contain_text(f"from card {serial}")
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    assert overflows(page) <= 0 and serious_findings(page) == []
    page.get_by_role("link", name="R. Fjeldgaard", exact=True).first.click()
    expect(page.locator("main")).to_contain_text("R. Fjeldgaard: off by")


def _type(page: Page) -> None:
    """Each reading beside its number, one of them wrong at first."""
    values = {tuple(line.split(";")[:3]): line.split(";")[3] for line in ROWS.splitlines()[1:]}
    for field in page.locator("input[name^='v:']").all():
        label = field.get_attribute("aria-label") or ""
        found = re.fullmatch(r"Reading (\d+): (.*) (\d+ N\.m) no\. (\d+)", label)
        assert found is not None, label
        value = values[found[2], found[3], found[4]]
        field.fill(f"{value} N.m" if found[1] == "3" else value)
    page.get_by_role("button", name="Write what is typed").click()
    expect(page.get_by_role("alert")).to_contain_text("1 reading to put right")
    wrong = page.locator("input[name='v:3']")
    wrong.fill(wrong.input_value().removesuffix(" N.m"))
    page.get_by_role("button", name="Write what is typed").click()


def test_a_plan_is_computed_and_the_drift_page_asks_for_a_tool_that_is_there(page: Page, site: Site) -> None:
    page.goto(f"{site.address}/study-planning/")
    page.get_by_label("Persons", exact=False).first.fill("x")
    page.get_by_role("button", name="Compute").click()
    expect(page.locator(".field.bad .error").first).to_contain_text("is not a number")
    assert serious_findings(page) == []
    answer = page.goto(f"{site.address}/drift/?tool=TW-9999")
    assert answer is not None and answer.status == 404
