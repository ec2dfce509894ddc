"""A running server on a fresh folder, and Debian's chromium in front of it."""

from __future__ import annotations

import fcntl
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, Page, Request, sync_playwright

CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Site:
    """The address and folder of one running server."""

    def __init__(self, address: str, home: Path) -> None:
        self.address, self.home = address, home


def start_site(home: Path) -> Iterator[Site]:
    port = free_port()
    environment = os.environ | {"EVENPULL_HOME": str(home), "PYTHONUNBUFFERED": "1"}
    log = home.parent / f"{home.name}-server.log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            [sys.executable, "-m", "evenpull.cli.main", "serve", "--port", str(port)],
            env=environment,
            stdout=out,
            stderr=subprocess.STDOUT,
        )
        address = f"http://127.0.0.1:{port}"
        try:
            for _ in range(300):
                if server.poll() is not None:
                    pytest.fail(f"the server ended: {log.read_text()}")
                try:
                    urllib.request.urlopen(address, timeout=2).close()
                    break
                except (urllib.error.URLError, ConnectionError, TimeoutError):
                    time.sleep(0.1)
            else:
                pytest.fail(f"the server did not answer: {log.read_text()}")
            yield Site(address, home)
        finally:
            server.terminate()
            server.wait(20)


@pytest.fixture(scope="module")
def empty_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    yield from start_site(tmp_path_factory.mktemp("home") / "empty")


@pytest.fixture(scope="session")
def demo_home(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """The scenario after its whole story, made by the demo itself, once for all processes of a run: the first one makes
    it while the others wait."""
    base = tmp_path_factory.getbasetemp()
    place = (base if worker_id == "master" else base.parent) / "demo-once"
    place.mkdir(exist_ok=True)
    home, done = place / "kestrel-narrows", place / "done"
    with (place / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            shutil.rmtree(home, ignore_errors=True)
            words = [sys.executable, "-m", "evenpull.cli.main", "demo", "--home", str(home), "--no-serve"]
            subprocess.run(words, check=True, capture_output=True, timeout=600)
            done.touch()
    return home


@pytest.fixture(scope="module")
def demo_site(tmp_path_factory: pytest.TempPathFactory, demo_home: Path) -> Iterator[Site]:
    """Pages of a copy of that folder, which the tests of the module may change."""
    home = tmp_path_factory.mktemp("demo") / "kestrel-narrows"
    shutil.copytree(demo_home, home)
    yield from start_site(home)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = shutil.which("chromium")
    assert path, "Debian's chromium is needed for the browser tests; tools/setup all installs it"
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=path, args=CHROMIUM_FLAGS)
        yield running
        running.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    opened = context.new_page()
    errors: list[str] = []
    opened.on("pageerror", lambda error: errors.append(str(error)))

    def failed(request: Request) -> None:
        # Leaving a page while it loads, or a download, is reported as aborted; everything else is a defect.
        if request.failure != "net::ERR_ABORTED":
            errors.append(f"{request.failure}: {request.url}")

    opened.on("requestfailed", failed)
    yield opened
    context.close()
    assert errors == []


def serious_findings(page: Page) -> list[str]:
    """Serious and critical findings of axe on the page as it stands: rule and first element of each. Of all that axe
    has to say only the findings are brought here, and it is read into a page once."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate("axe.run({ resultTypes: ['violations'] }).then(told => told.violations)")
    return [
        f"{item['id']}: {item['help']}: {item['nodes'][0]['html'][:200]}"
        for item in found
        if item["impact"] in ("serious", "critical")
    ]


def overflows(page: Page) -> float:
    """How many pixels the page is wider than the window (0 when nothing sticks out)."""
    return float(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))
