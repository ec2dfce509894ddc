"""docs/proof-rules.md says the same as the code."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

from evenpull.proof import actions, compare, rules
from evenpull.proof.model import Action, FlagCode

DOC = Path(__file__).parents[2] / "docs" / "proof-rules.md"


def _table(heading: str) -> list[tuple[str, ...]]:
    """Rows of the first table below a heading, without its head."""
    lines = DOC.read_text(encoding="utf-8").split(f"\n## {heading}\n", 1)[1].splitlines()
    rows: list[tuple[str, ...]] = []
    for line in lines:
        if line.startswith("|"):
            rows.append(tuple(cell.strip() for cell in line.strip("|").split("|")))
        elif rows:
            break
    return rows[2:]


def test_table_of_flags():
    assert _table("Flags") == [tuple(row) for row in rules.table_rows()]


def test_table_of_actions():
    assert _table("Dispositions") == [(action, actions.ACTION_MEANING[action]) for action in actions.ACTIONS]


def test_table_of_reason_codes():
    assert _table("Comparison with the source's own result") == list(compare.MEANING.items())


def test_every_code_has_a_rule():
    assert set(rules.RULES) == set(get_args(FlagCode))
    assert set(actions.ACTIONS) == set(get_args(Action))
