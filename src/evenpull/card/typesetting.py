"""Typst behind one function: template and data in, tagged PDF out, the same bytes for the same input.

Only the fonts of this folder and those inside the typst wheel are used, so that a card looks alike on every machine.
PDF/UA-1 makes typst refuse what a reader could not get: missing title, missing text for a drawing, missing glyph.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import typst

FONTS = Path(__file__).parent / "fonts"


class TypesettingError(RuntimeError):
    """Typst could not set the document; the message is typst's own with its hints."""


PAGES = "<pages>"  # each template ends with: #context [#metadata(counter(page).final().first()) <pages>]


def count_pages(template: Path, inputs: Mapping[str, str]) -> int:
    """Pages that the document will have, without making the PDF."""
    (pages,) = told(template, inputs, PAGES)
    return int(pages)


def told(template: Path, inputs: Mapping[str, str], selector: str) -> list[Any]:
    """The values of all metadata of the document that this selector finds, in order, without making the PDF."""
    try:
        found = typst.query(
            template,
            selector,
            field="value",
            root=template.parent,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            sys_inputs=dict(inputs),
        )
    except typst.TypstError as error:
        raise TypesettingError("; ".join([error.message, *error.hints])) from error
    return list(json.loads(found))


def typeset(
    template: Path,
    inputs: Mapping[str, str],
    *,
    at: datetime,
    standards: tuple[Literal["ua-1", "a-3b"], ...] = ("ua-1",),
) -> bytes:
    """PDF of the template; `inputs` become sys.inputs, `at` the date inside the file."""
    try:
        pdf, warnings = typst.compile_with_warnings(
            template,
            root=template.parent,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs=dict(inputs),
            pdf_standards=list(standards),
            timestamp=int(at.timestamp()),
        )
    except typst.TypstError as error:
        raise TypesettingError("; ".join([error.message, *error.hints])) from error
    if warnings:
        raise TypesettingError("; ".join(str(warning) for warning in warnings))
    assert isinstance(pdf, bytes)
    return pdf
