"""A better scan takes the place of one that was keyed; and what one person keyed is hidden from the second."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

from evenpull.api import clients
from evenpull.card.payload import read_page_data
from evenpull.evidence.backup_facts import named_file
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import audit, audit_facts, paper_aside, paper_cards, paper_keying, paper_scans
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.paper_blind import HIDDEN
from tests.paper import many, trip
from tests.store.people import logged_in, opened
from tests.store.samples import AUTHOR, JOINT, furnish
from tests.store.test_paper import AIM, ANNA, BELA, CORA, said

WHY = "cut off at the right edge; scanned again"
ODD = "987.6"  # a value that stands nowhere else


@pytest.fixture
def two_scans(anywhere: Path) -> tuple[str, str, str]:
    """A card of which the sheet of pass 1 was scanned twice: serial, and the two scans as they came."""
    furnish()
    serial, pages, pdf = trip.issued(JOINT, AUTHOR)
    page = pages[trip.pass_pages(pages)[0] - 1]
    picture = trip.filled(pdf, page, AIM, without=(3,))
    first = paper_scans.take_scan("monday.pdf", trip.scanned([picture]), AUTHOR).sha256
    second = paper_scans.take_scan("tuesday.png", trip.scanned([picture], "PNG"), AUTHOR).sha256
    return serial, first, second


def key(scan: str, who: str, **other: str) -> str:
    page = paper_scans.kept_page(scan, 1).page
    return paper_keying.key_page(scan, 1, said(page, AIM, **other), who).stage


def refused(act: Callable[[], object], words: str) -> None:
    before = Fact.objects.count()
    with pytest.raises(Refused, match=words):
        act()
    assert Fact.objects.count() == before


def counting() -> list[str]:
    return [row.kept.page.scan for row in paper_cards.page_rows() if not row.copy]


def test_the_better_scan_counts_and_is_keyed_afresh(two_scans: tuple[str, str, str]) -> None:
    serial, first, second = two_scans
    assert counting() == [second]
    key(second, ANNA)
    refused(lambda: key(first, BELA), "another scan of page")
    assert key(second, BELA, got_5_1="54") == "differ"
    refused(lambda: paper_aside.set_page_aside(second, 1, " no ", AUTHOR), "reason in words")
    refused(lambda: paper_aside.set_page_aside(first, 1, WHY, AUTHOR), "another scan of page .* nothing is to be set")
    paper_aside.set_page_aside(second, 1, WHY, AUTHOR)
    assert counting() == [first]
    refused(lambda: paper_aside.set_page_aside(second, 1, WHY, AUTHOR), f"was set aside by {AUTHOR} .*{WHY}")
    refused(lambda: key(second, CORA), "was keyed by")
    decide = lambda: paper_keying.decide_keying(second, 1, {"got.5.1": ("written", "45")}, WHY, CORA)  # noqa: E731
    refused(decide, "was set aside by")
    refused(lambda: paper_aside.set_page_aside(first, 1, WHY, AUTHOR), "no other scan of page .* scan the paper again")
    old = next(row for row in paper_cards.card_view(serial).rows if row.aside)
    assert old.aside is not None and (old.aside.by, old.aside.why) == (AUTHOR, WHY) and len(old.state.keyed) == 2
    assert key(first, ANNA) == "one" and key(first, BELA) == "proven"
    assert paper_keying.write_records(serial, BELA) == (7, ())
    images = {t.particulars["page_image"].text.split()[0] for t in services.joint(JOINT).tightenings}
    assert images == {first}
    fact = Fact.objects.get(kind="scanned page set aside")
    assert fact.joint == JOINT and named_file(fact.kind, fact.data) == "" and fact.data["keyed_by"] == [ANNA, BELA]
    assert [row.seq for row in audit.listed("kind", fact.kind).rows] == [fact.seq]
    with pytest.raises(Unknown):
        paper_aside.set_page_aside(first, 2, WHY, AUTHOR)


def test_not_while_records_stand_and_they_do_not_come_back_by_themselves(two_scans: tuple[str, str, str]) -> None:
    serial, first, second = two_scans
    for who in (ANNA, BELA):
        key(second, who)
    assert paper_keying.write_records(serial, BELA)[0] == 7
    (file,) = [row for row in services.files() if row.name.startswith("card ")]
    refused(lambda: paper_aside.set_page_aside(second, 1, WHY, AUTHOR),
            rf"7 records rest on .*7 in {re.escape(file.name)} \(SHA-256 {file.sha256}\).*Withdraw that reading first")
    services.withdraw_reading(file.sha256, "read from a scan that is cut off", CORA)
    new, stuck = paper_keying.write_records(serial, BELA)
    assert new == 0 and "withdrew the reading" in stuck[0] and not services.joint(JOINT).tightenings
    paper_aside.set_page_aside(second, 1, WHY, AUTHOR)
    for who in (ANNA, CORA):
        key(first, who)
    assert paper_keying.write_records(serial, CORA) == (7, ())
    assert len(services.joint(JOINT).tightenings) == 7


def test_records_of_other_sheets_rest_on_the_head_of_their_pass(anywhere: Path) -> None:
    """The page with tool, name and date was keyed; the records of a later sheet carry what stands there."""
    furnish("kn-cw-014")
    row, pdf = services.issue_card("KN-CW-014", "a4", AUTHOR, version="large")
    texts = Fact.objects.get(key=f"card:{row.serial}").data["places"]
    sheets = [p for p in map(read_page_data, texts) if any(b.field == "done" and b.line == 4 for b in p.boxes)]
    assert len(sheets) == 2  # else: take a joint with more fasteners
    pictures = [trip.filled(pdf, sheet, AIM) for sheet in sheets]
    paper_scans.take_scan("monday.pdf", trip.scanned(pictures[:1]), AUTHOR)
    both = paper_scans.take_scan("tuesday.pdf", trip.scanned(pictures), AUTHOR).sha256
    for who in (ANNA, BELA):
        for picture in (1, 2):
            page = paper_scans.kept_page(both, picture).page
            paper_keying.key_page(both, picture, said(page, AIM), who)
    new, stuck = paper_keying.write_records(row.serial, BELA)
    assert new == 16 and not stuck
    for file in services.files():
        if file.name.startswith(f"card {row.serial} page {sheets[0].page} "):
            services.withdraw_reading(file.sha256, "read from a scan that is cut off", CORA)
    left = len(services.joint("KN-CW-014").tightenings)
    assert 0 < left < 16
    refused(lambda: paper_aside.set_page_aside(both, 1, WHY, AUTHOR), f"{left} records rest on what was keyed")


def test_a_scan_that_may_not_be_keyed_replaces_nothing(two_scans: tuple[str, str, str]) -> None:
    serial, _, second = two_scans
    void = {"card": serial, "state": "void", "pages": "1", "kept": "office"}
    services.add_entry("card returned", JOINT, void, AUTHOR)
    refused(lambda: paper_aside.set_page_aside(second, 1, WHY, AUTHOR), "no other scan of page .* entered as void")


def test_what_one_person_keyed_is_hidden_from_all_others(two_scans: tuple[str, str, str], tmp_path: Path) -> None:
    _, first, second = two_scans
    key(second, ANNA, got_1_1=ODD)
    fact = Fact.objects.get(kind="page keyed")

    def shown(reader: str = "") -> str:
        found = audit_facts.fact(fact.seq, reader)
        assert found.fits and found.signed  # of the fact as it is kept
        return "\n".join(found.lines)

    for reader in ("", BELA, CORA):
        assert ODD not in shown(reader) and HIDDEN in shown(reader)
    assert ODD in shown(ANNA) and ODD in shown("anna  thorsby")
    faces = ("/log/", f"/audit/facts/{fact.seq}/", "/audit/changes/", "/audit/find/?what=person&name=Anna Thorsby",
             "/audit/lists/paper/", f"/joints/{JOINT}/", "/paper/",
             f"/paper/cards/{fact.data['serial']}/", f"/paper/pages/{second}/1/key/")  # fmt: skip
    client = Client(HTTP_HOST="127.0.0.1")
    client.post("/who/", {"name": BELA})
    for address in faces:
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert ODD not in answer.content.decode(), address
    token = clients.add_client("gateway", "auditor", AUTHOR)
    program = Client(HTTP_HOST="127.0.0.1", HTTP_AUTHORIZATION=f"Bearer {token}")
    for address in ("/api/1/changes", "/api/1/log", f"/api/1/joints/{JOINT}"):
        answer = program.get(address)
        assert answer.status_code == 200 and ODD not in answer.content.decode(), address
    assert HIDDEN in client.get(f"/audit/facts/{fact.seq}/").content.decode()
    client.post("/who/", {"name": ANNA})
    assert ODD in client.get(f"/audit/facts/{fact.seq}/").content.decode()
    with zipfile.ZipFile(services.export_bundle(JOINT, tmp_path / "joint.zip")) as bundle:  # whole, to be verified
        assert any(ODD.encode() in bundle.read(name) for name in bundle.namelist())
    key(second, BELA, got_1_1="45")
    assert ODD in shown(CORA)
    # Set aside, the same paper is keyed again: what was keyed before is hidden until two have keyed it.
    paper_aside.set_page_aside(second, 1, WHY, AUTHOR)
    assert ODD not in shown(CORA)
    key(first, CORA)
    assert ODD not in shown(BELA)
    key(first, BELA)
    assert ODD in shown()


def test_with_accounts_the_account_says_who_reads_and_the_lead_signs(two_scans: tuple[str, str, str]) -> None:
    serial, first, second = two_scans
    names = {role: logged_in(opened(role)) for role in ("operator", "checker", "tightening lead")}
    key(second, "Person operator", got_1_1=ODD)
    fact = Fact.objects.get(kind="page keyed")
    address = f"/audit/facts/{fact.seq}/"
    assert ODD in names["operator"].get(address).content.decode()
    assert ODD not in names["checker"].get(address).content.decode()
    form = {"page": f"{second}:1", "why": WHY}
    aside = f"/paper/cards/{serial}/aside/"
    assert names["checker"].post(aside, form | {"password": "seven tides at the narrows"}).status_code == 403
    assert names["tightening lead"].post(aside, form | {"password": "wrong"}).status_code == 403
    assert not Fact.objects.filter(kind="scanned page set aside").exists()
    page = names["tightening lead"].get(f"/paper/cards/{serial}/").content.decode()
    assert f'value="{second}:1"' in page and f'value="{first}:1"' not in page
    names["tightening lead"].post(aside, form | {"page": "nonsense", "password": "seven tides at the narrows"})
    assert not Fact.objects.filter(kind="scanned page set aside").exists()
    names["tightening lead"].post(aside, form | {"password": "seven tides at the narrows"})
    fact = Fact.objects.get(kind="scanned page set aside")
    assert fact.author == "Person tightening lead" and fact.data["identity"]
    page = names["checker"].get(f"/paper/cards/{serial}/").content.decode()
    assert WHY in page and "Person tightening lead" in page


def test_a_page_read_before_its_card_was_known_says_what_to_do(anywhere: Path) -> None:
    furnish()
    like, _, _ = trip.issued(JOINT, AUTHOR)
    (one, *_) = many.pages(like, 1, AUTHOR)
    fact = Fact.objects.get(key=f"scanned page:{one.scan}:1")
    stray = fact.data | {"scan": "0" * 64}
    from evenpull.store.services.log import New, append, writing

    with writing():
        append([New("scanned page", f"scanned page:{'0' * 64}:1", stray)], AUTHOR)
    (row,) = [row for row in paper_cards.page_rows() if row.kept.page.scan == "0" * 64]
    assert "scan the paper again" in row.refused
