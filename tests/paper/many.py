"""Many scanned pages without reading many scans: their facts as `take_scan` would write them, from one real card."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from evenpull.card.payload import read_page_data
from evenpull.card.serial import make_serial
from evenpull.paper.page import Box, box_to_plain
from evenpull.store.models import Fact
from evenpull.store.services.fact_kinds import CARD, PAGE_KEYED, SCANNED
from evenpull.store.services.log import New, append, writing


@dataclass(frozen=True)
class Made:
    """A page that was written, by its card, its number and the name of its scan."""

    serial: str
    page: int
    scan: str


def pages(like: str, cards: int, author: str, *, first: int = 10_000, rescanned: int = 0) -> list[Made]:
    """Facts of `cards` cards like the issued one, and of every page of them; `rescanned` of the pages twice."""
    fact = Fact.objects.get(key=f"{CARD}:{like}")
    own = fact.data
    boxes = [
        [box_to_plain(Box(b.field, b.fastener, b.line, b.whole, b.decimals, "empty" if b.field == "done" else "", "",
                          (0, 0, 9, 9), (0.0,) * 8))
         for b in read_page_data(texts).boxes]
        for texts in own["places"]
    ]  # fmt: skip
    new, made = [], []
    for number in range(first, first + cards):
        serial = make_serial(fact.joint, number)
        new.append(New(CARD, f"{CARD}:{serial}", own | {"serial": serial}, fact.joint))
        for page in range(1, own["pages"] + 1):
            for copy in range(2 if len(made) < 2 * rescanned else 1):
                scan = sha256(f"{serial} {page} {copy}".encode()).hexdigest()
                body = {
                    "what": f"page {page} of card {serial}", "scan": scan, "picture": 1, "serial": serial,
                    "content": own["fingerprint"], "page": page, "pages": own["pages"], "unit": "N.m",
                    "straight_sha256": scan, "misfit_mm": 0.0, "boxes": boxes[page - 1],
                }  # fmt: skip
                new.append(New(SCANNED, f"{SCANNED}:{scan}:1", body, fact.joint))
                made.append(Made(serial, page, scan))
    with writing():
        append(new, author)
    return made


def keyed(some: list[Made], joint: str, author: str, number: int, text: str = "45") -> None:
    """Each of these pages keyed by this person, as the `number`-th: `text` in every box of a value."""
    new = []
    for one in some:
        boxes = Fact.objects.get(key=f"{SCANNED}:{one.scan}:1").data["boxes"]
        answers = {f"{b[0]}.{b[1]}.{b[2]}": ["written", text] if b[0] == "got" else ["empty", ""] for b in boxes}
        body = {"what": f"page {one.page} of card {one.serial} keyed", "scan": one.scan, "picture": 1,
                "serial": one.serial, "page": one.page, "answers": answers}  # fmt: skip
        new.append(New(PAGE_KEYED, f"{PAGE_KEYED}:{one.scan}:1:{number}", body, joint))
    with writing():
        append(new, author)
