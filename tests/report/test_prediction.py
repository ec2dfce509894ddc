"""The paper of a prediction: what it says, what is attached, and that its pictures show the loads they were given."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from functools import lru_cache
from io import BytesIO

import pytest
from pypdf import PdfReader

from evenpull.prediction import RingResult, predict, read_prediction
from evenpull.prediction.notes import INTERACTION, NO_LICENCE, PREDICTED, TORQUE
from evenpull.prediction.scatter import by_torque_control
from evenpull.report import ring_rows
from evenpull.report.interval_svg import interval_svg
from evenpull.report.prediction import Paper, prediction_content, prediction_pdf
from evenpull.report.ring_svg import frame_of, plain_numbering, ring_svg, scale_of
from tests.prediction.files import PLAIN, changed

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SCATTER = changed(PLAIN, 'load = "98 kN"', 'load = "98 kN"\nK = 0.16') + (
    '[scatter]\nK_nut = "6 %"\nK_lot = "3 %"\nassemblies = 400\nbasis = "T-TEST 3"\n'
)


@lru_cache(maxsize=2)
def result(text: str = PLAIN) -> RingResult:
    return predict(read_prediction(text, "ring.toml"))


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_the_picture_shows_the_loads_after_the_pull() -> None:
    outcome = result().outcomes[0]
    top, frame = scale_of([outcome]), frame_of(8)
    svg = ring_svg(result().prediction.case, outcome, 5, plain_numbering(8), top)
    places = " ".join(rf'{name}="([\d.]+)"' for name in ("x1", "y1", "x2", "y2"))
    bars = re.findall(rf'<line class="bar" data-bolt="(\d+)" {places}', svg)
    assert len(bars) == 8
    for bolt, *ends in bars:
        x1, y1, x2, y2 = map(float, ends)
        share = math.hypot(x2 - x1, y2 - y1) / (frame.high - frame.low) * top
        assert share == pytest.approx(outcome.loads[4][int(bolt) - 1] / 98e3, abs=0.004)
    figures = dict(re.findall(r'<text class="figure" data-bolt="(\d+)"[^>]*>([\d.]+)</text>', svg))
    assert {int(bolt): float(text) for bolt, text in figures.items()} == {
        bolt: pytest.approx(100 * load / 98e3, abs=0.051) for bolt, load in enumerate(outcome.loads[4], start=1)
    }
    (pulled,) = re.findall(r'<g class="bolt pulled" data-bolt="(\d+)">', svg)
    assert (int(pulled),) == outcome.procedure.pulls[4].bolts
    assert "interaction only" in svg and "predicted, not measured" in svg


def test_before_the_first_pull_nothing_carries_and_there_is_no_pull_beyond_the_last() -> None:
    outcome = result().outcomes[0]
    svg = ring_svg(result().prediction.case, outcome, 0, plain_numbering(8), 1.1)
    assert set(re.findall(r'<text class="figure"[^>]*>([\d.]+)<', svg)) == {"0.0"} and "bolt pulled" not in svg
    with pytest.raises(ValueError, match="1 to 24"):
        ring_svg(result().prediction.case, outcome, 25, plain_numbering(8), 1.1)


def test_the_paper_says_what_it_is_and_has_the_file_in_it() -> None:
    pdf = prediction_pdf(Paper(result(), plain_numbering(8)), made_at=NOW, version="1")
    assert pdf == prediction_pdf(Paper(result(), plain_numbering(8)), made_at=NOW, version="1")
    reader, words = PdfReader(BytesIO(pdf)), words_of(pdf)
    assert reader.attachments["ring.toml"] == [PLAIN.encode()]
    for text in (PREDICTED, INTERACTION, NO_LICENCE, "Caution.", "Steps for the crew", "T-SPEC 1", "interaction only"):
        assert text in words
    assert TORQUE not in words
    outcome = result().outcomes[0]
    assert f"{outcome.final[2] / 1e3:.1f} kN" in words and f"{100 * outcome.spread:.1f}" in words


def test_the_steps_are_the_pulls_in_their_order() -> None:
    first, second, last = ring_rows.crew_passes(result().prediction, result().outcomes[0].procedure)
    assert first.pulls == ("1", "5", "3", "7", "2", "6", "4", "8") == second.pulls
    assert last.pulls == tuple("12345678") and first.setting == "50 % of the target = 49 kN"


def test_torque_control_stands_apart_and_never_in_the_table_of_interaction() -> None:
    found = result(SCATTER)
    torque = (by_torque_control(found, found.outcomes[0].procedure),)
    content = prediction_content(Paper(found, plain_numbering(8), (), torque), made_at=NOW, version="1")
    figures = [cell for row in content["torque"]["rows"] for cell in row[2:]]
    assert figures and not any(cell in row for cell in figures for row in content["rows"])
    low, middle, high = (100 * q.value / 98e3 for q in torque[0].intervals.quantiles)
    svg = interval_svg(torque[0], None)
    assert f"1: {low[0]:.0f}, {middle[0]:.0f}, {high[0]:.0f};" in svg
    assert "torque control with scatter" in svg and "interaction only" not in svg
    words = words_of(prediction_pdf(Paper(found, plain_numbering(8), (), torque), made_at=NOW, version="1"))
    assert TORQUE in words and "stay with each nut" in words


def test_a_name_that_looks_like_markup_is_printed() -> None:
    text = changed(PLAIN, 'name = "cover"', 'name = "#pagebreak() <b>$x$"')
    pdf = prediction_pdf(Paper(result(text), plain_numbering(8)), made_at=NOW, version="1")
    assert "#pagebreak() <b>$x$" in words_of(pdf)


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        prediction_content(Paper(result(), plain_numbering(8)), made_at=datetime(2026, 3, 2), version="1")
