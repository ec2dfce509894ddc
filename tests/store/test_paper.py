"""A card comes back: dropped, keyed by two, a third decides, records follow, the memory of the tool comes later."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from evenpull.paper.page import Page
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import paper_cards, paper_keying, paper_scans
from evenpull.store.services.errors import Refused, Unknown
from tests.paper import trip
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row

ANNA, BELA, CORA = "Anna Thorsby", "Bela Quist", "Cora Munroe"
AIM = 45.0


def said(page: Page, aim: float, **other: str) -> dict[str, tuple[str, str]]:
    """What a person reads on a page as `trip.filled` made it; `other` by the name of the box, points as underscores."""
    today = datetime.now(UTC).date().isoformat()
    found: dict[str, tuple[str, str]] = {}
    ticks = sum(box.field == "done" and box.seen == "ticked" for box in page.boxes)
    head = trip.HEAD | {"pass_date": today, "ticks_counted": str(ticks), "pass_counter_start": "100",
                        "pass_counter_end": str(100 + ticks), "tag": JOINT}  # fmt: skip
    done = {box.fastener for box in page.boxes if box.field == "done" and box.seen == "ticked"}
    for box in page.to_key:
        text = head.get(box.field, "")
        if box.field == "got" and box.fastener in done:
            text = trip.value_of(aim, box.fastener, box.decimals)
        text = other.get(box.name.replace(".", "_"), text)
        state = text if text in ("cannot read", "ticked") else "written" if text else "empty"
        found[box.name] = (state, text if state == "written" else "")
    return found


@pytest.fixture
def first_pass(anywhere: Path) -> tuple[str, str]:
    """A card of which the sheet of pass 1 came back, row of fastener 3 not ticked: serial, scan."""
    furnish()
    serial, pages, pdf = trip.issued(JOINT, AUTHOR)
    number = trip.pass_pages(pages)[0]
    data = trip.scanned([trip.filled(pdf, pages[number - 1], AIM, without=(3,))])
    kept = paper_scans.take_scan("monday.pdf", data, AUTHOR)
    assert kept.pages == 1 and not kept.faults and paper_scans.take_scan("again.pdf", data, BELA).already
    return serial, kept.sha256


def test_the_whole_trip(first_pass: tuple[str, str]) -> None:
    serial, scan = first_pass
    page = paper_scans.kept_page(scan, 1).page
    before = Fact.objects.count()
    wrong = said(page, AIM) | {"got.1.1": ("written", "4l.3")}
    with pytest.raises(paper_keying.AnswersError, match=r"got.1.1.*is no number"):
        paper_keying.key_page(scan, 1, wrong, ANNA)
    with pytest.raises(paper_keying.AnswersError, match="nothing was keyed"):
        paper_keying.key_page(scan, 1, {}, ANNA)
    assert Fact.objects.count() == before
    assert paper_keying.key_page(scan, 1, said(page, AIM), ANNA).stage == "one"
    assert paper_keying.write_records(serial, ANNA) == (0, ())  # one person proves no value
    with pytest.raises(Refused, match="another person's"):
        paper_keying.key_page(scan, 1, said(page, AIM), "anna thorsby")
    state = paper_keying.key_page(scan, 1, said(page, AIM, got_5_1="54"), BELA)
    assert [m.box for m in state.open] == ["got.5.1"]
    assert paper_keying.write_records(serial, BELA)[0] == 0
    with pytest.raises(Refused, match="a third person"):
        paper_keying.decide_keying(scan, 1, {"got.5.1": ("written", "41.2")}, "the 4 is clear", BELA)
    with pytest.raises(paper_keying.AnswersError, match="the two agree"):
        paper_keying.decide_keying(scan, 1, {"got.1.1": ("written", "41.2")}, "the 4 is clear", CORA)
    value = trip.value_of(AIM, 5, page.box("got", 5).decimals)  # type: ignore[union-attr]
    decided = paper_keying.decide_keying(scan, 1, {"got.5.1": ("written", value)}, "the 4 is clear", CORA)
    assert decided.stage == "proven"
    new, stuck = paper_keying.write_records(serial, CORA)
    assert not stuck and new == sum(b.seen == "ticked" for b in page.boxes if b.field == "done")
    assert paper_keying.write_records(serial, CORA) == (0, ())
    view = services.joint(JOINT)
    fifth = next(t for t in view.tightenings if t.fastener == 5)
    assert fifth.torque_text == value and fifth.particulars["resolved_by"].text == CORA
    assert fifth.particulars["page_image"].text.split()[0] == scan
    assert not [t for t in view.tightenings if t.fastener == 3]  # not ticked: nothing is made up
    assert view.decision.state == "not released"  # a part of the card came back: the joint is not proven
    assert any("fastener 3" in reason for reason in view.decision.reasons) or view.proof.open_flags
    card = paper_cards.card_view(serial)
    assert card.rows[0].written == new and len(card.missing) == card.pages - 1
    assert card.crossed is not None and len(card.crossed.only_paper) == new


def test_crops_and_what_is_not_there(first_pass: tuple[str, str]) -> None:
    _, scan = first_pass
    assert paper_scans.crop_png(scan, 1, "got.1.1").startswith(b"\x89PNG")
    for call in (lambda: paper_scans.crop_png(scan, 1, "got.99.1"), lambda: paper_scans.kept_page(scan, 2),
                 lambda: paper_cards.card_view("KN-CW-008-0000-00")):  # fmt: skip
        with pytest.raises(Unknown):
            call()
    before = Fact.objects.count()
    with pytest.raises(Refused, match="Nothing was kept"):
        paper_scans.take_scan("letter.png", trip.scanned([np.full((1200, 900), 255, np.uint8)], "PNG"), AUTHOR)
    assert Fact.objects.count() == before


def test_a_card_of_an_outdated_revision_is_refused_until_the_lead_lets_it_be_keyed(first_pass: tuple[str, str]) -> None:
    from evenpull.demo import scenario

    serial, scan = first_pass
    text = scenario.joint_text("kn-cw-008")
    services.add_joint(text.replace('revision = "', 'revision = "9', 1), "new.toml", AUTHOR)
    page = paper_scans.kept_page(scan, 1).page
    with pytest.raises(Refused, match="no longer in force"):
        paper_keying.key_page(scan, 1, said(page, AIM), ANNA)
    with pytest.raises(Refused, match="reason in words"):
        paper_keying.admit_card(serial, "ok", AUTHOR)
    paper_keying.admit_card(serial, "the work was done before the new revision", AUTHOR)
    assert paper_keying.key_page(scan, 1, said(page, AIM), ANNA).stage == "one"


def test_notes_while_keying_say_what_is_odd(first_pass: tuple[str, str]) -> None:
    _, scan = first_pass
    kept = paper_scans.kept_page(scan, 1)
    right = [n.text for n in paper_keying.notes_while_keying(kept, said(kept.page, AIM), ANNA)]
    odd = paper_keying.notes_while_keying(
        kept, said(kept.page, AIM) | {"got.1.1": ("written", "999.0")}, ANNA
    )
    assert not [n for n in right if "outside" in n] and [n.box for n in odd if n.box == "got.1.1"] == ["got.1.1"]


def test_the_memory_of_the_tool_comes_later(first_pass: tuple[str, str]) -> None:
    """Seven rows on paper; the tool confirms five, contradicts one, knows nothing of one, and has the eighth alone."""
    serial, scan = first_pass
    page = paper_scans.kept_page(scan, 1).page
    for who in (ANNA, BELA):
        paper_keying.key_page(scan, 1, said(page, AIM), who)
    assert paper_keying.write_records(serial, BELA)[0] == 7
    before = services.joint(JOINT).proof.repeated
    moments = dict.fromkeys((1, 2, 3, 4, 5, 6), "45,0") | {7: "47,0"}
    rows = [row(100 + n, bolt=n, moment=text) for n, text in moments.items()]
    assert services.commit_file("later.csv", file_of(rows), MAPPING, AUTHOR).new == 7
    found = paper_cards.card_view(serial).crossed
    assert found is not None
    assert {p.fastener for p, _ in found.agree} == {1, 2, 4, 5, 6}
    assert [p.fastener for p, *_ in found.differ] == [7]
    assert [p.fastener for p in found.only_paper] == [8] and [t.fastener for t in found.only_tool] == [3]
    proof = services.joint(JOINT).proof
    assert proof.repeated == before + 5
    flags = [f for f in proof.open_flags if f.code == "card and tool differ"]
    assert len(flags) == 1 and "fastener 7" in flags[0].text
