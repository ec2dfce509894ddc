"""Cards and signed reports that were given out: facts about them, and their bytes as kept."""

from __future__ import annotations

from evenpull.evidence.checkpoint import read_moment
from evenpull.store.models import Fact
from evenpull.store.services import facts
from evenpull.store.services.errors import Unknown
from evenpull.store.services.fact_kinds import CARD, RELEASE
from evenpull.store.services.place import read_raw
from evenpull.store.services.rows import CardRow, ReleaseRow


def issuer_of(fact: Fact) -> str:
    """Who issued a card: the author of its fact, or of a card carried in whom the dossier that issued it names."""
    return str(fact.data.get("carried", {}).get("by") or fact.author)


def _card(fact: Fact) -> CardRow:
    b = fact.data
    return CardRow(
        b["serial"],
        fact.joint,
        b["paper"],
        read_moment(b["issued_at"]),
        read_moment(b["valid_until"]),
        issuer_of(fact),
        b["fingerprint"],
        b["pdf_sha256"],
    )


def cards_of(joint_id: str) -> tuple[CardRow, ...]:
    """Cards issued for a joint, the first one first."""
    return tuple(_card(fact) for fact in facts.of_joint(joint_id, CARD))


def card_pdf(serial: str) -> bytes:
    """The card as it was issued, to the byte. Unknown when no such card was issued."""
    fact = Fact.objects.filter(key=f"{CARD}:{serial}").first()
    if fact is None:
        raise Unknown(f"no card {serial!r} was issued here")
    return read_raw(fact.data["pdf_sha256"])


def releases_of(joint_id: str) -> tuple[ReleaseRow, ...]:
    """Signed releases of a joint, the first one first."""
    rows = []
    for fact in facts.of_joint(joint_id, RELEASE):
        b = fact.data
        rows.append(
            ReleaseRow(
                str(fact.seq),
                joint_id,
                b["signed"]["state"],
                fact.author,
                read_moment(b["signed"]["signed_at"]),
                b["signed"]["statement"],
                b["report_sha256"],
                b["signed"]["specification"],
                b["signed"]["proof"],
                b["signed"].get("identity", ""),
            )
        )
    return tuple(rows)
