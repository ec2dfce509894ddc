"""The checker's grid at the end of the card: a box for each fastener and pass, and nothing of any setting."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from evenpull.card import CardPDF
from evenpull.card.check_grid import BOX_HEIGHT, BOX_WIDTH, PER_BLOCK, grid_content
from evenpull.card.paper import paper as paper_form
from evenpull.plan.model import Plan
from tests.card.pdf_marks import marks
from tests.card.plans import plan
from tests.card.printed_cards import card, pages_of, ring

marks_of, texts_of = cache(marks), cache(pages_of)  # each file is read once
TITLE = "9. The checker’s grid: fastener by pass"


def grid_pages(made: CardPDF) -> list[int]:
    """Indices of the pages from the one with the heading to the last with a block of the grid."""
    pages = texts_of(made.pdf)
    (first,) = [i for i, text in enumerate(pages) if TITLE in text]
    with_blocks = [i for i in range(first, len(pages)) if re.search(r"\bfastener \d", pages[i])]
    assert with_blocks == list(range(first, with_blocks[-1] + 1))
    return with_blocks


def grid_boxes(made: CardPDF) -> list[int]:
    """Boxes of the size of the grid on each page of the card."""
    return [
        sum(abs(w - BOX_WIDTH) < 0.01 and abs(h - BOX_HEIGHT) < 0.01 for w, h in page.boxes)
        for page in marks_of(made.pdf)
    ]


def blocks_read(made: CardPDF) -> list[list[tuple[list[int], str]]]:
    """For each page of the grid its blocks: fastener numbers of the head and the text of the rows."""
    found = []
    for index in grid_pages(made):
        text = texts_of(made.pdf)[index]
        text = re.split(r"ticks, |Wrong entry", text.split(TITLE)[-1])[0]
        blocks = re.findall(r"fastener ((?:\d+ )+)(.*?)(?=fastener \d|$)", text)
        found.append([([int(n) for n in numbers.split()], rows.strip()) for numbers, rows in blocks])
    return found


def many_passes(count: int, torque_passes: int, checks: int) -> Plan:
    of = plan(count, percents=tuple(100 * n / torque_passes for n in range(1, torque_passes + 1)))
    last = of.passes[-1]
    more = tuple(
        replace(
            last,
            number=last.number + n,
            name=f"check pass {n + 1}",
            settings=tuple(replace(s, pass_number=last.number + n) for s in last.settings),
        )
        for n in range(1, checks)
    )
    return replace(of, passes=of.passes + more)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("count", [1, 8, 16, 36, 200])
def test_a_box_for_each_fastener_and_pass(count: int, paper: str) -> None:
    made = ring(count, paper)
    boxes = grid_boxes(made)
    assert sum(boxes) == count * 4
    assert [i for i, n in enumerate(boxes) if n] == grid_pages(made)
    read = blocks_read(made)
    assert [n for page in read for numbers, _ in page for n in numbers] == list(range(1, count + 1))
    for page, on_page in zip(read, (boxes[i] for i in grid_pages(made)), strict=True):
        # A block kept together: the page has as many boxes as the heads on it ask for.
        assert on_page == sum(4 * len(numbers) for numbers, _ in page)
        assert all(rows == "pass 1 30 % pass 2 70 % pass 3 100 % check 100 %" for _, rows in page)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize(("count", "pages"), [(1, 1), (8, 1), (16, 1), (36, 1), (200, 3)])
def test_the_grid_takes_few_pages(count: int, pages: int, paper: str) -> None:
    made = ring(count, paper)
    assert len(grid_pages(made)) == pages
    closing = texts_of(made.pdf)
    assert "10. Independent check" in closing[-1] and "11. Card handed in" in closing[-1]


@pytest.mark.parametrize(
    ("count", "torque_passes", "checks", "paper", "draft"),
    [(23, 3, 10, "a4", False), (41, 10, 3, "us-letter", False), (21, 10, 10, "us-letter", True)],
)
def test_many_passes_stay_in_whole_blocks(
    count: int, torque_passes: int, checks: int, paper: str, draft: bool
) -> None:
    of = many_passes(count, torque_passes, checks)
    made = card(of, paper=paper, draft=draft)
    boxes, read = grid_boxes(made), blocks_read(made)
    assert sum(boxes) == count * (torque_passes + checks)
    asked = {(f, p["name"]) for b in grid_content(of, paper_form(paper, draft=draft))["blocks"] for f in b["fasteners"]
             for p in b["passes"]}  # fmt: skip
    printed_cells = set()
    for page, on_page in zip(read, (boxes[i] for i in grid_pages(made)), strict=True):
        in_blocks = 0
        for numbers, rows in page:
            names = re.findall(r"(pass \d+|check \d+|check)(?= [\d.]+ %)", rows)
            printed_cells |= {(f, name) for f in numbers for name in names}
            in_blocks += len(numbers) * len(names)
        assert on_page == in_blocks
    assert printed_cells == asked and len(asked) == count * (torque_passes + checks)
    for one in marks_of(made.pdf):
        assert min(one.text_sizes) >= 10.99 and all(min(box) >= 7.99 for box in one.boxes)


@pytest.mark.parametrize("count", [8, 200])
def test_no_setting_of_any_stage_is_in_sight(count: int) -> None:
    made = ring(count, "a4")
    pages = texts_of(made.pdf)
    for index in grid_pages(made):
        assert "N·m" not in pages[index] and "newton metre" not in pages[index]
        assert "Set the tool" not in pages[index]


def test_ticks_are_counted_once_on_the_pass_sheets_and_once_in_the_grid() -> None:
    made = ring(36, "us-letter")
    pages = texts_of(made.pdf)
    text = " ".join(pages)
    for name in ("pass 1: 30 %", "pass 2: 70 %", "pass 3: 100 %", "check: 100 %"):
        assert text.count(f"ticks, {name}") == 1
    last = pages[grid_pages(made)[-1]]
    assert last.split("ticks, pass 1")[1].count("of 36") == 4
    assert "Totals" not in text and "ticks counted" not in text
    sheets = [page for page in pages if "Count the ticks" in page]
    assert all("Fewer: find the empty box first." in page for page in sheets) and not any(TITLE in p for p in sheets)
    assert "tick what is ticked there. An empty box is a pull that nobody recorded" in text
    assert "do not tick it from memory; tell the person in charge, who decides" in text


@pytest.mark.parametrize("size", ["a4", "us-letter"])
@pytest.mark.parametrize("count", range(1, 201, 7))
def test_blocks_hold_each_fastener_once(count: int, size: Any) -> None:
    grid = grid_content(plan(count), paper_form(size))
    assert [f for block in grid["blocks"] for f in block["fasteners"]] == list(range(1, count + 1))
    assert all(len(block["fasteners"]) <= PER_BLOCK for block in grid["blocks"])
    width = grid["label"] + PER_BLOCK * BOX_WIDTH + 3 * grid["fives"]
    assert width <= paper_form(size).room[0]
