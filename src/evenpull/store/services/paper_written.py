"""Which records were written from scanned pages: counted for lists, and named where a page shall no longer count."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evenpull.intake import Tightening
from evenpull.intake.withdrawn import Withdrawal
from evenpull.ledger.cards import same_serial
from evenpull.paper.page import Page
from evenpull.store.models import Fact, Mention, Pull
from evenpull.store.services import facts, readings, received, register
from evenpull.store.services.fact_kinds import RECORD
from evenpull.store.services.index import name_of
from evenpull.store.services.paper_scans import KeptPage


def _mark(page: Page) -> str:
    """How the records of a page begin to cite it (`paper.records`)."""
    return f"{page.scan} picture {page.picture} box "


def written_of(pages: Iterable[KeptPage]) -> dict[int, int]:
    """Place of each page with rows -> how many of them are records that count. By the index of the records of these
    cards, so that the number of queries does not grow with the pages."""
    rows = {_mark(one.page): one.seq for one in pages if one.joint and one.page.passes}
    found = dict.fromkeys(rows.values(), 0)
    names = {name_of(one.page.serial) for one in pages if one.seq in found}
    for some in facts.parts(sorted(names)):
        seqs = Mention.objects.filter(kind="card", name__in=some).values("seq")
        lost: set[int] = set()
        if readings.are_some():
            gone = Pull.objects.filter(seq__in=seqs, file__in=readings.withdrawn_places())
            lost = set(gone.values_list("seq", flat=True))
        for fact in Fact.objects.filter(seq__in=seqs, kind=RECORD):
            image, sign, _ = _image(fact.data.get("particulars") or {}).partition(" box ")
            if sign and fact.seq not in lost and (place := rows.get(f"{image}{sign}")) is not None:
                found[place] += 1
    return found


def _image(particulars: dict[str, list[str]]) -> str:
    return str(particulars.get("page_image", [""])[0])


def resting_on(kept: KeptPage) -> list[Tightening]:
    """Records that count and rest on what was keyed from this page: those of its rows, of later sheets of a pass whose
    head stands on it, and of the whole card where it says which unit of a series it was."""
    page = kept.page
    heads = {box.line for box in page.boxes if box.field == "pass_tool"}
    unit = page.box("series") is not None and bool(register.specification(kept.joint).series)
    return [
        row for row in _scanned(received.of_joint(kept.joint).tightenings, page.serial)
        if unit or row.pass_number in heads or row.particulars["page_image"].text.startswith(_mark(page))
    ]  # fmt: skip


def _scanned(rows: Iterable[Tightening], serial: str) -> Iterator[Tightening]:
    for row in rows:
        line = row.card_line
        if "page_image" in row.particulars and line is not None and same_serial(line[0]) == same_serial(serial):
            yield row


def withdrawn_from(kept: KeptPage) -> Withdrawal | None:
    """The last withdrawal of a reading that gave records of this page, where none of it counts now."""
    held = received.of_joint(kept.joint)
    mark = _mark(kept.page)

    def of_page(rows: Iterable[Tightening]) -> bool:
        return any(row.particulars["page_image"].text.startswith(mark) for row in _scanned(rows, kept.page.serial))

    if of_page(held.tightenings):
        return None
    return next((one.withdrawal for one in reversed(held.lost) if of_page(one.records)), None)
