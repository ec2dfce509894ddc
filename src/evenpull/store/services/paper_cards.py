"""What is known of cards that came back: which scan of a page counts, how far it is keyed, what the plan asks there.

Reading only; `paper_keying` writes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from functools import lru_cache

from evenpull.card.payload import read_page_data
from evenpull.paper.answer import Answer
from evenpull.paper.checks import NOTHING_ASKED, Asked, Window, page_notes, pass_notes, sum_notes
from evenpull.paper.cross import Crossed, Span, cross
from evenpull.paper.keying import KeyingError, PageState, refuse_keyer
from evenpull.paper.page import KEYED, Page
from evenpull.paper.records import CardFacts, span_of
from evenpull.plan import make_plan
from evenpull.plan.model import Plan, Specification
from evenpull.quantities.units import from_si
from evenpull.scan.keying_cost import KeyingCost, keying_cost
from evenpull.store.models import Fact
from evenpull.store.services import received, register
from evenpull.store.services.errors import Unknown
from evenpull.store.services.paper_admitting import refusals
from evenpull.store.services.paper_marks import Aside, counting, marks_of
from evenpull.store.services.paper_scans import KeptPage, all_pages, card_fact, older_pages, pages_of
from evenpull.store.services.paper_written import written_of

MOST = 500  # pages of one list


@dataclass(frozen=True)
class PageRow:
    """A scanned page and how far it is. `refused`: why it may not be keyed; `copy`: another scan of the page counts,
    also where a person set this one aside (`aside`); `written` how many of its rows are records, None where it has
    none to give."""

    kept: KeptPage
    state: PageState
    refused: str = ""
    copy: bool = False
    written: int | None = None
    aside: Aside | None = None


@dataclass(frozen=True)
class CardView:
    """All pages of a card that came back. `replaceable`: pages that count and may be set aside for another scan."""

    serial: str
    joint: str
    pages: int
    rows: tuple[PageRow, ...]
    missing: tuple[int, ...]
    notes: tuple[str, ...]
    crossed: Crossed | None
    cost: KeyingCost | None
    replaceable: tuple[PageRow, ...] = ()


def state_of(kept: KeptPage) -> PageState:
    return marks_of([kept]).state(kept.page)


def page_rows(joint: str = "") -> list[PageRow]:
    """The pages of a joint's cards, or the newest MOST of all cards, the newest first. The number of queries does not
    grow with the pages."""
    kept = pages_of(joint)[::-1] if joint else all_pages(MOST)
    if not kept:
        return []
    others = older_pages(kept) if len(kept) == MOST and not joint else []
    marks = marks_of(kept)
    count = {one.seq for one in counting([*kept, *others], marks).values()}
    refused, written = refusals(kept), written_of(kept)
    return [
        PageRow(one, marks.state(one.page), refused[one.seq], one.seq not in count, written.get(one.seq),
                aside=marks.aside_of(one.page))
        for one in kept
    ]  # fmt: skip


def keyable(row: PageRow, who: str) -> bool:
    """Whether this person may key the page."""
    try:
        refuse_keyer(row.kept.page, row.state.keyed, who)
    except KeyingError:
        return False
    return not row.copy and not row.refused


def card_view(serial: str) -> CardView:
    """Unknown when no page of it was scanned."""
    fact = card_fact(serial)
    joint = "" if fact is None else fact.joint
    rows = [row for row in page_rows(joint) if row.kept.page.serial.upper() == serial.upper()]
    if not rows:
        raise Unknown(f"no page of a card {serial[:60]!r} was scanned")
    rows.sort(key=lambda row: (row.kept.page.page, row.copy))
    pages = rows[0].kept.page.pages
    there = {row.kept.page.page for row in rows}
    first = [row for row in rows if not row.copy]
    spans = _spans(first)
    records = received.of_joint(joint).tightenings if joint else ()
    own = [r for r in records if r.card_line is None or r.card_line[0] == serial.upper()]
    crossed = cross(own, spans) if any(r.card_line for r in own) else None
    return CardView(serial, joint, pages, tuple(rows), tuple(n for n in range(1, pages + 1) if n not in there),
                    tuple(_card_notes(first, joint)), crossed, cost_of(r.kept.page for r in first),
                    tuple(_replaceable(rows)))  # fmt: skip


def _replaceable(rows: Sequence[PageRow]) -> Iterable[PageRow]:
    for row in rows:
        others = (o for o in rows if o is not row and o.kept.page.page == row.kept.page.page)
        if not row.copy and any(other.aside is None and not other.refused for other in others):
            yield row


def _spans(rows: Iterable[PageRow]) -> dict[tuple[str, int], Span]:
    found = {}
    for row in rows:
        for line in row.kept.page.passes:
            if (span := span_of(row.state, line)) is not None:
                found[row.kept.page.serial.upper(), line] = span
    return found


def _card_notes(rows: Iterable[PageRow], joint: str) -> Iterable[str]:
    """What two people read that does not fit: totals, windows, and the tag that was copied by hand at the joint."""
    there = [row for row in rows if row.state.stage == "proven"]
    sheets = [(row.kept.page, {name: one.answer for name, one in row.state.proven.items()}) for row in there]
    asks = asked_of([page for page, _ in sheets], joint)
    yield from whole_notes(sheets, asks)
    for (page, answers), ask in zip(sheets, asks, strict=True):
        for note in page_notes(page, answers, ask):
            yield f"page {page.page}{', ' + note.box if note.box else ''}: {note.text}"
        tag = answers.get("tag.0.0")
        if tag is not None and tag.state == "written" and tag.text.casefold() != joint.casefold():
            yield (f"page {page.page}: the tag copied by hand says {tag.text}, the card is for {joint}: was it the "
                   "right joint?")  # fmt: skip


def whole_notes(sheets: Sequence[tuple[Page, Mapping[str, Answer]]], asks: Sequence[Asked]) -> tuple[str, ...]:
    """Totals over several sheets: only of passes of which every row is on these sheets, each page given once. `asks`:
    what the plan asks of each, as of `asked_of`."""
    there: dict[int, int] = defaultdict(int)
    for page, _ in sheets:
        for line in page.passes:
            there[line] += sum(1 for box in page.boxes if box.field == "done")
    rows = {line: n for ask in asks for line, n in ask.rows.items()}
    whole = {line for line, n in there.items() if n == rows.get(line)}
    own = [one for one in sheets if whole.issuperset(one[0].passes)]
    summed = [one for one in own if all(box.field != "value_sum" or box.line in whole for box in one[0].boxes)]
    return (*pass_notes(own), *sum_notes(summed))


def cost_of(pages: Iterable[Page]) -> KeyingCost:
    """What stays wrong after keying these pages, by one person and by two."""
    return keying_cost(sum(len(page.to_key) for page in pages))


def cost_of_card(serial: str) -> KeyingCost | None:
    """The same for a card as it was printed, before anything is keyed; None where its places were not kept."""
    return cost_of_cards([serial])


def cost_of_cards(serials: Iterable[str]) -> KeyingCost | None:
    """The same for the cards of a pack; None where the places of one of them were not kept."""
    counts = [_to_key(card_fact(serial)) for serial in serials]
    return None if None in counts else keying_cost(sum(n for n in counts if n is not None))


def _to_key(fact: Fact | None) -> int | None:
    return None if fact is None or "places" not in fact.data else _boxes_to_key(tuple(map(tuple, fact.data["places"])))


@lru_cache(maxsize=2000)
def _boxes_to_key(places: tuple[tuple[str, ...], ...]) -> int:
    return sum(1 for texts in places for box in read_page_data(list(texts)).boxes if box.field in KEYED)


def _spec_of(joint: str, wanted: str) -> Specification:
    """The revision that the card was printed for."""
    now = register.specification(joint)
    for spec in (now, *register.earlier_specifications(joint)):
        if spec.digest == wanted:
            return spec
    return now


def _plan_of(serial: str, joint: str) -> Plan:
    fact = card_fact(serial)
    spec = _spec_of(joint, "" if fact is None else fact.data["specification"])
    today = datetime.now(UTC).date()
    return make_plan(spec, register.tools_in_force(today, spec.tools_allowed), today)


def asked_of(pages: Sequence[Page], joint: str) -> list[Asked]:
    """What the plan asks of each row of these pages of one card, in its unit; nothing where the joint is not known."""
    with_rows = [page for page in pages if page.passes]
    if not joint or not with_rows:
        return [NOTHING_ASKED] * len(pages)
    plan = _plan_of(with_rows[0].serial, joint)
    return [_asked(page, plan) for page in pages]


def _asked(page: Page, plan: Plan) -> Asked:
    found, rows = {}, {}
    for one in plan.passes:
        if one.number not in page.passes:
            continue
        rows[one.number] = sum(map(len, one.order))
        for box in page.boxes:
            if box.field == "got" and box.line == one.number and not one.check:
                low, high = one.window(box.fastener)
                values = (low, one.torque_of(box.fastener), high)
                found[one.number, box.fastener] = Window(*(
                    round(Decimal(from_si(value, page.unit)), max(1, box.decimals)) for value in values
                ))  # fmt: skip
    return Asked(found, rows)


def card_facts(kept: KeptPage) -> CardFacts:
    plan = _plan_of(kept.page.serial, kept.joint)
    lines = {
        (one.number, fastener): place
        for one in plan.passes
        for place, fastener in enumerate((f for group in one.order for f in group), start=1)
    }
    events = {one.number: "check pass" if one.check else "step" for one in plan.passes}
    return CardFacts(kept.page.serial, kept.joint, kept.page.unit, lines, events, "UTC")
