"""Reference rows on fatigue: the textbook's endurance strengths, and strength amplitudes from stated stresses."""

from __future__ import annotations

import re

from evenpull import joint
from evenpull.quantities import from_si
from tests.reference.given import Given, NotEvaluatedError
from tests.reference.sizes import inches
from tests.reference.textbook import Example


def fatigue(given: Given) -> float:
    """Value of one row of the topic fatigue: Table 8-17, or a strength amplitude from stated stresses."""
    if not given.says("fully corrected endurance strength", "endurance strength", "endurance limit"):
        return Example(given).value()
    if given.says("cut thread", "cut threads"):
        raise given.error("the table holds for rolled threads")
    name = given.need(given.text("grade", "class", "cls"), "the grade")
    size = given.need(given.text("size"), "the size or range of sizes")
    low, high, inch = _range(given, size)
    rows = [joint.endurance_strength(re.sub(r"^ISO\s+", "", name), d) for d in (low, high)]
    if rows[0] is not rows[1]:
        raise given.error(f"the sizes {size} stand in two rows of the table")
    return from_si(rows[0].S_e, given.named_unit("stress") or ("ksi" if inch else "MPa"))


def _range(given: Given, text: str) -> tuple[float, float, bool]:
    """"1/4-1 in", "1-1/8-1-1/2 in", "M16-M36", "M20": ends in m, and whether they are inches."""
    plain = re.sub(r"\s*in\.?$", "", text.strip())
    if plain.startswith("M"):
        parts = re.findall(r"M\s*(\d+(?:\.\d+)?)", plain)
        if 1 <= len(parts) <= 2:
            return float(parts[0]) * 1e-3, float(parts[-1]) * 1e-3, False
    one = r"\d+-\d+/\d+|\d+/\d+|\d+(?:\.\d+)?"
    if match := re.fullmatch(rf"({one})(?:\s*(?:-|to)\s*({one}))?", plain):
        try:
            return inches(match[1]) * 0.0254, inches(match[2] or match[1]) * 0.0254, True
        except (ValueError, NotEvaluatedError) as error:
            raise given.error(f"the size {text!r} is not understood") from error
    raise given.error(f"the size {text!r} is not understood")
