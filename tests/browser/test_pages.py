"""Every page of the finished scenario: no serious accessibility finding, nothing sticks out on a phone."""

from __future__ import annotations

import re
from collections import Counter, deque
from html import unescape
from importlib.resources import files

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Site, overflows, serious_findings

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PAGES = (
    "/", "/new-joint/", "/intake/", "/paper/", "/tools/", "/log/", "/who/", "/joints/KN-CW-014/", "/joints/KN-TB-001/",
    "/audit/", "/audit/cards/", "/audit/read/", "/audit/lists/reviews/", "/audit/counters/", "/audit/clocks/",
    "/audit/training/", "/audit/inspections/", "/audit/barred/", "/audit/keeping/", "/audit/terms/", "/audit/changes/",
    "/audit/revisions/", "/audit/facts/7/", "/audit/recurrences/", "/audit/find/?what=tool&name=TW-0219",
    "/joints/KN-CW-014/revisions/", "/joints/KN-CW-014/alike/",
    "/joints/KN-CW-014/tools/", "/joints/KN-CW-026/tools/?day=2027-06-01",
    "/studies/", "/new-study/", "/studies/KN-ST-0219/", "/studies/KN-EX-0207/", "/studies/KN-MC-0031/",
    "/studies/KN-MC-0031/run/", "/studies/KN-ST-0219/change/", "/study-planning/", "/study-planning/?kind=capability",
    "/study-planning/?kind=exercise", "/sampling/", "/drift/?tool=TW-0275&limit=4", "/audit/drift/",
    "/audit/find/?what=person&name=R.%20Fjeldgaard",
    "/reviews/", "/new-review/?serial=TW-0233", "/reviews/1/", "/reviews/1/joint/?joint=KN-ST-003",
    "/equipment/", "/equipment/due/", "/equipment/new-certificate/?serial=TW-0262", "/equipment/certificate-table/",
    "/instruments/TW-0262/", "/instruments/TW-0207/", "/instruments/CH-0012/", "/instruments/HS-0044/",
    "/instruments/RS-0005/",
    "/calculations/", "/new-calculation/", "/calculations/KN-CW-014-C1/", "/calculations/KN-BH-021-C1/",
)  # fmt: skip
WIDTHS = (390, 1280)


@pytest.mark.parametrize("path", PAGES)
def test_page_is_accessible_and_fits(page: Page, demo_site: Site, path: str) -> None:
    """On a desk and on a phone. The page is loaded once: what depends on the width is the style sheet's, which lays it
    out anew; no script asks how wide the window is, as the test below holds."""
    response = page.goto(demo_site.address + path)
    assert response is not None and response.status == 200
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert overflows(page) <= 0, width
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    for width in reversed(WIDTHS):
        page.set_viewport_size({"width": width, "height": 900})
        assert overflows(page) <= 0, width
        assert serious_findings(page) == [], width


def test_no_script_of_ours_asks_how_wide_the_window_is() -> None:
    scripts = list((files("evenpull.web") / "static" / "web").iterdir())
    texts = {one.name: one.read_text(encoding="utf-8") for one in scripts if one.name.endswith(".js")}
    assert "ring.js" in texts
    asks = re.compile(r"\b(?:inner|outer|client|offset|scroll|screen\.)Width|matchMedia|visualViewport")
    assert [name for name, text in texts.items() if asks.search(text)] == []


def test_every_page_links_only_to_pages_that_answer(page: Page, demo_site: Site) -> None:
    """Of pages that differ only in numbers (curves, files, what is asked about them) the first twelve found. One page
    of each kind is drawn as well, and must do so without an error: kinds differ in the address, names and numbers in
    it left aside, or in what the page gives to a script."""
    seen: set[str] = set()
    drawn: set[tuple[str, frozenset[str]]] = set()
    shapes: Counter[str] = Counter()
    waiting = deque(["/"])
    while waiting:
        path = waiting.popleft()
        shape = re.sub(r"(?<=[/=&?])[0-9a-f.:%+-]*[0-9][0-9a-f.:%+-]*(?=[/&]|$)", "0", path)
        if path in seen or shapes[shape] >= 12:
            continue
        seen.add(path)
        shapes[shape] += 1
        answer = page.request.get(demo_site.address + path)
        if answer.status == 202:  # a long computation has begun beside the page, which says so and looks again
            assert "eing computed" in answer.text(), path
            continue
        assert answer.status == 200, path
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        if (kind := (nameless(path), for_scripts(answer.text()))) not in drawn:
            drawn.add(kind)
            page.goto(demo_site.address + path)
        for target in links_in(answer.text()):
            # The who page carries the way back in its address: one of them is enough.
            waiting.append("/who/" if target.startswith("/who/") else target)
    assert len(seen) > 200 and len(shapes) > 60 and len(drawn) > 60


def nameless(path: str) -> str:
    """The address with 0 for each part that has a digit in it, as nearly every name of the scenario has."""
    return re.sub(r"(?<=[/=])[^/=&?]*[0-9][^/=&?]*", "0", path)


def for_scripts(text: str) -> frozenset[str]:
    """What in the text of a page a script runs on or is: scripts, pictures drawn in lines, fields with data of ours and
    those for the library that loads parts of pages."""
    return frozenset(re.findall(r"<svg\b|<script\b[^>]*|\s(?:hx|data)-[\w-]+(?==)", text))


def links_in(text: str) -> list[str]:
    """Where the links of a page lead on this site, without the part behind #. They stand in the text that the server
    sends; the one that a script makes leads to the page it stands on."""
    return [
        unescape(target).split("#")[0]
        for target in re.findall(r"""<a\b[^>]*?\shref=["'](/[^"']*)["']""", text)
    ]


def test_pages_load_nothing_from_elsewhere(page: Page, demo_site: Site) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(demo_site.address + "/joints/KN-CW-014/")
    assert asked and all(url.startswith(demo_site.address) or url.startswith("data:") for url in asked)


def test_list_can_be_searched_with_the_keyboard_alone(page: Page, demo_site: Site) -> None:
    page.goto(demo_site.address + "/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to content"
    for _ in range(20):
        if page.evaluate("document.activeElement.id") == "q":
            break
        page.keyboard.press("Tab")
    page.keyboard.type("KN-CW-014")
    expect(page.locator("#rows tbody tr")).to_have_count(1)
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("KN-CW-014")


def test_unknown_addresses_say_so(page: Page, demo_site: Site) -> None:
    answer = page.goto(demo_site.address + "/joints/KN-CW-O14/")
    assert answer is not None and answer.status == 404
    expect(page.locator("main")).to_contain_text("KN-CW-014")


def test_a_calculation_is_written_checked_and_read_on_the_pages(page: Page, demo_site: Site) -> None:
    page.goto(demo_site.address + "/who/?next=/new-calculation/")
    page.get_by_label("name").fill("Ines Harrowgate")
    page.keyboard.press("Enter")
    page.wait_for_url("**/new-calculation/")
    text = page.get_by_label("Text every key")
    start = text.input_value()
    text.fill(start.replace('thread = "M24"', 'thread = "M25"'))
    page.get_by_role("button", name="Check and calculate").click()
    expect(page.get_by_role("alert")).to_contain_text("bolt.thread")
    assert serious_findings(page) == []
    page.get_by_label("Text every key").fill(start)
    page.get_by_role("button", name="Check and calculate").click()
    expect(page.get_by_label("Check result")).to_contain_text("Nothing has been written yet")
    page.get_by_role("button", name="Write this revision").click()
    page.wait_for_url("**/calculations/NEW-CALCULATION/")
    expect(page.locator("#plots svg")).to_have_count(3)
    expect(page.locator("#inputs")).to_contain_text("not stated yet")
    address = page.locator("#results a.button").first.get_attribute("href") or ""
    assert page.request.get(demo_site.address + address).body().startswith(b"%PDF")


def test_symbols_of_a_formula_are_set_low_and_their_numbers_stand_below(page: Page, demo_site: Site) -> None:
    page.goto(demo_site.address + "/calculations/KN-CW-014-C1/")
    line = page.locator("table.steps tr").filter(has=page.locator(".numbers")).first
    expect(line.locator("sub").first).to_be_visible()
    assert line.locator(".numbers").inner_text().startswith("=")
    formula, numbers = line.locator(".formula").bounding_box(), line.locator(".numbers").bounding_box()
    assert formula is not None and numbers is not None and numbers["y"] > formula["y"]
