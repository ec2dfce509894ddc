"""The register of printed cards: issued, back, void, not found, missing; of one joint and of the whole dossier."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.cards import LOST, RETURNED, CardStanding, Issued, same_serial, standing
from evenpull.ledger.entry import Entry
from evenpull.store.models import Fact, Mention
from evenpull.store.services import facts
from evenpull.store.services.around import entry_of
from evenpull.store.services.fact_kinds import CARD, ENTRY, RECORD, SCANNED
from evenpull.store.services.index import name_of
from evenpull.store.services.papers import issuer_of

ON_A_PAGE = 50
LOOKED_AT = 1_000  # cards looked through for one page of a state


@dataclass(frozen=True)
class Stranger:
    """A serial that a record or entry names and that was never printed here. `seqs`: facts that name it."""

    serial: str
    joint: str
    seqs: tuple[int, ...]


@dataclass(frozen=True)
class CardPage:
    """`issued` counts all cards of the dossier; `before` continues the list, None at its end."""

    rows: tuple[CardStanding, ...]
    issued: int
    before: int | None


def _issued(fact: Fact) -> Issued:
    b = fact.data
    return Issued(
        b["serial"], fact.joint, issuer_of(fact), read_moment(b["issued_at"]), read_moment(b["valid_until"]),
        b["pages"], b.get("lines"), b.get("carried", {}).get("dossier", ""),
    )  # fmt: skip


def _typed(serials: Iterable[str]) -> dict[str, int]:
    """Serial as compared -> how many of its lines are records; a line typed twice counts once."""
    names = sorted({name_of(serial) for serial in serials})
    lines: dict[str, set[str]] = {same_serial(name): set() for name in names}
    for some in facts.parts(names):
        marks = Mention.objects.filter(kind="card", name__in=some)
        named = dict(marks.values_list("seq", "name"))
        for fact in Fact.objects.filter(seq__in=marks.values("seq"), kind=RECORD):
            line = (fact.data.get("particulars") or {}).get("card_line")
            lines[same_serial(named[fact.seq])].add(str(line[0]) if line else f"fact {fact.seq}")
    return {serial: len(found) for serial, found in lines.items() if found}


def _standings(cards: Sequence[Fact], entries: Sequence[Entry]) -> tuple[CardStanding, ...]:
    issued, now = [_issued(fact) for fact in cards], datetime.now(UTC)
    typed = _typed(card.serial for card in issued)
    by_joint: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_joint[facts.fold(entry.name)].append(entry)
    scanned = _scanned({card.joint for card in issued})
    return tuple(
        standing(card, by_joint[facts.fold(card.joint)], typed.get(same_serial(card.serial), 0), now,
                 scanned[same_serial(card.serial)]) for card in issued
    )  # fmt: skip


def _scanned(joints: Iterable[str]) -> dict[str, set[int]]:
    """Serial as compared -> the pages of it that were scanned."""
    found: dict[str, set[int]] = defaultdict(set)
    for fact in facts.of_joints(joints, SCANNED):
        found[same_serial(fact.data["serial"])].add(fact.data["page"])
    return found


def of_joint(joint_id: str) -> tuple[CardStanding, ...]:
    """The cards of one joint, the first one first."""
    entries = [entry_of(fact) for fact in facts.of_joint(joint_id, ENTRY)]
    return _standings(facts.of_joint(joint_id, CARD), entries)


def of_cards(cards: Sequence[Fact]) -> tuple[CardStanding, ...]:
    """What each of these cards, given by their facts, is now; a constant number of queries."""
    return _standings(cards, _entries_on(cards))


def strangers(joint_id: str) -> tuple[Stranger, ...]:
    """Serials that records and entries of this joint name and that were not printed for it."""
    known = {same_serial(fact.data["serial"]) for fact in facts.of_joint(joint_id, CARD)}
    named: dict[str, list[int]] = defaultdict(list)
    for seq, name in Mention.objects.filter(kind="card", fold=facts.fold(joint_id)).values_list("seq", "name"):
        named[same_serial(name)].append(seq)
    for fact in facts.of_joint(joint_id, ENTRY):
        if fact.data["kind"] in (RETURNED, LOST):
            named[same_serial(fact.data["values"]["card"])].append(fact.seq)
    return tuple(
        Stranger(serial, joint_id, tuple(sorted(seqs))) for serial, seqs in sorted(named.items()) if serial not in known
    )


def page(state: str = "", before: int | None = None) -> CardPage:
    """Cards of the dossier, the newest first: all, those in a state, or ("open") the open items. Of a state at most
    LOOKED_AT cards are looked through at once; `before` goes on from there."""
    found = Fact.objects.filter(kind=CARD).order_by("-seq")
    issued = found.count()
    if before is not None:
        found = found.filter(seq__lt=before)
    most = LOOKED_AT if state else ON_A_PAGE
    cards = list(found[: most + 1])
    rows: list[CardStanding] = []
    last = None
    for begin in range(0, min(len(cards), most), ON_A_PAGE):
        some = cards[begin : min(begin + ON_A_PAGE, most)]
        rows += [one for one in _standings(some, _entries_on(some)) if _is(one, state)]
        last = some[-1].seq
        if len(rows) >= ON_A_PAGE:
            break
    more = last is not None and cards[-1].seq < last
    return CardPage(tuple(rows), issued, last if more else None)


def _is(one: CardStanding, state: str) -> bool:
    return not state or one.state == state or (state == "open" and bool(one.open))


def _entries_on(cards: Sequence[Fact]) -> list[Entry]:
    """Entries about cards, of the joints of these cards."""
    folds = sorted({facts.fold(card.joint) for card in cards})
    marks = Mention.objects.filter(kind="entry", name__in=[RETURNED, LOST], fold__in=folds)
    return [entry_of(fact) for fact in facts.by_seq(marks.values_list("seq", flat=True))]


def out_of(joint_id: str) -> tuple[str, ...]:
    """Serials of the cards of a joint that are not back, for a signature to name them."""
    return tuple(one.card.serial for one in of_joint(joint_id) if one.out)
