"""Scans of cards: the file kept byte for byte, each page of it a fact of its joint, crops cut from the page as kept."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from typing import TYPE_CHECKING, Any

from evenpull.card.codes import CodeError
from evenpull.card.payload import PageData, read_page_data
from evenpull.card.serial import SerialError
from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.cards import same_serial
from evenpull.paper.page import Box, Page, box_of_plain, box_to_plain
from evenpull.store.models import Fact
from evenpull.store.services import facts, taking
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CARD, SCAN, SCANNED
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw, read_raw

if TYPE_CHECKING:
    from evenpull.scan.model import FileReading, ScannedPage


@dataclass(frozen=True)
class ScanRow:
    """A file that was dropped. `faults`: pictures that are no page, with reason and way out."""

    sha256: str
    name: str
    size: int
    at: datetime
    author: str
    pages: int
    faults: tuple[str, ...]
    already: bool = False


@dataclass(frozen=True)
class KeptPage:
    """One page of a scan. `joint` "" where the card was not issued here."""

    page: Page
    joint: str
    straight: str
    at: datetime
    by: str
    seq: int


def take_scan(name: str, data: bytes, author: str) -> ScanRow:
    """Read a dropped file and keep it with its pages; the identical file again changes nothing (`already`).

    Refused when not one page of a card could be read: then nothing is kept, and the reasons say what to do.
    """
    who, name = checked_author(author), taking.called(name)
    sha256 = hashlib.sha256(data).hexdigest()
    if (there := Fact.objects.filter(key=f"{SCAN}:{sha256}").first()) is not None:
        return _row(there, already=True)
    reading = _read(name, data)
    if not reading.pages:
        raise Refused(". ".join(("; ".join(map(str, reading.faults)) or f"{name} holds no page", "Nothing was kept.")))
    straight = [keep_raw(_png(page)) for page in reading.pages]
    keep_raw(data)
    with writing():
        if (there := Fact.objects.filter(key=f"{SCAN}:{sha256}").first()) is not None:  # another one was faster
            return _row(there, already=True)
        body = {
            "what": f"scan {name}: {len(reading.pages)} pages of cards, {len(reading.faults)} not read",
            "sha256": sha256, "name": name, "size": len(data), "pages": len(reading.pages),
            "faults": [str(fault) for fault in reading.faults],
        }  # fmt: skip
        new = [New(SCAN, f"{SCAN}:{sha256}", body)]
        new += [_page_fact(sha256, page, sha) for page, sha in zip(reading.pages, straight, strict=True)]
        append(new, who)
    return _row(Fact.objects.get(key=f"{SCAN}:{sha256}"))


def _read(name: str, data: bytes) -> FileReading:
    """Reading needs the extra `scan`. Refused, with how to install it, where that is not there."""
    try:
        read = import_module("evenpull.scan.read")
    except ImportError as error:
        raise Refused(f"{error} Nothing was kept.") from error
    found: FileReading = read.read_scan(data, name, known=_places_on_record)
    return found


def _png(page: ScannedPage) -> bytes:
    out = io.BytesIO()
    import_module("PIL.Image").fromarray(page.straight).save(out, "PNG")
    return out.getvalue()


def _places_on_record(serial: str, content: str, page: int) -> PageData | None:
    """The boxes of a page whose places are torn off, as the card was issued."""
    fact = card_fact(serial)
    texts = [] if fact is None else fact.data.get("places", [])
    if fact is None or fact.data["fingerprint"] != content or not 1 <= page <= len(texts):
        return None
    try:
        return read_page_data(texts[page - 1])
    except (CodeError, SerialError):  # written by another version; the fault of the page says the way out
        return None


def card_fact(serial: str) -> Fact | None:
    """The fact of an issued card, whatever the capitals."""
    fact = Fact.objects.filter(key=f"{CARD}:{serial}").first()
    if fact is not None:
        return fact
    own = facts.of_joint(joint_of(serial), CARD)
    return next((f for f in own if same_serial(f.data["serial"]) == same_serial(serial)), None)


def joint_of(serial: str) -> str:
    """The joint that a serial names: what stands before its token and its check digits."""
    return serial.rpartition("-")[0].rpartition("-")[0]


def _page_fact(sha256: str, page: ScannedPage, straight: str) -> New:
    card = card_fact(page.serial)
    boxes = [
        box_to_plain(Box(
            b.place.field, b.place.fastener, b.place.line, b.place.whole, b.place.decimals, b.state or "", b.reason,
            (b.crop.left, b.crop.top, b.crop.right, b.crop.bottom), tuple(x for at in b.crop.corners for x in at),
        ))
        for b in page.boxes
    ]  # fmt: skip
    body = {
        "what": f"page {page.page} of card {page.serial}", "scan": sha256, "picture": page.picture,
        "serial": page.serial, "content": page.content, "page": page.page, "pages": page.pages,
        "unit": page.data.unit, "straight_sha256": straight, "misfit_mm": round(page.misfit, 2), "boxes": boxes,
    }  # fmt: skip
    return New(SCANNED, f"{SCANNED}:{sha256}:{page.picture}", body, "" if card is None else card.joint)


def _row(fact: Fact, *, already: bool = False) -> ScanRow:
    b = fact.data
    return ScanRow(b["sha256"], b["name"], b["size"], read_moment(fact.received_at), fact.author, b["pages"],
                   tuple(b["faults"]), already)  # fmt: skip


def scans(most: int = 50) -> list[ScanRow]:
    """The files that were dropped, the newest first."""
    return [_row(fact) for fact in Fact.objects.filter(kind=SCAN).order_by("-seq")[:most]]


def kept_page(scan: str, picture: int) -> KeptPage:
    """Unknown when there is none."""
    fact = Fact.objects.filter(key=f"{SCANNED}:{scan}:{picture}").first()
    if fact is None:
        raise Unknown(f"no picture {picture} of a scan {scan[:16]!r} is kept here")
    return page_of(fact)


def page_of(fact: Fact) -> KeptPage:
    b: dict[str, Any] = fact.data
    boxes = tuple(map(box_of_plain, b["boxes"]))
    page = Page(b["scan"], b["picture"], b["serial"], b["content"], b["page"], b["pages"], b["unit"], boxes)
    return KeptPage(page, fact.joint, b["straight_sha256"], read_moment(fact.received_at), fact.author, fact.seq)


def pages_of(joint: str) -> list[KeptPage]:
    return [page_of(fact) for fact in facts.of_joint(joint, SCANNED)]


def all_pages(most: int) -> list[KeptPage]:
    """Pages of all cards, the newest first."""
    return [page_of(fact) for fact in Fact.objects.filter(kind=SCANNED).order_by("-seq")[:most]]


def older_pages(pages: Sequence[KeptPage]) -> list[KeptPage]:
    """Scanned pages of the joints of these that were kept before the first of them."""
    before, joints = min(one.seq for one in pages), {one.joint for one in pages}
    return [page_of(fact) for fact in facts.of_joints(joints, SCANNED) if fact.seq < before]


def crop_png(scan: str, picture: int, box: str) -> bytes:
    """The picture of one box. Unknown when there is none."""
    kept = kept_page(scan, picture)
    found = next((one for one in kept.page.boxes if one.name == box), None)
    if found is None:
        raise Unknown(f"page {kept.page.page} of card {kept.page.serial} has no box {box[:60]!r}")
    return _cut(read_raw(kept.straight), found.crop)


def _cut(png: bytes, crop: Iterable[int]) -> bytes:
    try:
        image = import_module("PIL.Image")
    except ImportError as error:
        raise Refused("showing a crop needs Pillow: pip install 'evenpull[scan]'") from error
    out = io.BytesIO()
    image.open(io.BytesIO(png), formats=("PNG",)).crop(tuple(crop)).save(out, "PNG")
    return out.getvalue()
