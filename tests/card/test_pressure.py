"""Fasteners that hold the pressure: printed beside the map with the stop and who decides, where the joint says so."""

from __future__ import annotations

import pytest

from evenpull.card.pressure import pressure_caution
from evenpull.plan.model import GateRules
from tests.card.pdf_marks import marks
from tests.card.plans import plan
from tests.card.printed_cards import card, pages_of, ring


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("count", [8, 16, 36, 200])
def test_the_caution_stands_on_the_page_of_the_map(count: int, paper: str) -> None:
    numbers = (1, *range(3, 7), 8)
    made = card(plan(count, gates=GateRules(never_loosen=numbers)), paper=paper, draft=True)
    pages = pages_of(made.pdf)
    (page,) = [text for text in pages if "6. The fasteners of this joint" in text]
    for part in (
        "Fasteners 1, 3 to 6, 8 hold the pressure: never loosen one while the joint is under pressure.",
        "Stop unless zero pressure is proven at this joint. Who decides: the issuer of the permit",
        "Not to scale",
    ):
        assert part in page, part
    sheet = marks(made.pdf)[pages.index(page)]
    assert min(sheet.text_sizes) >= 10.99
    assert made.pages <= card(plan(count), paper=paper, draft=True).pages + 1


def test_words_for_all_and_for_one() -> None:
    some, every = plan(8, gates=GateRules(never_loosen=(4,))), plan(8, gates=GateRules(never_loosen=tuple(range(1, 9))))
    assert (pressure_caution(some.spec) or ("",))[0].startswith("Fastener 4 holds the pressure: never loosen")
    assert (pressure_caution(every.spec) or ("",))[0].startswith("All fasteners of this joint hold")


def test_no_caution_where_none_is_asked() -> None:
    assert pressure_caution(plan(8).spec) is None
    assert not any("hold the pressure" in text for text in pages_of(ring(8, "a4").pdf))
