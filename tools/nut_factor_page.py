"""Draws docs/pictures/nut-factor.svg from the measured runs, for docs/nut-factor.md: python tools/nut_factor_page.py"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from evenpull import joint
from evenpull.calculation.lot_test import LotSheet, Readings, evaluate
from evenpull.joint.tightening.friction_test import D_b
from evenpull.quantities import to_si
from evenpull.report.plot_svg import plot_svg

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT / "tests" / "mechanics" / "measured" / "iowa_anchor_rod_1p5in_curves.csv"
PICTURE = ROOT / "docs" / "pictures" / "nut-factor.svg"
LUBRICANT = "lithium grease"
INCH = 0.0254


def measured(lubricant: str = LUBRICANT) -> LotSheet:
    """The runs of one lubricant on 1-1/2 in rods; a bearing face of 2.25 in over a hole of 1.56 in is taken (the source
    states neither; only mu depends on them)."""
    runs: dict[str, list[tuple[float, float]]] = {}
    with DATA.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["lubricant"] == lubricant:
                reading = (to_si(float(row["clamp_kip"]), "kip", "force"),
                           to_si(float(row["turning_torque_lbfft"]), "lbf.ft", "torque"))
                runs.setdefault(row["run"], []).append(reading)
    found = tuple(Readings(name, tuple(F for F, _ in of), tuple(T for _, T in of), None) for name, of in runs.items())
    return evaluate(found, joint.thread("1 1/2-6 UNC"), float(D_b(2.25 * INCH, 1.56 * INCH)))


def picture() -> str:
    """The drawing. ValueError when no run has readings enough."""
    sheet = measured()
    if sheet.falling is None:
        raise ValueError("no run has three readings")
    return plot_svg(sheet.falling) + "\n"


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
    sys.stdout.write(f"{PICTURE}\n")
