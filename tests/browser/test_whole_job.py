"""The whole job on the pages alone: from an empty folder to a signed release that verifies."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from evenpull.evidence import verify
from tests.browser.conftest import Site

pytestmark = [pytest.mark.browser, pytest.mark.slow]

# Invented tools and files for this test only.
TOOLS = """form = "evenpull tools 1"
[[tool]]
serial = "TW-1"
name = "click wrench"
kind = "setting"
unit = "N.m"
range = ["10 N.m", "100 N.m"]
resolution = "0.5 N.m"
uncertainty = "3 %"
certificate = "C-1"
certificate_from = 2026-01-01
certificate_until = 2027-12-31
"""
MAPPING = """form = "evenpull mapping 1"
name = "plain list"
[file]
kind = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
header_rows = [1]
[time]
column = "when"
format = "%d.%m.%Y %H:%M:%S"
zone = "Europe/London"
[columns]
joint = "joint"
fastener = "bolt"
pass = "pass"
tool = { value = "TW-1" }
counter = "no"
operator = "who"
direction = "turned"
end_cause = "end"
[torque]
column = "torque"
unit = "N.m"
[meaning]
direction.tighten = ["R"]
direction.loosen = ["L"]
end_cause.reached = ["reached"]
end_cause."stopped by user" = ["stopped"]
"""
FIELDS = {
    "joint.id": "KN-TEST-001",
    "joint.name": "Guard plate",
    "joint.place": "Kestrel Narrows / workshop",
    "joint.kind": "general assembly",
    "joint.class": "C",
    "joint.viewed_from": "the walkway",
    "joint.first_fastener": "top left",
    "joint.numbering": "clockwise",
    "source.document": "KN-SPEC-0900",
    "source.revision": "A",
    "source.place": "table 1",
    "source.approved_by": "M. Okonjo-Reyes",
    "source.in_force_from": "2026-01-05",
    "fasteners.count": "4",
    "fasteners.thread": "M10",
    "fasteners.class": "8.8",
    "fasteners.length": "45 mm",
    "fasteners.head": "hexagon",
    "fasteners.counterpart": "nut",
    "fasteners.nut_class": "8",
    "fasteners.washer_under_head": "true",
    "fasteners.washer_under_nut": "true",
    "fasteners.hole": "medium",
    "fasteners.circle": "120 mm",
    "fasteners.grid": "",
    "clamped.0.part": "plate",
    "clamped.0.material": "steel",
    "clamped.0.thickness": "20 mm",
    "target.torque": "40 N.m",
    "target.tolerance": "8 %",
    "target.required_preload": "12 kN",
    "procedure.order": "star",
    "procedure.passes": "50, 100",
    "procedure.check_passes": "0",
    "tools.allowed": "TW-1",
}


def fill(page: Page, values: dict[str, str]) -> None:
    for name, value in values.items():
        box = page.locator(f"[name='f:{name}']")
        if box.evaluate("e => e.tagName") == "SELECT":
            box.select_option(value)
        else:
            box.fill(value)


def records(passes: list[tuple[int, list[tuple[int, str]]]]) -> bytes:
    start = datetime.now(UTC) - timedelta(hours=3)
    lines, number = ["no;when;joint;bolt;pass;torque;turned;end;who"], 0
    for pass_number, pulls in passes:
        for bolt, torque in pulls:
            number += 1
            when = (start + timedelta(minutes=number)).strftime("%d.%m.%Y %H:%M:%S")
            lines.append(f"{number};{when};KN-TEST-001;{bolt};{pass_number};{torque};R;reached;A. Lindqvist")
    return ("\n".join(lines) + "\n").encode()


def upload(page: Page, box: str, name: str, data: bytes) -> None:
    page.locator(box).set_input_files({"name": name, "mimeType": "application/octet-stream", "buffer": data})


def take_in(page: Page, site: Site, name: str, data: bytes) -> None:
    page.goto(site.address + "/intake/")
    upload(page, "#file", name, data)
    page.get_by_label("Mapping", exact=False).first.select_option("plain list")
    page.get_by_role("button", name="Show what would be taken in").click()
    expect(page.locator("h1")).to_contain_text("Preview")


def test_from_an_empty_folder_to_a_signed_release(page: Page, empty_site: Site, tmp_path: Path) -> None:
    at = empty_site.address
    page.goto(at)
    expect(page.locator("main")).to_contain_text("Start with")

    # Nothing is written without a name.
    page.goto(at + "/tools/")
    upload(page, "#file", "tools.toml", TOOLS.encode())
    page.get_by_role("button", name="Read the register").click()
    expect(page.locator("main")).to_contain_text("Say who you are first")
    page.get_by_label("Your own name").fill("Ines Harrowgate")
    page.get_by_role("button", name="Write under this name").click()

    page.goto(at + "/tools/")
    upload(page, "#file", "tools.toml", TOOLS.encode())
    page.get_by_role("button", name="Read the register").click()
    expect(page.locator("main")).to_contain_text("1 tools written")

    # A joint on a page: an impossible thread is refused at its field, with what is allowed; then it is put right.
    page.goto(at + "/new-joint/?kind=general+assembly")
    fill(page, FIELDS | {"fasteners.thread": "M10.5"})
    page.get_by_role("button", name="Write this revision").first.click()
    expect(page.locator(".field.bad")).to_contain_text("M10.5")
    page.goto(at + "/")
    expect(page.locator("main")).not_to_contain_text("KN-TEST-001")
    page.goto(at + "/new-joint/?kind=general+assembly")
    fill(page, FIELDS)
    page.get_by_role("button", name="Check and show the target").first.click()
    expect(page.locator("main")).to_contain_text("This is what it would ask for")
    page.get_by_role("button", name="Write this revision").first.click()
    expect(page.locator("h1")).to_contain_text("KN-TEST-001")
    expect(page.locator(".verdict")).to_contain_text("Not released")

    # The card.
    page.get_by_role("button", name="Issue a card").click()
    card = page.locator("#cards a[href$='.pdf']").first
    data = page.request.get(at + (card.get_attribute("href") or "")).body()
    assert "KN-TEST-001" in "".join(p.extract_text() for p in PdfReader(BytesIO(data)).pages)

    # The mapping, then a file in which fastener 3 was never pulled to the end and fastener 2 is low.
    page.goto(at + "/intake/")
    if not page.locator("#mapping-file").is_visible():
        page.get_by_text("Add a mapping").click()
    upload(page, "#mapping-file", "plain.toml", MAPPING.encode())
    page.get_by_role("button", name="Add the mapping").click()
    first = records([(1, [(b, "20,1") for b in (1, 3, 2, 4)]), (2, [(1, "40,2"), (2, "31,0"), (4, "39,8")])])
    take_in(page, empty_site, "first.csv", first)
    expect(page.locator("main")).to_contain_text("Nothing has been written yet")
    page.goto(at + "/joints/KN-TEST-001/")
    expect(page.locator("#records")).to_contain_text("0 records counted")  # leaving the preview wrote nothing
    take_in(page, empty_site, "first.csv", first)
    page.get_by_role("button", name="Take in 7 records").click()
    expect(page.locator("main")).to_contain_text("7 records written")
    page.goto(at + "/joints/KN-TEST-001/")
    expect(page.locator(".verdict")).to_contain_text("Not released")
    expect(page.locator("#records td.missing")).to_have_count(1)
    expect(page.locator("#records td.not-accepted")).to_have_count(1)
    expect(page.locator("#release")).to_contain_text("cannot be signed yet")

    # The same file again changes nothing.
    take_in(page, empty_site, "first.csv", first)
    page.get_by_role("button", name="Take in 0 records").click()
    expect(page.locator("main")).to_contain_text("changed nothing")

    # The rest arrives later from the same tool: its earlier records are recognised, two are new.
    lines = first.decode().splitlines()
    when = datetime.now(UTC).strftime("%d.%m.%Y %H:%M:%S")
    lines += [
        f"8;{when};KN-TEST-001;3;2;40,4;R;reached;A. Lindqvist",
        f"9;{when};KN-TEST-001;2;2;40,1;R;reached;A. Lindqvist",
    ]
    take_in(page, empty_site, "second.csv", ("\n".join(lines) + "\n").encode())
    page.get_by_role("button", name="Take in 2 records").click()
    page.goto(at + "/joints/KN-TEST-001/")
    expect(page.locator("#records td.accepted")).to_have_count(8)

    # What is still open is decided by a person, with a reason.
    for _ in range(12):
        waiting = page.locator("#open .problem.stop")
        if waiting.count() == 0:
            break
        waiting.first.locator("summary").click()
        waiting.first.locator("select").select_option("redo")
        waiting.first.locator("input[name=reason]").fill("pulled again to the full value, record 9")
        waiting.first.get_by_role("button", name="Record the decision").click()
    expect(page.locator("#open")).to_contain_text("Nothing is open")

    page.get_by_role("button", name="Sign:").click()
    expect(page.locator("#release")).to_contain_text("signed by Ines Harrowgate")
    report = page.locator("#release a", has_text="Signed report")
    signed = page.request.get(at + (report.get_attribute("href") or "")).body()
    text = PdfReader(BytesIO(signed)).pages[0].extract_text()
    assert "KN-TEST-001" in text and "released" in text.lower() and "DRAFT" not in text

    bundle = tmp_path / "bundle.zip"
    bundle.write_bytes(page.request.get(at + "/joints/KN-TEST-001/bundle.zip").body())
    assert verify(bundle).ok
