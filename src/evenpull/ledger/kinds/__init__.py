"""The table of entries: what can be stated, by which fields. Forms, commands, the HTTP interface and the documentation
are made from it; `check` is the only door.
"""

from __future__ import annotations

from evenpull.ledger.kinds.afterwards import AFTERWARDS
from evenpull.ledger.kinds.before_work import BEFORE_WORK
from evenpull.ledger.kinds.circumstances import CIRCUMSTANCES
from evenpull.ledger.kinds.decisions import DECISIONS
from evenpull.ledger.kinds.form import GATES, PARTS, YES_NO, Field, Form, Kind
from evenpull.ledger.kinds.lots import LOTS
from evenpull.ledger.kinds.people import PEOPLE
from evenpull.ledger.kinds.tools import TOOLS
from evenpull.ledger.kinds.work import WORK

GROUPS: dict[str, tuple[Kind, ...]] = {
    "before work": BEFORE_WORK, "work": WORK, "circumstances": CIRCUMSTANCES, "decisions": DECISIONS,
    "afterwards": AFTERWARDS, "tools": TOOLS, "people": PEOPLE, "lots": LOTS,
}  # fmt: skip
KINDS: dict[str, Kind] = {kind.name: kind for group in GROUPS.values() for kind in group}

__all__ = ["GATES", "GROUPS", "KINDS", "PARTS", "YES_NO", "Field", "Form", "Kind"]
