"""When a card is refused, what a draft says, which tools and settings a card is for."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from evenpull.card import (
    CardRefused,
    SerialError,
    make_serial,
)
from evenpull.card.paper import column_widths, plan_sheets
from evenpull.card.paper import paper as paper_form
from evenpull.plan.model import Problem, Series
from tests.card.pdf_marks import marks
from tests.card.plans import ISSUED, UNTIL, degrees, mm, plan, tool
from tests.card.printed_cards import card, pages_of

STOP = Problem("overload", "stop", "At 350 N.m the fastener reaches 112 % of its yield strength; the limit is 90 %.")


def test_a_plan_that_must_not_be_used_makes_no_card() -> None:
    with pytest.raises(CardRefused) as refused:
        card(plan(16, problems=(STOP, replace(STOP, severity="warning", text="only a warning"))))
    assert refused.value.reasons == (STOP.text,)


def test_a_draft_says_on_each_page_that_it_is_one() -> None:
    made = card(plan(16, problems=(STOP,)), draft=True)
    pages = pages_of(made.pdf)
    assert all("DRAFT: NOT FOR WORK" in text for text in pages)
    assert "DO NOT USE:" in pages[0] and STOP.text in pages[0]
    sizes = marks(made.pdf)[0].text_sizes
    assert 24 in [round(size) for size in sizes]


def test_a_pass_that_no_tool_can_do_makes_no_card() -> None:
    unfit = {(1, "TW-0207"): "105 N.m is below its range of 120 to 600 N.m"}
    only_one = card(plan(16, unfit=unfit))
    (sheet,) = [t for t in pages_of(only_one.pdf) if "PASS 1 of 3" in t and "Count the ticks" in t]
    assert "DO NOT USE for this pass: 105 N.m is below its range" in sheet
    assert sheet.count("105 N·m") == 1
    with pytest.raises(CardRefused, match=r"no tool of this card can do pass 1 of 3.*below its range"):
        card(plan(16, unfit={**unfit, (1, "TW-0219"): "certificate ended"}))
    with pytest.raises(CardRefused, match="no tool of this card can do pass 1"):
        card(plan(16, unfit=unfit), tools=["TW-0207"])


def test_one_card_has_one_unit() -> None:
    mixed = plan(8, tools=(tool("TW-0301", "lbf.ft", 0.1), tool("TW-0207")))
    made = card(mixed)
    text = " ".join(pages_of(made.pdf))
    assert "Not with this card: TW-0207: it is set in N.m" in text
    assert "77.4 lbf·ft" in text and "seventy-seven point four pound-force feet" in text and "N·m" not in text
    assert "105 N·m" in " ".join(pages_of(card(mixed, tools=["TW-0207"]).pdf))
    with pytest.raises(CardRefused, match=r"TW-0301 in lbf\.ft, TW-0207 in N\.m.*one card for each unit"):
        card(mixed, tools=["TW-0301", "TW-0207"])


@pytest.mark.parametrize("tools", [[], ["TW-9999"]])
def test_a_tool_that_is_not_of_the_plan_is_refused(tools: list[str]) -> None:
    with pytest.raises(CardRefused, match="is not in the plan of this joint; allowed: TW-0207, TW-0219"):
        card(plan(8), tools=tools)


def test_a_plan_without_tools_makes_no_card() -> None:
    with pytest.raises(CardRefused, match="has no tool"):
        card(plan(8, tools=()))


def test_angle_and_series_have_their_boxes() -> None:
    of = plan(12, grid=(6, 2), kind="structural connection", method="torque and angle", series=Series("workpiece"))
    made = card(of)
    pages = pages_of(made.pdf)
    assert "workpiece: write its number" in pages[0]
    (sheet,) = [t for t in pages if "PASS 3 of 3" in t and "Count the ticks" in t]
    assert "angle °" in sheet and "turn on by 60 deg (accepted 45 deg to 75 deg)" in sheet
    (earlier,) = [t for t in pages if "PASS 2 of 3" in t and "Count the ticks" in t]
    assert "angle °" not in earlier
    assert "row by row, left to right" in " ".join(pages)


def test_fasteners_pulled_together_share_an_order_number() -> None:
    of = plan(8)
    pairs = ((1, 5), (3, 7), (2, 6), (4, 8))
    of = replace(of, passes=tuple(replace(p, order=pairs) for p in of.passes))
    pages = pages_of(card(of).pdf)
    (sheet,) = [t for t in pages if "PASS 1 of 3" in t and "Count the ticks" in t]
    assert "Rows of the same order number: pull together" in sheet
    assert "tool serials: write all" in sheet
    assert "1. 1 1. 5 2. 3 2. 7" in sheet.replace("  ", " ")


@pytest.mark.parametrize(
    ("changes", "error", "words"),
    [
        ({"serial": "KN-CW-014-477X-07"}, SerialError, "do not fit"),
        ({"serial": make_serial("KN-CW-015", 7)}, ValueError, "does not belong to joint KN-CW-014"),
        ({"issued_at": ISSUED.replace(tzinfo=None)}, ValueError, "issued_at .* has no time zone"),
        ({"valid_until": UNTIL.replace(tzinfo=None)}, ValueError, "valid_until .* has no time zone"),
        ({"valid_until": ISSUED - timedelta(minutes=1)}, ValueError, "would end"),
        ({"paper": "a3"}, ValueError, "allowed: a4, us-letter"),
    ],
)
def test_bad_orders_say_what_is_wrong(changes: dict[str, Any], error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        card(plan(8), **changes)


def test_a_group_pulled_together_is_never_split_over_columns_or_pages() -> None:
    order = (*tuple((f, f + 30) for f in range(1, 31)), (61, 62, 63))
    of = plan(63)
    one = replace(of.passes[0], order=order)
    for size in ("a4", "us-letter"):
        on = paper_form(size)
        sheets = plan_sheets(one, column_widths(one, 3, 0, on, angle=False), 30.0, "how", on)
        columns = [column for sheet in sheets for column in sheet.columns]
        assert [(row.order, row.fastener) for column in columns for row in column] == [
            (place, f) for place, group in enumerate(order, start=1) for f in group
        ]
        seen = [{row.order for row in column} for column in columns]
        assert sum(len(places) for places in seen) == len(order)


def test_the_chain_of_a_tool_stands_beside_its_setting() -> None:
    chain = tool("TW-0219", adapter="AC-60", adapter_length=mm(60), adapter_angle=degrees(0), multiplier_ratio=3.7)
    of = plan(8, tools=(tool("TW-0207"), chain))
    bent = tuple(replace(s, hand_sensitivity=0.02 if s.tool == "TW-0219" else 0.0) for s in of.passes[0].settings)
    of = replace(of, passes=(replace(of.passes[0], settings=bent), *of.passes[1:]))
    (sheet,) = [t for t in pages_of(card(of).pdf) if "PASS 1 of 3" in t and "Count the ticks" in t]
    assert "TW-0219 with adapter AC-60 60 mm, at 0 deg, with multiplier 3.7 to 1" in sheet
    assert "TW-0207 no adapter" in sheet
    assert sheet.count("10 mm off is 2 % off") == 1


def test_too_many_tools_are_refused_with_the_way_out() -> None:
    with pytest.raises(CardRefused, match="choose fewer tools"):
        card(plan(36, tools=tuple(tool(f"TW-{n:04d}") for n in range(12))))
