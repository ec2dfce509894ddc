"""The bench of scanned cards counts as it says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bench import cards
from bench.aged.ageing import age
from bench.aged.filling import fill
from tests.scan.pages import GRID, made, sheets


def test_dense_pages_hold_many_boxes_and_are_aged_whole() -> None:
    filled, aged = cards.aged_page(301, 4, dense=True)
    assert sum(box.kind == "tick" for box in filled.data.boxes) >= cards.DENSE_BOXES
    again, _ = cards.aged_page(301, 4, dense=True)
    assert again.truth == filled.truth and (again.paper == filled.paper).all()
    assert (np.array(aged.picture.shape) > 0.9 * np.array(filled.paper.shape) * aged.dpi / 300).all()
    plain, _ = cards.aged_page(301, 4)
    assert plain.data != filled.data or plain.truth != filled.truth


def test_a_wrong_box_is_counted_with_its_page(capsys: pytest.CaptureFixture[str]) -> None:
    """The truth of three boxes is turned round: they have to be found, whatever the reader reads."""
    rng = np.random.default_rng([91, 4])
    data = made().places[GRID - 1]
    filled = fill(sheets()[GRID - 1], data, rng)
    aged = age(filled.paper, 250, rng)
    right, _, _ = cards.score(filled, aged)
    assert (right.wrong, right.wrong_pages) == (0, 0)
    turned = {"ticked": "empty", "empty": "ticked"}
    clear = [box for box, state in filled.truth.items() if state in turned]
    lied = {box: turned[filled.truth[box]] for box in clear[:3]}
    one, _, said = cards.score(replace(filled, truth={**filled.truth, **lied}), aged)
    ambiguous = {line.split(":")[0] for line in said if "read ambiguous" in line}
    assert one.wrong + len(ambiguous & {f"{box.field} {box.fastener}" for box in lied}) >= 3
    assert one.wrong >= 1 and one.wrong_pages == 1
    cards.report("one page", cards.Score(pages=10, boxes=59_914, wrong=0), limits=True)
    assert "at most 0.050 per 1,000 boxes" in capsys.readouterr().out  # rule of three: 3 / 0.05 per 1,000 = 60,000


def test_a_struck_out_box_read_as_plain_counts_with_the_wrong_ones(capsys: pytest.CaptureFixture[str]) -> None:
    of = cards.Score(pages=10, boxes=59_000, wrong=1, struck=914, struck_missed=2)
    assert of.taken_for_plain == (3, 59_914)
    cards.report("one page", of, limits=True)
    # Poisson limit of 3 found: 7.754 / 59,914.
    assert "plain: 3 of 59914, 0.050 per 1,000, at most 0.129" in capsys.readouterr().out
