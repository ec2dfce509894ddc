"""Strength of bolts and nuts by class and size, and the loads that follow."""

from __future__ import annotations

import re

from evenpull.catalogue.nuts_inch import SHAPES
from evenpull.catalogue.strengths import (
    NutRow,
    StrengthRow,
    nut_rows,
    oversize_areas,
    strength_rows,
    structural_tensile_strength,
)
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.parts.nuts_inch import inch_nut_row
from evenpull.joint.parts.threads import nominal_stress_area
from evenpull.joint.target import Strength, ThreadSize
from evenpull.quantities import show

_AUSTENITIC = re.compile(r"A[1-5]?-?(50|70|80|100)")


def canonical(designation: str) -> str:
    """The name of the row that a designation means; the designation itself when no rule applies."""
    text = " ".join(designation.split())
    plain = re.sub(r"^(class|property class)\s+", "", text, flags=re.IGNORECASE)
    if match := _AUSTENITIC.fullmatch(plain):
        return f"A-{match[1]}"
    if match := re.fullmatch(r"(?:SAE\s*)?(?:J\s*429)?\s*(?:grade|gr\.?)\s*(\d(?:\.\d)?)", plain, re.IGNORECASE):
        return f"SAE J429 grade {match[1]}"
    if match := re.fullmatch(r"aviation,?\s*(\d{3})\s*ksi(?:\s+tensile)?", plain, re.IGNORECASE):
        return f"aviation {match[1]} ksi"
    plain = re.sub(r"^ASTM\s+", "", plain, flags=re.IGNORECASE)
    plain = re.sub(r"^(A193|A320|A354|A574)M?\s*(grade\s+|gr\.?\s*)?", r"\1 ", plain, flags=re.IGNORECASE).strip()
    plain = re.sub(r",?\s*(?:class|cl\.?)\s*([12])$", r" cl.\1", plain, flags=re.IGNORECASE)
    if re.fullmatch(r"A307( (grade )?A)?", plain, re.IGNORECASE):
        return "A307 grade A"
    return plain


def strength_at(designation: str, d: float) -> Strength:
    """Minimum strengths of the class at the nominal diameter d in m.

    "8.8", "A4-80", "A2-70", "SAE J429 grade 5", "A193 B7", "A193 B8M cl.2", "aviation 160 ksi". Raises
    NotInCatalogue for an unknown class, for a size outside its standard, and where the standard gives no yield
    strength.
    """
    name = canonical(designation)
    rows = [row for row in strength_rows() if row.designation.casefold() == name.casefold()]
    if not rows:
        known = tuple(dict.fromkeys(row.designation for row in strength_rows()))
        raise NotInCatalogue("strength class", designation, known, 'A2-70 and A4-70 are rows "A-70", and so on')
    row = next((row for row in rows if row.over < d <= row.up_to * (1 + 1e-9)), None)
    if row is None:
        raise NotInCatalogue("size of class", f"{designation} at {show(d, 'mm')}", _ranges(rows), _way_out(rows[0]))
    if row.R_p02 is None:
        raise NotInCatalogue("class with a yield strength", designation, (), f"{row.source} states none")
    source = row.source
    if row.agreed_over is not None and d > row.agreed_over * (1 + 1e-9):
        source += f"; above {show(row.agreed_over, 'mm')} only as agreed with the maker"
    return Strength(designation.strip(), row.R_m, row.R_p02, row.S_p, source, row.status)


def _way_out(row: StrengthRow) -> str:
    """Beyond its sizes a class is only what maker and buyer agreed on: it is never carried on."""
    beyond = row.beyond or "sizes outside it are a matter of agreement with the maker"
    return f"{row.source}; {beyond}: state R_m, R_p02 and, where agreed, S_p from the order or the certificate"


def _ranges(rows: list[StrengthRow]) -> tuple[str, ...]:
    return tuple(f"{show(row.over, 'mm')} < d <= {show(row.up_to, 'mm')}" for row in rows)


def strength(designation: str, thread: ThreadSize) -> Strength:
    """Minimum strengths of the class for this thread; see strength_at."""
    return strength_at(designation, thread.d)


def proof_load(thread: ThreadSize, strength: Strength) -> float | None:
    """F_p = A_s S_p in N (ISO 898-1 Table 5); None where the standard gives no proof stress."""
    return None if strength.S_p is None else thread.A_s * strength.S_p


def oversize_stress_area(thread: ThreadSize) -> float:
    """Stress area in m2 for the loads of a hot-dip galvanised bolt with a nut tapped oversize (ISO 10684 annex A).

    Times S_p or R_m it gives the reduced loads of M8 and M10; from M12 up it is A_s,nom. NotInCatalogue for fine, inch
    and smaller threads, which the standard does not cover.
    """
    areas, unreduced, source = oversize_areas()
    if thread.designation in areas:
        return areas[thread.designation]
    if thread.system != "metric" or "x" in thread.designation or thread.d < unreduced * (1 - 1e-9):
        known = (*areas, f"coarse threads from {show(unreduced, 'mm')}")
        raise NotInCatalogue("thread for oversize tapping", thread.designation, known, source)
    return nominal_stress_area(thread)


def ultimate_load(thread: ThreadSize, strength: Strength, *, structural: bool = False) -> float:
    """F_m = A_s R_m in N (ISO 898-1 Table 4); for `structural` bolting the higher loads of its footnote."""
    R_m = structural_tensile_strength(strength.designation, thread.d) if structural else None
    return thread.A_s * (strength.R_m if R_m is None else R_m)


def yield_load(thread: ThreadSize, strength: Strength) -> float:
    """F_02 = A_s R_p02 in N: tension alone, without torsion (VDI 2230-1)."""
    return thread.A_s * strength.R_p02


def nut_row(thread: ThreadSize, nut_class: str | int, style: int | None = None) -> NutRow:
    """The row of the nut tables for this thread and class. `style` 1 or 2; None takes style 1 where it exists. Inch
    nuts by grade as in `inch_nut_row`, without style.

    Raises NotInCatalogue for unknown classes and sizes for which the class and style do not exist.
    """
    if thread.system != "metric":
        if style is not None:
            raise NotInCatalogue("style of inch nuts", str(style), SHAPES, "inch nuts have a shape and no style")
        return inch_nut_row(thread, str(nut_class))
    name = str(nut_class).strip()
    if match := _AUSTENITIC.fullmatch(name):
        name = f"A-{match[1]}"
    pitch = "fine" if "x" in thread.designation else "coarse"
    rows = [row for row in nut_rows() if row.nut_class == name and row.thread in (pitch, "any")]
    if not rows:
        known = tuple(dict.fromkeys(row.nut_class for row in nut_rows() if row.thread in (pitch, "any")))
        raise NotInCatalogue("nut class", name, known, f"{pitch} thread")
    fitting = [row for row in rows if row.over < thread.d <= row.up_to * (1 + 1e-9)]
    if style is not None:
        fitting = [row for row in fitting if row.style == f"style {style}"]
    if not fitting:
        known = tuple(f"{row.style}, {row.over * 1e3:g} mm < d <= {row.up_to * 1e3:g} mm" for row in rows)
        wanted = f"{name}" + (f" style {style}" if style is not None else "") + f" on {thread.designation}"
        raise NotInCatalogue("nut", wanted, known, rows[0].source)
    return min(fitting, key=lambda row: ("style 1", "style 2", "thin").index(row.style))


def nut_proof_load(thread: ThreadSize, nut_class: str | int, style: int | None = None) -> float:
    """Proof load of a nut in N: stress under proof load of class, style and size, times A_s,nom (ISO 898-2); for inch
    nuts times the tensile stress area (ASTM A563, SAE J995).
    """
    area = nominal_stress_area(thread) if thread.system == "metric" else thread.A_s
    return nut_row(thread, nut_class, style).S_p * area
