"""The work pack of a crew and shift, from the cards that are out and still valid. Writes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Literal

from evenpull.card.typesetting import TypesettingError
from evenpull.plan import make_plan
from evenpull.report.work_pack import VARIANTS, PackCard, PackJoint, work_pack
from evenpull.store.services import card_register, register
from evenpull.store.services.errors import Refused
from evenpull.store.services.releasing import PAPERS


def pack_pdf(joint_ids: Sequence[str], crew: str, shift: str, *, paper: str = "a4", variant: str = "plain") -> bytes:
    """Joints in the order of the walk. Of several valid cards of a joint the latest is to be used, the others are its
    spares. Refused for an unknown paper or variant, a joint twice, and a joint without a card that is out and valid."""
    if paper not in PAPERS or variant not in VARIANTS:
        raise Refused(f"{paper!r}, {variant!r}: papers are {', '.join(PAPERS)}, variants {', '.join(VARIANTS)}")
    if len({one.casefold() for one in joint_ids}) < len(joint_ids):
        raise Refused("a joint stands twice in the walk; name each once")
    now = datetime.now(UTC).replace(microsecond=0)
    joints = [_joint(one, now) for one in joint_ids]
    form: Literal["a4", "us-letter"] = "us-letter" if paper == "us-letter" else "a4"
    names = [" ".join(text.split())[:80] for text in (crew, shift)]
    if not all(names):
        raise Refused("say which crew and which shift the pack is for")
    try:
        return work_pack(joints, crew=names[0], shift=names[1], at=now, paper=form,
                         variant="large" if variant == "large" else "plain")  # fmt: skip
    except (ValueError, TypesettingError) as error:
        raise Refused(f"no work pack: {error}") from error


def _joint(joint_id: str, now: datetime) -> PackJoint:
    spec = register.specification(joint_id)
    plan = make_plan(spec, register.tools_in_force(now.date(), spec.tools_allowed), now.date())
    out = [one.card for one in card_register.of_joint(spec.id) if one.state == "out"]
    cards = [
        PackCard(card.serial, card.pages, card.valid_until, spare=card is not out[-1])
        for card in reversed(out)
    ]  # fmt: skip
    return PackJoint(plan, tuple(cards))
