"""Job cards given out: one of a joint, or a work pack of many with the sheets that lead a crew through a shift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal

from evenpull.card import CardPDF, CardRefused, make_card, make_serial
from evenpull.card.pack import MOST_CARDS, PackCard, PackHead, bound, make_pack
from evenpull.card.paper import SIZES, VERSIONS, Version
from evenpull.card.typesetting import TypesettingError
from evenpull.equipment.issue import at_hand, not_fit, told
from evenpull.evidence import moment
from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.people import blocked
from evenpull.plan.model import Plan
from evenpull.store.models import Fact
from evenpull.store.services import fitting, judging, papers, register
from evenpull.store.services.around import entries_about
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CARD, PACK
from evenpull.store.services.guessing import refuse_fact
from evenpull.store.services.index import written_once
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw, read_raw
from evenpull.store.services.rows import CardRow

MOST_HOURS = 31 * 24
PAPERS = tuple(SIZES)
LONGEST = 80  # of the names of a crew and a shift
MOST_SPARES = 5


@dataclass(frozen=True)
class PackRow:
    """A work pack as it was given out. `cards` by stop; each of `spares` is one more card of a joint of the pack."""

    serial: str
    crew: str
    shift: str
    paper: str
    version: str
    issued_at: datetime
    valid_until: datetime
    author: str
    cards: tuple[tuple[str, str], ...]  # (joint, serial)
    spares: tuple[tuple[str, str], ...]
    pages: int


@dataclass(frozen=True)
class _Printed:
    joint: str
    plan: Plan
    card: CardPDF
    valid_until: datetime


def issue_card(
    joint_id: str, paper: str, author: str, tools: tuple[str, ...] | None = None, hours_valid: int = 48,
    version: str = "plain",
) -> tuple[CardRow, bytes]:
    """Issue a numbered card. Refused when the plan has a stop, a tool named is not fit for its pulls while the card is
    valid, no tool is, or the paper or its version is not known."""
    who = checked_author(author)
    form = _form(paper, version, hours_valid)
    barred = _not_fit(joint_id, tools, who, hours_valid)
    with writing():
        printed = _issue(joint_id, form, who, tools, barred, hours_valid)
    row = next(c for c in papers.cards_of(joint_id) if c.serial == printed.card.serial)
    return row, printed.card.pdf


def issue_pack(
    joints: Sequence[str], crew: str, shift: str, author: str, *, paper: str = "a4", version: str = "plain",
    spares: int = 0, hours_valid: int = 48, once: str = "",
) -> tuple[PackRow, bytes]:
    """Issue the cards of these joints, in walking order, with `spares` more of each and the sheets of the pack: all of
    it or nothing. Refused as `issue_card`, for a joint named twice, no joint, too many cards, a crew or shift without
    a name. `once`: a key of the caller's own."""
    who, names = checked_author(author), _names(crew, shift)
    form = _form(paper, version, hours_valid)
    if not 0 <= spares <= MOST_SPARES:
        raise Refused(f"0 to {MOST_SPARES} spare cards of each joint, not {spares}. Nothing was written.")
    ids = [register.specification(joint).id for joint in joints]
    if twice := next((one for n, one in enumerate(ids) if one in ids[:n]), None):
        raise Refused(f"{twice} is named twice; each joint is one stop of the walk. Nothing was written.")
    if not ids or len(ids) * (1 + spares) > MOST_CARDS:
        raise Refused(f"a pack holds 1 to {MOST_CARDS} cards with their spares, not {len(ids) * (1 + spares)}. "
                      "Nothing was written.")
    barred = {joint: _not_fit(joint, None, who, hours_valid) for joint in ids}
    with writing():
        if once and (before := written_once(once)) is not None:
            return _row(before), read_raw(before.data["pdf_sha256"])
        cards = [_issue(joint, form, who, None, barred[joint], hours_valid) for joint in ids]
        more = [_issue(joint, form, who, None, barred[joint], hours_valid) for joint in ids for _ in range(spares)]
        number = Fact.objects.filter(kind=PACK).count() + 1
        now = datetime.now(UTC).replace(microsecond=0)
        head = PackHead(make_serial("PACK", number), *names, who, now, *form)
        try:
            front = make_pack(head, [_pack_card(one) for one in cards], [_pack_card(one) for one in more])
        except TypesettingError as error:
            raise Refused(f"no work pack: {error}. Nothing was written.") from error
        pdf, pages = bound(front, [one.card.pdf for one in (*cards, *more)])
        body: dict[str, object] = {
            "serial": head.serial, "crew": head.crew, "shift": head.shift, "paper": paper, "version": version,
            "issued_at": moment(now), "valid_until": moment(min(one.valid_until for one in cards)), "pages": pages,
            "cards": [[one.joint, one.card.serial] for one in cards],
            "spares": [[one.joint, one.card.serial] for one in more], "pdf_sha256": keep_raw(pdf),
        }
        if once:
            body["once"] = once
        (fact,) = append([New(PACK, f"{PACK}:{head.serial}", body)], who)
    return _row(fact), pdf


def packs() -> tuple[PackRow, ...]:
    """Every work pack, the last one first."""
    return tuple(_row(fact) for fact in Fact.objects.filter(kind=PACK).order_by("-seq"))


def pack_pdf(serial: str) -> bytes:
    """The pack as it was given out, to the byte. Unknown when there is none of that serial."""
    fact = Fact.objects.filter(key=f"{PACK}:{serial}").first()
    if fact is None:
        raise Unknown(f"no work pack {serial!r} was issued here")
    return read_raw(fact.data["pdf_sha256"])


def _row(fact: Fact) -> PackRow:
    b = fact.data
    return PackRow(
        b["serial"], b["crew"], b["shift"], b["paper"], b["version"], read_moment(b["issued_at"]),
        read_moment(b["valid_until"]), fact.author, tuple((j, s) for j, s in b["cards"]),
        tuple((j, s) for j, s in b["spares"]), b["pages"],
    )  # fmt: skip


def _names(*names: str) -> list[str]:
    found = [" ".join(name.split()) for name in names]
    for what, name in zip(("crew", "shift"), found, strict=True):
        if not 2 <= len(name) <= LONGEST or not name.isprintable():
            raise Refused(f"say which {what} the pack is for: 2 to {LONGEST} characters. Nothing was written.")
    return found


def _form(paper: str, version: str, hours_valid: int) -> tuple[Literal["a4", "us-letter"], Version]:
    if paper not in PAPERS:
        raise Refused(f"{paper!r} is no paper; there are: {', '.join(PAPERS)}")
    known = next((one for one in VERSIONS if one == version), None)
    if known is None:
        raise Refused(f"{version!r} is no version of a card; there are: {', '.join(VERSIONS)}")
    if not 1 <= hours_valid <= MOST_HOURS:
        raise Refused(f"a card is valid for 1 to {MOST_HOURS} hours, not {hours_valid}")
    return "us-letter" if paper == "us-letter" else "a4", known


def _issue(
    joint_id: str, form: tuple[Literal["a4", "us-letter"], Version], who: str, tools: tuple[str, ...] | None,
    barred: dict[str, str], hours_valid: int,
) -> _Printed:
    """Print one card and write that it was; call inside `writing()`."""
    plan = judging.joint(joint_id).plan
    serial = _free_serial(joint_id)
    now = datetime.now(UTC).replace(microsecond=0)
    until = now + timedelta(hours=hours_valid)
    table = fitting.table_of(plan, now.date(), until.date(), others=False)
    paper, version = form
    plan = told(plan, table)
    try:
        card = make_card(
            plan, serial=serial, paper=paper, version=version, issued_at=now, valid_until=until, tools=tools,
            not_fit=barred | not_fit(table),
        )
    except (CardRefused, TypesettingError) as error:
        hand = at_hand(fitting.table_of(plan, now.date(), until.date())) if table.refused else ()
        raise Refused(". ".join((f"no card for {joint_id}: {error}", *hand))) from error
    body = {
        "serial": serial,
        "paper": paper,
        "version": version,
        "issued_at": moment(now),
        "valid_until": moment(until),
        "fingerprint": card.fingerprint,
        "payload": card.payload,
        "pages": card.pages,
        "places": [list(page.texts()) for page in card.places],
        "tools": list(card.tools),
        "lines": sum(len(pull.fasteners) for pull in plan.pulls),
        "specification": plan.spec.digest,
        "pdf_sha256": keep_raw(card.pdf),
    }
    append([New(CARD, f"{CARD}:{serial}", body, joint_id)], who)
    return _Printed(joint_id, plan, card, until)


def _free_serial(joint_id: str) -> str:
    """The next serial of this joint that no card bears, issued here or carried in."""
    number = Fact.objects.filter(kind=CARD).count() + 1
    while Fact.objects.filter(key=f"{CARD}:{make_serial(joint_id, number)}").exists():
        number += 1
    return make_serial(joint_id, number)


def _pack_card(one: _Printed) -> PackCard:
    card = one.card
    return PackCard(one.plan, card.serial, card.fingerprint, card.pages, card.tools, one.valid_until)


def _not_fit(joint_id: str, tools: tuple[str, ...] | None, who: str, hours_valid: int) -> dict[str, str]:
    """Serial -> why a tool may not stand on a card now: blocked, dropped or outside its limits, or not fit for the
    pulls of the plan while the card is valid. Refused, and put on record, when one that was asked for is among them, or
    when none is left."""
    now = datetime.now(UTC)
    allowed = register.specification(joint_id).tools_allowed
    days = now.date(), (now + timedelta(hours=hours_valid)).date()
    found = not_fit(fitting.table(joint_id, *days, others=False))
    for serial in dict.fromkeys((*(tools or ()), *allowed)):
        if why := blocked(entries_about("tool", serial), now, now):
            found[serial] = why
    asked = tuple(serial for serial in tools or allowed if serial in found)
    if not asked or (tools is None and len(asked) < len(allowed)):
        return found
    said = "; ".join(f"{serial}: {found[serial]}" for serial in sorted(asked))
    with writing():
        refuse_fact(f"no card of {joint_id} for {who}: {said}", who, joint_id)
    hand = ". ".join(at_hand(fitting.table(joint_id, *days)))
    raise Refused(f"no card for {joint_id}: {said}. {hand}. The attempt stands in the log; no card was written.")
