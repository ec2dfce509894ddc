"""A card that came back as scans: what is missing of it is an open item."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from evenpull.ledger.cards import Issued, standing

NOW = datetime(2026, 3, 18, 12, tzinfo=UTC)
CARD = Issued("KN-CW-014-0001-26", "KN-CW-014", "M. Okonjo-Reyes", NOW - timedelta(hours=30), NOW + timedelta(hours=18),
              4, 16)  # fmt: skip


@pytest.mark.parametrize(("scanned", "words"), [
    (frozenset({1, 2, 3, 4}), "4 of its 4 pages were scanned, and that it is back was not entered"),
    (frozenset({2, 3}), "2 of its 4 pages were scanned, and that it is back was not entered; pages 1, 4 not among"),
    (frozenset({1, 2, 3}), "page 4 not among its scans"),
])  # fmt: skip
def test_a_card_of_which_only_some_pages_were_scanned_is_open(scanned: frozenset[int], words: str) -> None:
    found = standing(CARD, [], 8, NOW, scanned)
    assert words in found.open and found.out


def test_without_scans_nothing_changes() -> None:
    assert standing(CARD, [], 0, NOW).open == ""
    assert "typed in, and the paper is not back" in standing(CARD, [], 8, NOW).open
    late = NOW + timedelta(hours=20)
    assert "and not back" in standing(CARD, [], 8, late).open
