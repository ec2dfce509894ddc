"""Work packs: cards of many joints for one crew and shift, all of them or none; on both databases and on the page."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from django.test import Client
from pypdf import PdfReader

from evenpull.evidence.backup_facts import NAMES_FILE
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import paper_cards
from tests.store.samples import AUTHOR, furnish

WALK = ["KN-CW-014", "KN-CW-008"]


def text_of(pdf: bytes) -> list[str]:
    return [re.sub(r"\s+", " ", page.extract_text().replace("\N{ZERO WIDTH SPACE}", ""))
            for page in PdfReader(io.BytesIO(pdf)).pages]  # fmt: skip


def issue(**more: object) -> tuple[services.PackRow, bytes]:
    given: dict[str, object] = {"crew": "Crew Brindle", "shift": "2026-11-26, night", "author": AUTHOR}
    return services.issue_pack(more.pop("joints", WALK), **(given | more))  # type: ignore[arg-type]


def test_the_pack_holds_the_walk_its_cards_and_the_spares(anywhere: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    row, pdf = issue(spares=1)
    pages = text_of(pdf)
    assert [joint for joint, _ in row.cards] == WALK and [joint for joint, _ in row.spares] == WALK
    assert row.pages == len(pages) and services.pack_pdf(row.serial) == pdf
    serials = [serial for _, serial in (*row.cards, *row.spares)]
    assert len(set(serials)) == 4
    first = pages[0]
    closed = first.replace(" ", "")  # the extraction of the text puts blanks between some letters
    places = [closed.index(serial) for serial in serials]
    assert places == sorted(places) and "Crew Brindle" in first and "2026-11-26, night" in first
    whole = " ".join(pages)
    for words in ("who leaves, in capitals", "who takes over", "last fastener done", "Decides:", "counter when"):
        assert words in whole, words
    sheets = next(n for n, page in enumerate(pages) if "Right joint?" in page)
    counted = sum(len(text_of(services.card_pdf(serial))) for serial in serials)
    assert sheets + counted == len(pages) and f"of {counted}" in " ".join(pages[:sheets])
    for joint, serial in row.cards:
        assert serial in [card.serial for card in services.joint(joint).cards]


def test_the_page_says_what_keying_the_pack_leaves_wrong(anywhere: Path) -> None:
    """0.370 and 0.046 wrong of 1,000 fields keyed by one and by two people (Paulsen, PLoS ONE 7 (4), e35087)."""
    furnish("kn-cw-008", "kn-cw-014")
    row, _ = issue(spares=1)
    cost = paper_cards.cost_of_cards(serial for _, serial in row.cards)
    assert cost is not None
    each = [paper_cards.cost_of_card(serial) for _, serial in row.cards]
    assert cost.fields == sum(one.fields for one in each if one) > 100
    assert cost.single.expected / cost.fields * 1000 == pytest.approx(0.370, abs=0.001)
    assert cost.double.expected / cost.fields * 1000 == pytest.approx(0.046, abs=0.001)
    page = Client(HTTP_HOST="127.0.0.1").get("/packs/").content.decode()
    assert f"{cost.fields} values to key" in page and "PLoS ONE" in page


def test_settings_of_the_list_are_those_of_the_plan_one_stage_a_line(anywhere: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    row, pdf = issue()
    words = " ".join(text_of(pdf)[: row.pages - sum(len(text_of(services.card_pdf(s))) for _, s in row.cards)])
    for joint, serial in row.cards:
        tools = next(f.data["tools"] for f in Fact.objects.filter(kind="card") if f.data["serial"] == serial)
        plan = services.joint(joint).plan
        for tool in tools:
            for one in plan.passes:
                setting = next(s for s in one.settings if s.tool == tool)
                if not setting.problems:
                    assert f"{setting.digits} {setting.unit.replace('.', '·')} {setting.words}" in words


@pytest.mark.parametrize(("more", "words"), [
    ({"joints": ["KN-CW-008", "KN-CW-008"]}, "named twice"),
    ({"joints": []}, "1 to 60 cards"),
    ({"spares": 6}, "0 to 5 spare"),
    ({"crew": " "}, "which crew"),
    ({"shift": "x" * 81}, "which shift"),
    ({"version": "blue"}, "no version of a card"),
    ({"paper": "a3"}, "is no paper"),
    ({"hours_valid": 0}, "valid for 1 to"),
])  # fmt: skip
def test_what_is_refused_writes_nothing(anywhere: Path, more: dict[str, object], words: str) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    before = Fact.objects.count()
    with pytest.raises(services.Refused, match=words):
        issue(**more)
    assert Fact.objects.count() == before


def test_one_joint_that_may_not_be_worked_on_stops_the_whole_pack(anywhere: Path) -> None:
    """The specification of the second says two torques; the first card was printed by then and nothing of it stays."""
    furnish("kn-cw-008", "kn-cw-009")
    before = Fact.objects.count()
    with pytest.raises(services.Refused, match=r"no card for KN-CW-009: .*overloads the fastener"):
        issue(joints=["KN-CW-008", "KN-CW-009"])
    assert Fact.objects.count() == before and not services.joint("KN-CW-008").cards


def test_versions_differ_where_they_should(anywhere: Path) -> None:
    furnish("kn-cw-008")
    cards = {v: services.issue_card("KN-CW-008", "a4", AUTHOR, version=v)[1] for v in ("plain", "large", "clean room")}
    sizes = {v: len(text_of(pdf)) for v, pdf in cards.items()}
    assert sizes["large"] >= sizes["plain"] == sizes["clean room"]
    kept = {f.data["version"] for f in Fact.objects.filter(kind="card")}
    assert kept == {"plain", "large", "clean room"}
    with pytest.raises(services.Refused, match="no version of a card"):
        services.issue_card("KN-CW-008", "a4", AUTHOR, version="blue")


def test_a_form_sent_twice_issues_once_and_the_file_is_backed_up(anywhere: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    first, pdf = issue(once="form-1234567")
    assert issue(once="form-1234567") == (first, pdf)
    (fact,) = Fact.objects.filter(kind="work pack")
    assert NAMES_FILE["work pack"] in fact.data


def test_the_page(anywhere: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    client = Client(HTTP_HOST="127.0.0.1")
    client.post("/who/", {"name": "D. Ashgrove"})
    form = {"joints": "KN-CW-014\nKN-CW-008", "crew": "Crew Brindle", "shift": "night", "paper": "us-letter",
            "version": "large", "spares": "0", "hours": "24"}  # fmt: skip
    wrong = client.post("/packs/", form | {"hours": "many"})
    assert wrong.status_code == 400 and "is not a whole number" in wrong.content.decode()
    assert "Crew Brindle" in wrong.content.decode()
    unknown = client.post("/packs/", form | {"joints": "KN-CW-777"})
    assert unknown.status_code == 400 and not Fact.objects.filter(kind="card").exists()
    assert client.post("/packs/", form).status_code == 302
    page = client.get("/packs/").content.decode()
    (row,) = services.packs()
    assert row.serial in page and row.version == "large" and row.paper == "us-letter"
    answer = client.get(f"/packs/{row.serial}.pdf")
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
    assert client.get("/packs/PACK-0000-00.pdf").status_code == 404
