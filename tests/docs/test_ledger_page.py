"""docs/ledger.md and its drawing say what the table of transitions says."""

from __future__ import annotations

from evenpull.ledger.machine import STATES, TRANSITIONS
from tools import ledger_page


def test_page_and_drawing_are_made_from_the_table() -> None:
    assert ledger_page.PAGE.read_text(encoding="utf-8") == ledger_page.page(), "run: python tools/ledger_page.py"
    assert ledger_page.PICTURE.read_text(encoding="utf-8") == ledger_page.picture(), "run: python tools/ledger_page.py"


def test_the_drawing_shows_every_state_and_every_transition_by_its_number() -> None:
    drawing = ledger_page.picture()
    assert all(f">{state}</text>" in drawing for state in STATES)
    shown = [numbers for numbers in ledger_page.edges().values() if f">{numbers}</text>" in drawing]
    assert sorted(int(n) for numbers in shown for n in numbers.split(", ")) == list(range(1, len(TRANSITIONS) + 1))
