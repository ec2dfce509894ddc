"""The checker's grid: a tick box for each fastener and pass, in blocks that never break over a page. Lengths in mm."""

from __future__ import annotations

from typing import Any

from evenpull.card.paper import Paper
from evenpull.plan.model import Plan

# Twenty columns: a fastener is found by its tens (121 to 140), and twenty boxes beside their label still fit A4.
BOX_WIDTH, BOX_HEIGHT, PER_BLOCK = 8.0, 8.5, 20
LARGE_WIDTH, LARGE_HEIGHT, LARGE_PER_BLOCK = 15.0, 13.0, 10  # the same tens, half of them in a line
FIVES = 1.5  # air after each five boxes
LABEL, HEAD = 21.0, 6.5
_SECTION_HEAD = 42.0  # heading and instruction above the first block, on the safe side


def grid_content(plan: Plan, on: Paper) -> dict[str, Any]:
    """All fasteners in number order by all passes, as plain data for the template.

    A pass has its name and percent and no setting: the sheets show one stage at a time, this one shows none.
    Passes that one page cannot hold follow in blocks of their own.
    """
    box = (LARGE_WIDTH, LARGE_HEIGHT) if on.large else (BOX_WIDTH, BOX_HEIGHT)
    per_block = LARGE_PER_BLOCK if on.large else PER_BLOCK
    most_rows = int((on.room[1] - _SECTION_HEAD - HEAD) // box[1])
    checks = [one.number for one in plan.passes if one.check]
    rows = []
    for one in plan.passes:
        name = f"pass {one.number}"
        if one.check:
            name = f"check {checks.index(one.number) + 1}" if len(checks) > 1 else "check"
        rows.append({"number": one.number, "name": name, "percent": "own values" if one.own else f"{one.percent:g} %"})
    fasteners = list(range(1, plan.spec.fasteners.count + 1))
    return {
        "box": list(box),
        "label": LABEL,
        "head": HEAD,
        "fives": FIVES,
        "count": len(fasteners),
        "passes": rows,
        "blocks": [
            {"fasteners": fasteners[left : left + per_block], "passes": rows[top : top + most_rows]}
            for left in range(0, len(fasteners), per_block)
            for top in range(0, len(rows), most_rows)
        ],
    }
