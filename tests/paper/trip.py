"""A card of the scenario printed, filled in by a drawn hand, and put into the file of a scanner."""

from __future__ import annotations

import numpy as np

from bench.aged.filling import drawn, rendered, with_pen
from bench.aged.hands import Hand, digit, tick
from evenpull.card.payload import PageData, read_page_data
from evenpull.store import services
from evenpull.store.models import Fact
from tests.scan.pages import as_file, at_dpi

PEN = Hand(0.5, 0.9, 0.1, 0.06, 0.85, False, "check")
HEAD = {"pass_tool": "TW-0207", "pass_name": "J. Mwangale", "pass_start": "09:10", "pass_end": "09:40"}


def issued(joint: str, author: str) -> tuple[str, list[PageData], bytes]:
    """Serial, pages with their boxes, and the PDF of a card that is issued."""
    row, pdf = services.issue_card(joint, "a4", author)
    texts = Fact.objects.get(key=f"card:{row.serial}").data["places"]
    return row.serial, [read_page_data(one) for one in texts], pdf


def pass_pages(pages: list[PageData]) -> list[int]:
    """Numbers of the pages with rows of passes."""
    return [page.page for page in pages if any(box.field == "done" for box in page.boxes)]


def value_of(aim: float, fastener: int, decimals: int) -> str:
    """A value a little off what was aimed at, another one for each fastener."""
    return f"{aim * (1 + 0.004 * ((fastener * 7) % 5 - 2)):.{decimals}f}"


def filled(pdf: bytes, page: PageData, aim: float, *, without: tuple[int, ...] = (), dpi: int = 200) -> np.ndarray:
    """The picture of one page: every row ticked but those `without`, a value in each."""
    rng = np.random.default_rng(page.page)
    strokes = []
    for box in page.boxes:
        if box.fastener in without:
            continue
        if box.field == "done":
            strokes += tick(PEN.tick, box.rectangle, PEN, rng)
        elif box.field == "got":
            digits = value_of(aim, box.fastener, box.decimals).replace(".", "")
            for cell, character in zip(box.cells()[-len(digits) :], digits, strict=False):
                strokes += digit(character, cell, PEN, rng)
    paper = rendered(pdf)[page.page - 1]
    return at_dpi(drawn(paper, with_pen(strokes), PEN, rng), dpi)


def scanned(pictures: list[np.ndarray], form: str = "PDF") -> bytes:
    return as_file(pictures, form, **({"resolution": 200} if form == "PDF" else {}))
