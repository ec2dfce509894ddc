"""The card of a joint whose thread is not stated says so and shows no load."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.card import make_card, make_serial
from evenpull.plan import make_plan, read_specification, read_tools
from tests.card.plans import ISSUED, UNTIL
from tests.card.printed_cards import pages_of
from tests.plan.files import IN_NUTS, TOOLS, changed

OPEN = changed(
    IN_NUTS, ('length = "110 mm"', 'length = "not stated"'), ('head = "hexagon"', 'head = "not stated"'),
    ('condition = "new"', 'condition = "not stated"'), ("washer_under_head = true", 'washer_under_head = "not stated"'),
    ("washer_under_nut = true", 'washer_under_nut = "not stated"'), ('thickness = "30 mm"', 'thickness = "not stated"'),
    ("paste of the store", "not stated"),
)  # fmt: skip


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize(("text", "says"), [
    (OPEN, ("16 × thread and class not stated, length not stated, head not stated, condition not stated",
            "washers: under head not stated, under nut not stated", "Lubricant not stated")),
    (IN_NUTS, ("16 × thread and class not stated, length 110 mm, head hexagon, condition new",
               "washers: under head and nut", "Lubricant paste of the store")),
])  # fmt: skip
def test_card_names_what_is_not_stated(text: str, says: tuple[str, ...], paper: str) -> None:
    plan = make_plan(read_specification(text, "joint.toml"), read_tools(TOOLS, "tools.toml"), date(2026, 9, 14))
    made = make_card(plan, serial=make_serial(plan.spec.id, 3), issued_at=ISSUED, valid_until=UNTIL, paper=paper,
                     tools=("TW-0219",))  # type: ignore[arg-type]  # fmt: skip
    whole = " ".join(pages_of(made.pdf))
    for part in (*says, "Load cannot be computed: the thread is not stated", "TW-0219 no adapter 520 N·m"):
        assert part in whole, part
    assert " kN" not in whole
