"""A card on the pages as people do it: dropped, keyed by two by the keyboard alone, a third decides, records follow."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Site, overflows, serious_findings, start_site
from tests.paper import trip

pytestmark = [pytest.mark.browser, pytest.mark.slow]
ANNA, BELA, CORA = "Anna Thorsby", "Bela Quist", "Cora Munroe"
AIM = 45.0

# Made by a process of its own: this one has another database.
MAKE = """
import sys
from pathlib import Path
from evenpull.store import settings  # noqa: F401
import django
django.setup()
from evenpull.store import services
from tests.paper import trip
from tests.store.samples import AUTHOR, JOINT, furnish
services.prepare()
furnish()
serial, pages, pdf = trip.issued(JOINT, AUTHOR)
number = trip.pass_pages(pages)[0]
picture = trip.filled(pdf, pages[number - 1], 45.0, without=(3,))
Path(sys.argv[1]).write_bytes(trip.scanned([picture]))
Path(sys.argv[1]).with_suffix(".png").write_bytes(trip.scanned([picture], "PNG"))
print(serial)
"""


@pytest.fixture(scope="module")
def dropped(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Site, Path, str]]:
    """A server on a folder with an issued card, the scan of one page of it, and its serial."""
    home = tmp_path_factory.mktemp("home") / "paper"
    scan = home.parent / "monday.pdf"
    made = subprocess.run(
        [sys.executable, "-c", MAKE, str(scan)], check=True, capture_output=True, text=True,
        env=os.environ | {"EVENPULL_HOME": str(home), "DJANGO_SETTINGS_MODULE": "evenpull.store.settings",
                          "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    for site in start_site(home):
        yield site, scan, made.stdout.split()[-1]


def _be(page: Page, site: Site, who: str) -> None:
    page.goto(f"{site.address}/who/?next=/paper/")
    page.get_by_label("name").fill(who)
    page.keyboard.press("Enter")
    page.wait_for_url("**/paper/")


def _key(page: Page, slip: dict[str, str]) -> None:
    """Every box of the page by the keyboard alone; `slip` by the name of the box."""
    head = trip.HEAD | {"pass_date": datetime.now(UTC).date().isoformat(), "ticks_counted": "7",
                        "pass_counter_start": "100", "pass_counter_end": "107"}  # fmt: skip
    page.locator("#keying.one").wait_for()
    while (box := page.locator("fieldset.box:visible")).count():
        name = box.get_attribute("data-box") or ""
        field, fastener, _ = name.split(".")
        expect(box.locator("img")).to_be_visible()
        text = head.get(field, "")
        if field == "got" and fastener != "3":
            text = trip.value_of(AIM, int(fastener), 0)
        text = slip.get(name, text)
        page.keyboard.type(text) if text else page.keyboard.press("/")
        if text:
            page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_url("**/paper/")


def test_from_the_drop_to_the_records(page: Page, dropped: tuple[Site, Path, str]) -> None:
    site, scan, serial = dropped
    _be(page, site, ANNA)
    page.set_input_files("#file", scan)
    page.get_by_role("button", name="Read the scans").click()
    expect(page.locator("#dropped")).to_contain_text("1 page of cards read", timeout=60_000)
    page.get_by_role("link", name="Show what is to be keyed now").click()
    expect(page.locator("main")).to_contain_text("first keying")
    for size in (390, 1280):
        page.set_viewport_size({"width": size, "height": 900})
        assert overflows(page) <= 0 and serious_findings(page) == []

    page.get_by_role("link", name=f"{serial}, page").first.click()
    for size in (390, 1280):
        page.set_viewport_size({"width": size, "height": 900})
        assert overflows(page) <= 0 and serious_findings(page) == []
    page.keyboard.press("Enter")  # nothing keyed: it stays, and says so
    expect(page.locator("#notes")).to_contain_text("key what is written")
    _key(page, {})
    expect(page.get_by_role("status").first).to_contain_text("Another person keys the same page")
    expect(page.locator("main")).to_contain_text("need another person")

    _be(page, site, BELA)
    page.get_by_role("link", name=f"{serial}, page").first.click()
    _key(page, {"got.5.1": "54"})
    expect(page.locator("main")).to_contain_text("The two differ in 1 boxes")

    _be(page, site, CORA)
    page.locator("a[href$='/settle/']").first.click()
    expect(page.locator("fieldset.box")).to_have_count(1)
    expect(page.locator("main")).to_contain_text("two neighbouring digits changed places")
    assert overflows(page) <= 0 and serious_findings(page) == []
    page.locator("fieldset.box input").fill("45")
    page.get_by_label("What the picture shows").fill("the 4 stands first")
    page.get_by_role("button", name="Decide").click()
    page.wait_for_url("**/paper/")
    expect(page.locator("main")).to_contain_text(f"7 records of card {serial} written")
    page.get_by_role("link", name=serial, exact=True).first.click()
    expect(page.locator("main")).to_contain_text("only on paper")
    for size in (390, 1280):
        page.set_viewport_size({"width": size, "height": 900})
        assert overflows(page) <= 0 and serious_findings(page) == []
    page.goto(f"{site.address}/joints/KN-CW-008/")
    expect(page.locator("main")).to_contain_text("Not released")


def test_a_better_scan_comes_when_records_stand_and_then_before_anybody_keyed(
    page: Page, dropped: tuple[Site, Path, str]
) -> None:
    """After the trip above: the records have to be withdrawn first, and the page says how."""
    site, scan, serial = dropped
    _be(page, site, CORA)
    page.set_input_files("#file", scan.with_suffix(".png"))
    page.get_by_role("button", name="Read the scans").click()
    expect(page.locator("#dropped")).to_contain_text("1 page of cards read", timeout=60_000)
    page.goto(f"{site.address}/paper/cards/{serial}/")
    for size in (390, 1280):
        page.set_viewport_size({"width": size, "height": 900})
        page.evaluate("document.getElementById('aside').open = true")
        assert overflows(page) <= 0 and serious_findings(page) == []

    def ask() -> None:
        page.goto(f"{site.address}/paper/cards/{serial}/")
        page.get_by_text("Another scan of a page is the better one").click()
        page.get_by_label("What is wrong with this scan").fill("cut off at the edge")
        page.get_by_role("button", name="Set the page aside").click()

    ask()
    expect(page.locator("main")).to_contain_text("Withdraw that reading first")
    page.goto(f"{site.address}/intake/")
    page.get_by_role("link", name=f"card {serial} page").first.click()
    page.get_by_text("Withdraw this reading").first.click()
    page.locator("#withdraw [name=why]").fill("read from a scan that is cut off")
    page.locator("#withdraw [name=confirmed]").check()
    page.locator("#withdraw button[type=submit]").click()
    expect(page.locator("main")).to_contain_text("This reading was withdrawn")
    ask()
    expect(page.locator("main")).to_contain_text("two people key it afresh")
    expect(page.locator("main")).to_contain_text("cut off at the edge")
    expect(page.get_by_role("link", name="key it")).to_have_count(1)
    for size in (390, 1280):
        page.set_viewport_size({"width": size, "height": 900})
        assert overflows(page) <= 0 and serious_findings(page) == []
