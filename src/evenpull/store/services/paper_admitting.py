"""Whether scanned pages may be keyed, by what the log says of their cards now. Reading only, many pages at once."""

from __future__ import annotations

from collections.abc import Iterable

from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.cards import CardStanding, same_serial
from evenpull.paper.admission import OnRecord, refused_at_reading
from evenpull.store.models import Fact
from evenpull.store.services import card_register, facts
from evenpull.store.services.fact_kinds import CARD, CARD_ADMITTED, SPECIFICATION
from evenpull.store.services.paper_scans import KeptPage, joint_of


def on_record(serial: str) -> OnRecord | None:
    """The card as it was issued, with what the register says of it now."""
    return _on_record([serial]).get(serial)


def refusals(pages: Iterable[KeptPage]) -> dict[int, str]:
    """Place of each page -> why it may not be keyed, "" when it may."""
    given = list(pages)
    cards = _on_record(kept.page.serial for kept in given)
    in_force = _in_force(kept.joint for kept in given)
    return {kept.seq: _refusal(kept, cards, in_force) for kept in given}


def refusal(kept: KeptPage) -> str:
    """Why a page may not be keyed, "" when it may."""
    return refusals([kept])[kept.seq]


def _refusal(kept: KeptPage, cards: dict[str, OnRecord], in_force: dict[str, tuple[str, str]]) -> str:
    page = kept.page
    card = cards.get(page.serial)
    if card is not None and not kept.joint:
        return (f"card {page.serial} was not known here when this page was read: scan the paper again and drop the "
                "new file")  # fmt: skip
    digest, revision = in_force.get(facts.fold(kept.joint), ("", ""))
    return refused_at_reading(card, serial=page.serial, content=page.content, in_force=digest, revision=revision,
                              read_at=kept.at)  # fmt: skip


def _in_force(joints: Iterable[str]) -> dict[str, tuple[str, str]]:
    """Fold -> digest and name of the revision in force."""
    found = {}
    for fact in facts.of_joints(set(joints), SPECIFICATION):  # the last one stays
        b = fact.data
        found[facts.fold(fact.joint)] = b["digest"], f"{b['document']} revision {b['revision']}"
    return found


def _on_record(serials: Iterable[str]) -> dict[str, OnRecord]:
    wanted = set(serials)
    cards: dict[str, Fact] = {}
    for fact in facts.by_key(f"{CARD}:{serial}" for serial in wanted):
        cards[fact.key.removeprefix(f"{CARD}:")] = fact
    if missing := wanted - cards.keys():  # not issued here, or written with other capitals
        others = facts.of_joints({joint_of(serial) for serial in missing}, CARD)
        known = {same_serial(fact.data["serial"]): fact for fact in others}
        cards |= {serial: known[same_serial(serial)] for serial in missing if same_serial(serial) in known}
    own = list({fact.seq: fact for fact in cards.values()}.values())
    said = {one.card.serial: one for one in card_register.of_cards(own)}
    admitted = {f.data["serial"]: f.data["why"] for f in facts.by_key(f"{CARD_ADMITTED}:{s}" for s in said)}
    return {serial: _card(fact, said, admitted) for serial, fact in cards.items()}


def _card(fact: Fact, said: dict[str, CardStanding], admitted: dict[str, str]) -> OnRecord:
    b = fact.data
    standing = said[b["serial"]]
    return OnRecord(
        b["serial"], b["fingerprint"], b["pages"], b["specification"], read_moment(b["valid_until"]),
        standing.since if standing.state == "returned" else None,
        standing.state if standing.state in ("void", "unused") else "", admitted.get(b["serial"], ""),
    )  # fmt: skip
