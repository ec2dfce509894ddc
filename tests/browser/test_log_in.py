"""Log-in, lock-out, roles and signature as a person meets them, at a desk and on a phone."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Site, overflows, serious_findings, start_site

pytestmark = [pytest.mark.browser, pytest.mark.slow]
PASSWORD = "seven tides at the narrows"
STAFF = """
import django
django.setup()
from evenpull.store import services
from evenpull.store.services import accounts
from tests.store.samples import furnish
services.prepare()
furnish()
staff = (
    ("a.bee", "A. Bee", "administrator"), ("c.dee", "C. Dee", "tightening lead"), ("g.guess", "G. Guess", "operator"),
    ("e.eff", "E. Eff-Marchbanks of the Lower Gallery", "auditor"),
)
for login, name, role in staff:
    accounts.add_account(login, name, role, "seven tides at the narrows", "A. Bee")
"""


@pytest.fixture(scope="module")
def staffed_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A dossier with one joint and four accounts."""
    home = tmp_path_factory.mktemp("staffed") / "home"
    environment = os.environ | {"EVENPULL_HOME": str(home), "DJANGO_SETTINGS_MODULE": "evenpull.store.settings"}
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", STAFF], env=environment, cwd=root, check=True, timeout=300)
    yield from start_site(home)


def log_in(page: Page, site: Site, login: str, path: str = "/") -> None:
    page.goto(site.address + path)
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{path}")


def fits(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(part => { part.open = true })")
    assert overflows(page) <= 0
    assert serious_findings(page) == []
    if folder := os.environ.get("EVENPULL_PICTURES"):  # to be looked at by a person
        name = page.url.split("/", 3)[3].split("?")[0].strip("/").replace("/", "-") or "joints"
        width = page.viewport_size["width"] if page.viewport_size else 0
        page.screenshot(path=Path(folder) / f"{name}-{width}.png", full_page=True)


@pytest.mark.parametrize("width", [1280, 390])
def test_log_in_leads_back_to_the_page_that_was_asked_for(page: Page, staffed_site: Site, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(staffed_site.address + "/tools/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")
    assert str(staffed_site.home) not in page.content() and page.get_by_role("navigation").count() == 0
    fits(page)
    log_in(page, staffed_site, "e.eff", "/tools/")
    expect(page.locator(".who")).to_contain_text("E. Eff-Marchbanks of the Lower Gallery, auditor")
    for path in ("/tools/", "/", "/password/", "/joints/KN-CW-008/"):
        page.goto(staffed_site.address + path)
        fits(page)
    page.get_by_role("button", name="log out").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")
    page.go_back()
    assert "KN-CW-008" not in page.locator("main").inner_text()


@pytest.mark.parametrize("width", [1280, 390])
def test_an_administrator_opens_closes_and_gives_roles(page: Page, staffed_site: Site, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    log_in(page, staffed_site, "a.bee", "/accounts/")
    fits(page)
    login = f"new.person.{width}"
    page.get_by_label("Login").fill(login)
    page.get_by_label("Full name").fill(f"New Person {width}")
    page.get_by_label("Role", exact=True).select_option("checker")
    page.get_by_label("First password").fill(PASSWORD)
    page.get_by_role("button", name="Open it").click()
    expect(page.get_by_role("status")).to_contain_text(f"Account {login} opened")
    page.get_by_label(f"Role of {login}").select_option("operator")
    page.locator("tr", has_text=login).get_by_role("button", name="Give").click()
    expect(page.get_by_role("status")).to_contain_text(f"{login} is now operator")
    page.locator("tr", has_text=login).get_by_role("button", name="Close").click()
    expect(page.locator("tr", has_text=login)).to_contain_text("closed")


def test_a_decision_asks_for_the_password_and_says_what_it_means(page: Page, staffed_site: Site) -> None:
    log_in(page, staffed_site, "c.dee", "/joints/KN-CW-008/")
    form = page.locator("#open details form").first
    page.locator("#open summary").first.click()
    expect(form).to_contain_text("Your password again signs that this is your decision")
    form.get_by_label("Reason").fill("looked at by the lead")
    form.get_by_label("Your password again").fill("not the one")
    form.get_by_role("button", name="Record the decision").click()
    expect(page.get_by_role("alert")).to_contain_text("nothing was signed and nothing was written")
    fits(page)


def test_a_role_that_may_not_is_told_who_may(page: Page, staffed_site: Site) -> None:
    log_in(page, staffed_site, "e.eff")
    answer = page.goto(staffed_site.address + "/accounts/")
    assert answer is not None and answer.status == 403
    expect(page.get_by_role("alert")).to_contain_text("Who may: administrator.")
    fits(page)


@pytest.mark.parametrize("width", [1280, 390])
def test_guessing_ends_in_a_wait_that_tells_nothing(page: Page, staffed_site: Site, width: int) -> None:
    """Last in this file: from here on the address of the tests has wrong passwords on its account."""
    page.set_viewport_size({"width": width, "height": 900})
    login = {1280: "g.guess", 390: "no.such.person"}[width]
    page.goto(staffed_site.address + "/log-in/")
    for _ in range(6):
        page.get_by_label("Login").fill(login)
        page.get_by_label("Password").fill("wrong")
        page.get_by_role("button", name="Log in").click()
        page.wait_for_load_state()
    expect(page.get_by_role("alert")).to_have_text(
        "Too many wrong passwords. Try again in 1 min, or ask an administrator."
    )
    fits(page)
