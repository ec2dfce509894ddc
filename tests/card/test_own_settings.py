"""Cards with a setting for each fastener: it stands in the row of its fastener, in digits and words."""

from __future__ import annotations

import re
from datetime import date

import pytest

from evenpull.card import CardRefused
from evenpull.card.tool_choice import choose_tools
from evenpull.plan import Plan, make_plan, read_specification, read_tools
from tests.card.printed_cards import card, pages_of
from tests.plan.files import JOINT, TOOLS, changed

PERCENT = [104, 118, 110, 101, 112, 96.5, 108, 100, 103, 117, 109, 102, 111, 97, 107, 99]
# 520 N.m times the percent, on a scale of steps of 2 N.m; written by hand, not taken from the program
SET = {1: 540, 2: 614, 3: 572, 4: 526, 5: 582, 6: 502, 7: 562, 8: 520, 9: 536, 10: 608, 11: 566, 12: 530, 13: 578,
       14: 504, 15: 556, 16: 514}  # fmt: skip


def own(tools: str = TOOLS, *changes: tuple[str, str]) -> Plan:
    text = changed(JOINT, ("passes = [30, 70, 100]", f"passes = [30, 100]\nsettings = [[30], {PERCENT}]\n"
                                                     "settings_limit = 120"), *changes)  # fmt: skip
    return make_plan(read_specification(text, "joint.toml"), read_tools(tools, "tools.toml"), date(2026, 9, 14))


def sheets(made: Plan, **wanted: object) -> list[str]:
    return [text for text in pages_of(card(made, **wanted).pdf) if "PASS 2 of 2: own settings" in text]


def rows(text: str, word: str) -> dict[int, tuple[int, str]]:
    """fastener -> (digits, words), read from rows of place in the order, number, setting, words."""
    table = text.split(word, 1)[1].split("Count the ticks")[0]
    found = re.findall(r"(\d+)\. (\d+) (\d+) ([a-z -]+?)(?= \d+\. | ?$)", table)
    return {int(number): (int(digits), words.strip().replace("- ", "-")) for _, number, digits, words in found}


def test_each_row_has_the_setting_of_its_fastener() -> None:
    made = own()
    seen: dict[int, tuple[int, str]] = {}
    for text in sheets(made, tools=["TW-0219"]):
        assert "Each fastener has its own setting" in text and "stands in its row" in text
        seen |= rows(text, "got, N·m")
    assert {number: digits for number, (digits, _) in seen.items()} == SET
    assert seen[2][1] == "six hundred and fourteen" and seen[6][1] == "five hundred and two"
    assert seen[16][1] == "five hundred and fourteen" and seen[8][1] == "five hundred and twenty"


def test_the_order_of_the_rows_is_that_of_the_pass() -> None:
    made = own()
    texts = " ".join(text.split("got, N·m", 1)[1].split("Count the ticks")[0] for text in
                     sheets(made, tools=["TW-0219"]))  # fmt: skip
    found = [int(number) for number in re.findall(r"\d+\. (\d+) \d{3} ", texts)]
    assert found == [fastener for group in made.passes[1].order for fastener in group]


def test_the_other_passes_show_one_setting_and_none_in_the_rows() -> None:
    pages = pages_of(card(own(), tools=["TW-0219"]).pdf)
    first = next(text for text in pages if "PASS 1 of 2: 30 %" in text)
    assert "156 N·m" in first and "own setting" not in first and "set to," not in first


def test_tools_of_other_values_have_cards_of_their_own() -> None:
    """The crow-foot makes other values of one torque; two values in one row would be mixed up."""
    twin = changed(TOOLS, ('unit = "lbf.ft"', 'unit = "N.m"'), ('"80 lbf.ft", "450 lbf.ft"', '"100 N.m", "700 N.m"'),
                   ('"1 lbf.ft"', '"2 N.m"'))  # fmt: skip
    made = own(twin)
    choice = choose_tools(made, None)
    assert [tool.serial for tool in choice.tools] == ["TW-0219"]
    assert choice.left_out == (("TW-0252", "it is set to other values, its own card shows them"),)
    with pytest.raises(CardRefused, match="print one card for each tool"):
        card(made, tools=["TW-0219", "TW-0252"])
    other = {n: v for text in sheets(made, tools=["TW-0252"]) for n, (v, _) in rows(text, "got, N·m").items()}
    assert other[2] == 576 and len(other) == 16  # 613.6 x 900 / 960 = 575.25


def test_a_tool_that_misses_one_fastener_is_not_for_the_pass() -> None:
    short = changed(TOOLS, ('"800 N.m"', '"610 N.m"'))  # fastener 2 needs 614
    with pytest.raises(CardRefused, match=r"no tool of this card can do pass 2 of 2 \(own settings\) \(TW-0219: .*614"):
        card(own(short), tools=["TW-0219"])
    pages = sheets(own(short), tools=["TW-0219"], draft=True)
    assert pages and all("DO NOT USE for this pass" in page for page in pages)
    assert choose_tools(own(short), ["TW-0219"]).unfit[0].count("above its scale") == 1


def test_tools_at_once_show_their_settings_side_by_side() -> None:
    made = own(TOOLS, ("tools_at_once = 1", "tools_at_once = 2"))
    seen = {n: v for text in sheets(made, tools=["TW-0219"]) for n, (v, _) in rows(text, "got, N·m").items()}
    assert seen == SET
