"""A tool that is blocked gets no card, and the attempt stands on record."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenpull.store import services
from evenpull.store.services import audit
from tests.store.samples import AUTHOR, JOINT, furnish


def test_a_blocked_tool_gets_no_card_and_the_attempt_is_kept(anywhere: Path) -> None:
    furnish()
    allowed = services.specification(JOINT).tools_allowed
    for serial in allowed:
        services.add_entry("tool blocked", serial, {}, "V. Sunde-Farrow", reason="as found outside its limits")
    with pytest.raises(services.Refused, match="blocked since"):
        services.issue_card(JOINT, "a4", AUTHOR)
    assert services.joint(JOINT).cards == ()
    (row,) = audit.listed("kind", "refusal").rows
    assert row.author == AUTHOR and allowed[0] in row.what and "as found outside" in row.what
    for serial in allowed:
        services.add_entry("tool unblocked", serial, {"evidence": "KNC-26-0999"}, "V. Sunde-Farrow", reason="adjusted")
    card, _ = services.issue_card(JOINT, "a4", AUTHOR)
    assert services.joint(JOINT).cards[0].serial == card.serial


def test_only_the_others_are_on_the_card(dossier: Path) -> None:
    furnish("kn-cw-014")
    allowed = services.specification("KN-CW-014").tools_allowed
    assert len(allowed) > 1
    services.add_entry("tool blocked", allowed[0], {}, "V. Sunde-Farrow", reason="dropped from the gallery")
    with pytest.raises(services.Refused, match=allowed[0]):
        services.issue_card("KN-CW-014", "a4", AUTHOR, tools=(allowed[0],))
    row, pdf = services.issue_card("KN-CW-014", "a4", AUTHOR)
    assert row.serial and pdf.startswith(b"%PDF")
