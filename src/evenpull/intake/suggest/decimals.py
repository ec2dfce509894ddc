"""Decimal sign and thousands sign of the numbers of a file, or the doubt between two readings."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from evenpull.intake.numbers import NumberError, NumberForm

FORMS: tuple[tuple[str, str | None], ...] = (
    (".", None), (",", None), (".", ","), (",", "."), (".", " "), (",", " "), (".", "'"), (",", "'"), (".", "’"),
)
_MARKED = re.compile(r"[.,'’ \u00a0\u202f]")


@dataclass(frozen=True)
class Signs:
    """`forms` read every number; several only where the file itself does not settle which is right."""

    forms: tuple[tuple[str, str | None], ...]
    why: str


def signs(texts: Iterable[str]) -> Signs:
    """All pairs of signs that read the most numbers, without a thousands sign that nothing needs."""
    cells = [text for text in dict.fromkeys(texts) if any(c.isdigit() for c in text)]
    marked = [text for text in cells if _MARKED.search(text)]
    if not marked:
        return Signs(((".", None),), "sure for this file: no number has a sign in it")
    read: dict[tuple[str, str | None], dict[str, float]] = {}
    for form in FORMS:
        reader = NumberForm(*form)
        values: dict[str, float] = {}
        for text in marked:
            try:
                values[text] = reader.read(text)
            except NumberError:
                continue
        read[form] = values
    most = max(len(values) for values in read.values())
    good = [form for form, values in read.items() if len(values) == most and most]
    plain = [form for form in good if form[1] is None]
    # "1.234": as a decimal or as thousands. The longer form is only another reading where it gives other numbers.
    kept = plain or good
    for form in good:
        if form not in kept and all(read[form] != read[other] for other in kept):
            kept.append(form)
    distinct = [form for at, form in enumerate(kept) if all(read[form] != read[other] for other in kept[:at])]
    if not distinct:
        return Signs(((".", None),), "guess: no number could be read")
    why = f"sure: {most} of {len(marked)} different numbers with a sign in them are read this way, and no other"
    return Signs(tuple(distinct), why if len(distinct) == 1 else "several ways read all numbers")
