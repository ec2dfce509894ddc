"""Proof stress and proof load of inch nuts by grade, shape and thread."""

from __future__ import annotations

import re

from evenpull.catalogue.nuts_inch import SHAPES, InchNutRow, inch_nut_rows
from evenpull.catalogue.strengths import NutRow
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.target import ThreadSize
from evenpull.quantities import show

_GRADE = re.compile(r"(?:ASTM\s*)?(A194|A563)M?\s*[-,]?\s*(?:(?:grade|gr\.?)\s*)?(\w+)", re.IGNORECASE)
_SAE = re.compile(r"(?:SAE\s*)?(?:J\s*995\s*)?(?:grade|gr\.?)\s*(\d)", re.IGNORECASE)


def _canonical(grade: str) -> str:
    """"A194 2H", "ASTM A563 grade DH", "SAE J995 grade 5", "grade 8" as the tables name them."""
    text = " ".join(grade.split())
    if match := _SAE.fullmatch(text):
        return f"SAE J995 grade {match[1]}"
    if match := _GRADE.fullmatch(text):
        return f"{match[1].upper()} {match[2].upper()}"
    return text


def _series(thread: ThreadSize) -> str:
    """8UN counts with the coarse series, as in A563."""
    return "fine" if re.search(r"UNF|UNEF|UNS", thread.designation) else "coarse"


def inch_nut_row(
    thread: ThreadSize, grade: str, *, shape: str | None = None, galvanised: bool = False
) -> NutRow:
    """The proof stress of the grade on this inch thread (SAE J995, ASTM A194, ASTM A563).

    `shape` "hexagon" or "heavy hexagon"; None takes the one that the standard means where none is named (A194 heavy
    hexagon), for A563 the weaker hexagon where it has one. `galvanised`: nut tapped oversize for hot-dip galvanising.
    NotInCatalogue for grades, shapes and sizes that the standard does not have, and for a galvanised proof stress that
    it does not give.
    """
    name = _canonical(grade)
    if shape is not None and shape not in SHAPES:
        raise NotInCatalogue("shape of inch nuts", shape, SHAPES)
    rows = [row for row in inch_nut_rows() if row.grade == name]
    if thread.system != "inch" or not rows:
        known = tuple(dict.fromkeys(row.grade for row in inch_nut_rows()))
        hint = "8 and 10 are classes of metric nuts" if thread.system == "inch" else "these nuts have inch threads"
        raise NotInCatalogue("inch nut", f"{grade} on {thread.designation}", known, hint)
    shapes = {row.shape for row in rows}
    wanted = shape if shape is not None else (
        rows[0].standard_shape if rows[0].standard_shape in shapes else next(iter(shapes)))
    fitting = [row for row in rows if row.shape == wanted and row.series in (_series(thread), "any")
               and row.over * (1 + 1e-9) < thread.d <= row.up_to * (1 + 1e-9)]
    if not fitting:
        known = tuple(f"{row.shape}, {row.series} thread, up to {show(row.up_to, 'in')}" for row in rows)
        raise NotInCatalogue("inch nut", f"{name}, {wanted}, on {thread.designation}", known, rows[0].source)
    return _row(fitting[0], galvanised)


def _row(found: InchNutRow, galvanised: bool) -> NutRow:
    stress = found.zinc if galvanised else found.S_p
    if stress is None:
        raise NotInCatalogue("grade with a proof stress when tapped oversize", found.grade, (),
                             f"{found.source} as remembered gives none; state the proof stress")
    return NutRow(found.grade, found.shape, found.series, found.over, found.up_to, stress, found.source, found.status)
