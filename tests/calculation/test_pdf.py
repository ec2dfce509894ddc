"""The sheet as PDF/A: everything of the sheet is in it, the file is attached, the same input gives the same bytes."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from evenpull.calculation import Sheet
from evenpull.report.calculation import calculation_pdf, sheet_content
from evenpull.report.symbols import maths
from tests.calculation.files import demo_sheets, everywhere
from tests.report.readback import attachments, flat, identification, pages

AT = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
SHEETS = [*demo_sheets(), everywhere()]


def made(sheet: Sheet, **options: str) -> bytes:
    return calculation_pdf(sheet, made_at=AT, version="0.0", **options)  # type: ignore[arg-type]


def squeezed(text: str) -> str:
    """Without blanks: a column breaks lines where it must."""
    return "".join(flat(text).split()).replace("\N{SOFT HYPHEN}", "")


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.calculation.id)
def test_all_lines_demands_and_inputs_are_printed(sheet: Sheet) -> None:
    pdf = made(sheet)
    text = squeezed(" ".join(pages(pdf)))
    for part in sheet.parts:
        assert squeezed(part.rule_set.title) in text and squeezed(part.rule_set.memory)[:60] in text
        if part.problem:
            assert squeezed(part.problem)[:60] in text
        for section in part.sections:
            assert squeezed(section.title) in text
            for line in section.lines:
                shown = "".join("".join(piece[1:]) for piece in maths(line.numbers))
                assert squeezed(shown) in text, line.symbol
                assert squeezed(line.value.replace("^", "")) in text
        for check in part.checks:
            assert check.verdict in " ".join(pages(pdf)) and squeezed(check.name)[:60] in text
    assert identification(pdf) == {"part": "3", "conformance": "B", "ua": "1"}
    assert attachments(pdf)["calculation.toml"].decode() == sheet.calculation.text
    for row in sheet.calculation.inputs:
        assert squeezed(row.field) in text


def test_the_same_input_gives_the_same_bytes_and_the_papers_differ() -> None:
    sheet = SHEETS[0]
    assert made(sheet) == made(sheet)
    assert made(sheet, paper="us-letter") != made(sheet)
    assert sheet_content(sheet, made_at=AT, version="0.0")["id"] in " ".join(pages(made(sheet)))


def test_it_says_that_it_releases_nothing_and_how_to_check_it() -> None:
    text = " ".join(pages(made(SHEETS[0])))
    assert "It releases nothing" in text and "pocket calculator" in text and "who may decide" in text


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        calculation_pdf(SHEETS[0], made_at=datetime(2026, 3, 1), version="0.0")
