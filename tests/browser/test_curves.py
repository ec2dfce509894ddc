"""Pages of curves in a browser: what is drawn leads on, drawing over it looks closer, small screens hold it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Site, overflows, serious_findings

pytestmark = [pytest.mark.browser, pytest.mark.slow]
JOINT = "KN-GC-048"


def test_from_the_odd_one_to_a_closer_look(page: Page, demo_site: Site) -> None:
    page.goto(f"{demo_site.address}/joints/{JOINT}/")
    page.get_by_role("link", name="Torque-angle curves").click()
    for name in ("All, odd ones on top", "Each fastener small", "Over time", "Compare two"):
        page.goto(f"{demo_site.address}/joints/{JOINT}/curves/")
        page.get_by_role("link", name=name).first.click()
        for size in (390, 1280):
            page.set_viewport_size({"width": size, "height": 900})
            assert overflows(page) <= 0 and serious_findings(page) == [], name
    page.goto(f"{demo_site.address}/joints/{JOINT}/curves/")
    page.locator("table a").first.click()
    page.wait_for_url(re.compile(r"/curves/\d+/\d+/$"))
    expect(page.locator("main")).to_contain_text("Re-hit.")
    for size in (390, 1280):
        page.set_viewport_size({"width": size, "height": 900})
        assert overflows(page) <= 0 and serious_findings(page) == []

    page.get_by_role("link", name="All of it").click()
    picture = page.locator("#curve-plot svg")
    whole = float(picture.get_attribute("data-x1") or "nan") - float(picture.get_attribute("data-x0") or "nan")
    box = picture.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.5 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"], steps=4)
    page.mouse.up()
    page.wait_for_url("**from=**")
    closer = float(picture.get_attribute("data-x1") or "nan") - float(picture.get_attribute("data-x0") or "nan")
    # a fifth of the picture, of which the axes leave 818 of 900 parts for the curve
    assert closer == pytest.approx(0.2 * 900 / 818 * whole, rel=0.05)
