"""Many scanned pages: the number of queries does not grow with them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from evenpull.store.services import paper_cards, paper_keying, paper_scans
from tests.paper import many, trip
from tests.store.samples import AUTHOR, JOINT, furnish
from tests.store.test_paper import ANNA, BELA, CORA


def queries(act: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as found:
        act()
    return len(found)


def test_lists_and_keying_ask_as_often_for_many_pages_as_for_few(anywhere: Path) -> None:
    furnish()
    like, _, _ = trip.issued(JOINT, AUTHOR)
    client = Client(HTTP_HOST="127.0.0.1")
    client.post("/who/", {"name": CORA})
    asked: dict[str, list[int]] = {"rows": [], "page": [], "key": []}
    listed = []
    for first, cards in ((10_000, 2), (20_000, 12)):
        made = many.pages(like, cards, AUTHOR, first=first)
        many.keyed(made[:-1], JOINT, ANNA, 1)
        many.keyed(made[: len(made) // 2], JOINT, BELA, 2)
        kept = paper_scans.kept_page(made[-1].scan, 1)
        said = {box.name: ("empty", "") for box in kept.page.to_key}
        rows = paper_cards.page_rows()
        listed.append(len(rows))
        asked["rows"].append(queries(paper_cards.page_rows))
        asked["page"].append(queries(lambda: client.get("/paper/")))
        asked["key"].append(queries(lambda: paper_keying.key_page(kept.page.scan, 1, said, BELA)))  # noqa: B023
        assert {row.state.stage for row in rows} == {"nobody", "one", "proven"}
    assert listed[1] > 5 * listed[0]
    for name, (few, more) in asked.items():
        assert more <= few, (name, asked)
    assert asked["rows"][1] <= 12 and asked["page"][1] <= 20 and asked["key"][1] <= 60, asked


def test_of_two_scans_that_keyed_first_counts_however_many_pages_came_since(
    anywhere: Path, monkeypatch: object
) -> None:
    furnish()
    like, _, _ = trip.issued(JOINT, AUTHOR)
    made = many.pages(like, 1, AUTHOR, rescanned=1)
    old, new = made[:2]
    assert (old.serial, old.page) == (new.serial, new.page)
    rows = {row.kept.page.scan: row.copy for row in paper_cards.page_rows()}
    assert rows[old.scan] and not rows[new.scan]  # nobody keyed: the latest
    many.keyed([old], JOINT, ANNA, 1)
    shown = len(made) - 1  # the list ends before the scan that counts
    monkeypatch.setattr(paper_cards, "MOST", shown)  # type: ignore[attr-defined]
    rows = {row.kept.page.scan: row.copy for row in paper_cards.page_rows()}
    assert old.scan not in rows and rows[new.scan]
