"""Strengths of the classes and grades that textbook rows name."""

from __future__ import annotations

import re

from evenpull.catalogue.strengths import strength_rows
from evenpull.catalogue.textbook import textbook_strengths
from tests.reference.given import Given, agree

GRADE_AS_ROUNDED = 0.007
WHICH = ("Sp", "Sut", "Sy")


def name(given: Given, grade: str | None) -> str:
    """The designation in the tables of "SAE 5", "5", "8.8", "ISO 10.9"."""
    text = re.sub(r"^(?:ISO\s*)?(?:class\s*)?", "", given.need(grade, "the grade or class"), flags=re.IGNORECASE)
    if any(row.designation == text for row in textbook_strengths()):
        return text
    if match := re.fullmatch(r"(?:SAE\s*)?(?:J\s*429\s*)?(?:grade\s*)?(\d(?:\.\d)?)", text, re.IGNORECASE):
        found = f"SAE J429 grade {match[1]}"
        if any(row.designation == found for row in strength_rows()):
            return found
    raise given.error(f"the grade {grade!r} is not in the textbook's tables")


def _candidates(designation: str, d: float | None, which: str) -> list[tuple[bool, float]]:
    """Values of the class, the textbook's first; True where the size fits."""
    found = []
    for row in textbook_strengths():
        if row.designation == designation:
            value = {"Sp": row.S_p, "Sut": row.S_ut, "Sy": row.S_y}[which]
            found.append((d is not None and row.d_from * 0.999 <= d <= row.d_to * 1.001, value))
    for one in strength_rows():
        if one.designation == designation:
            raw = {"Sp": one.S_p, "Sut": one.R_m, "Sy": one.R_p02}[which]
            if raw is not None:
                found.append((d is not None and one.over < d <= one.up_to * 1.001, raw))
    return found


def strength(
    given: Given, grade: str | None, d: float | None, stated: tuple[float | None, ...], which: str
) -> float:
    """The stated strength when the class has it; else the textbook's: for a size outside its table the value of the
    class, as the solutions do.
    """
    designation, own = name(given, grade), stated[WHICH.index(which)]
    found = _candidates(designation, d, which)
    if own is not None:
        if not any(agree(own, value, GRADE_AS_ROUNDED) for _, value in found):
            raise given.error(f"{which} is not that of {grade}")
        return own
    if found and not designation.startswith("SAE"):
        return found[0][1]
    fitting = [value for fits, value in found if fits]
    if not fitting and len({value for _, value in found}) == 1:
        fitting = [found[0][1]]
    return given.need(fitting[0] if fitting else None, f"{which}, or a size that the grade has,")
