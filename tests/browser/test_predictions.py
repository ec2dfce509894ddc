"""Ring predictions in the browser: slider, two procedures side by side, and the way from a prediction to a card."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from os import environ
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Site, overflows, serious_findings, start_site
from tests.prediction.files import PLAIN, changed

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TEXT = changed(PLAIN, 'id = "T-R1"', 'id = "T-R1"\njoint = "KN-CW-008"')
TEXT = changed(TEXT, 'load = "98 kN"', 'load = "98 kN"\nK = 0.16')
TEXT += """[[procedure]]
name = "round the ring"
order = "circular"
passes = [1.0]
[evenness]
least = 0.8
spread = "30 %"
[scatter]
K_nut = "6 %"
assemblies = 400
basis = "T-TEST 3"
"""
PAGE = "/predictions/T-R1/"
FURNISH = """
import django; django.setup()
from evenpull.store import services
from tests.store.samples import AUTHOR, furnish
services.prepare(); furnish()
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A dossier with the joint KN-CW-008, its tools, and one prediction."""
    home = tmp_path_factory.mktemp("ring") / "home"
    home.mkdir()
    asked = home.parent / "ring.toml"
    asked.write_text(TEXT, encoding="utf-8")
    settings = {"EVENPULL_HOME": str(home), "DJANGO_SETTINGS_MODULE": "evenpull.store.settings"}
    code = FURNISH + f"services.add_prediction(open({str(asked)!r}).read(), 'ring.toml', AUTHOR)"
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", code], check=True, cwd=root, env=environ | settings, timeout=120)
    yield from start_site(home)


def say_who(page: Page, site: Site) -> None:
    page.goto(site.address + "/who/?next=/predictions/")
    page.get_by_label("name").fill("Ines Harrowgate")
    page.keyboard.press("Enter")
    page.wait_for_url("**/predictions/")


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("path", [
    "/predictions/", "/new-prediction/", PAGE, f"{PAGE}?a=1&b=2", f"{PAGE}plan/", f"{PAGE}change/",
    f"{PAGE}intervals/", f"{PAGE}found/",
])  # fmt: skip
def test_page_is_accessible_and_fits(page: Page, site: Site, path: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    answer = page.goto(site.address + path)
    assert answer is not None and answer.status == 200
    if path.startswith(f"{PAGE}?") or path == PAGE:  # with everything that is computed beside the page
        expect(page.locator("#torque svg")).to_be_visible(timeout=120_000)
        expect(page.locator("#procedures")).to_contain_text("found: fewest pulls", timeout=120_000)
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    assert overflows(page) <= 0
    assert serious_findings(page) == []


def test_slider_goes_through_the_pulls_without_asking_the_server(page: Page, site: Site) -> None:
    page.goto(site.address + PAGE)
    expect(page.locator("#torque svg")).to_be_visible(timeout=120_000)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    slider = page.get_by_role("slider", name="Pull")
    slider.focus()
    page.keyboard.press("Home")
    expect(page.locator("svg.ring .said")).to_have_text("before the first of 24 pulls: nothing carries")
    expect(page.locator("svg.ring text.figure").first).to_have_text("0.0")
    page.get_by_role("button", name="One pull on").click()
    expect(page.locator("svg.ring .said")).to_have_text("pull 1 of 24: bolt 1 to 50 %")
    expect(page.locator("svg.ring g.pulled")).to_have_attribute("data-bolt", "1")
    expect(page.locator("svg.ring text.figure[data-bolt='1']")).to_have_text("50.0")
    page.evaluate("document.querySelector('details.loads').open = true")
    expect(page.locator("ol.loads li").first).to_have_text(re.compile(r"1\s*49\.0 kN\s*50\.0 %"))
    assert serious_findings(page) == [] and asked == []


def test_the_slider_draws_what_the_server_draws(page: Page, site: Site) -> None:
    def drawn() -> list[str]:
        ends = "bars => bars.map(bar => bar.getAttribute('x2') + ' ' + bar.getAttribute('y2'))"
        bars: list[str] = page.locator("svg.ring line.bar").evaluate_all(ends)
        return bars + page.locator("svg.ring text.figure").all_text_contents()

    page.goto(f"{site.address}{PAGE}?pull_a=13")
    page.get_by_role("slider", name="Pull").focus()
    page.keyboard.press("ArrowRight")
    by_slider = drawn()
    plain = page.request.get(f"{site.address}{PAGE}?pull_a=14").text()
    places = re.findall(r'<line class="bar"[^>]* x2="([\d.]+)" y2="([\d.]+)"', plain)
    figures = re.findall(r'<text class="figure"[^>]*>([\d.]+)<', plain)
    assert [float(n) for pair in by_slider[:8] for n in pair.split()] == pytest.approx(
        [float(n) for pair in places for n in pair], abs=0.15
    )
    assert by_slider[8:] == figures


def test_pulls_can_be_chosen_without_scripts(browser: Browser, site: Site) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(site.address + PAGE)
    page.get_by_role("spinbutton", name="After pull").fill("3")
    page.locator("form.pulls").get_by_role("button", name="Show").click()
    expect(page.locator("svg.ring .said")).to_have_text("pull 3 of 24: bolt 3 to 50 %")
    page.get_by_role("link", name="Intervals of").click()
    expect(page.locator("main")).to_contain_text(re.compile("computed|assemblies"))
    context.close()


def test_two_procedures_stand_side_by_side_each_with_its_slider(page: Page, site: Site) -> None:
    page.goto(site.address + PAGE)
    page.get_by_label("Beside it").select_option("2")
    page.locator("#ring form").first.get_by_role("button", name="Show").click()
    sides = page.locator("figure.ring-side")
    expect(sides).to_have_count(2)
    sides.nth(1).get_by_role("slider").focus()
    page.keyboard.press("Home")
    expect(sides.nth(1).locator(".said")).to_contain_text("before the first of 8 pulls")
    expect(sides.nth(0).locator("svg .said")).to_contain_text("pull 24 of 24")
    left, right = sides.nth(0).bounding_box(), sides.nth(1).bounding_box()
    assert left is not None and right is not None and right["x"] > left["x"] + left["width"] - 1
    for text in page.locator("svg.ring").all_text_contents():
        assert "interaction only" in text
    expect(page.locator("#torque svg")).to_be_visible(timeout=120_000)
    assert "interaction only" not in page.locator("#torque svg").text_content()


def test_from_a_prediction_to_the_plan_and_its_card(page: Page, site: Site) -> None:
    say_who(page, site)
    page.get_by_role("link", name="T-R1").click()
    page.get_by_role("button", name="Make this the plan").click()
    draft = page.get_by_label("Text")
    text = draft.input_value()
    assert "passes = [50, 100]" in text and 'approved_by = "nobody yet"' in text
    text = re.sub(r'revision = "(\w+)"', r'revision = "\g<1>2"', text.replace("nobody yet", "Ines Harrowgate"))
    draft.fill(text)
    page.get_by_role("button", name="Write this revision").click()
    page.wait_for_url("**/joints/KN-CW-008/")
    expect(page.locator("#procedure")).to_contain_text("50 %")
    page.locator("#cards").get_by_role("button").click()
    expect(page.get_by_role("status")).to_contain_text("issued")
    address = page.locator("#cards a").first.get_attribute("href") or ""
    assert page.request.get(site.address + address).body().startswith(b"%PDF")


def test_the_paper_comes_when_its_intervals_are_there(page: Page, site: Site) -> None:
    for _ in range(120):
        answer = page.request.get(f"{site.address}{PAGE}prediction.pdf")
        if answer.status == 200:
            break
        assert answer.status == 202 and "assemblies" in answer.text()
        page.wait_for_timeout(1000)
    assert answer.body().startswith(b"%PDF")
