"""Every reference row against the library, within the row's own tolerance. Source and status stand in the row."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from tests.reference.evaluate import NotEvaluatedError, evaluate

HERE = Path(__file__).parent
FILES = tuple(sorted(path.name for path in HERE.glob("joints_*.csv")))
ROUNDING = 1e-9  # of the value: "exact" rows are printed values that must come out to the last figure


def rows() -> list[dict[str, str]]:
    found = []
    for name in FILES:
        with (HERE / name).open(encoding="utf-8", newline="") as file:
            found += list(csv.DictReader(file))
    return found


def allowed(row: dict[str, str]) -> float:
    """Largest deviation in the unit of the row: "exact...", "abs x...", "rel x%..." or "rel 1e-7"."""
    value = abs(float(row["value"]))
    # A "site tolerance" is how far the work may be off, not the value: that one is printed and exact.
    if row["tolerance"].startswith(("exact", "site tolerance")):
        return value * ROUNDING
    match = re.match(r"(abs|rel) ([\d.]+(?:e-?\d+)?)\s*(%)?", row["tolerance"])
    assert match is not None, f"{row['id']}: tolerance {row['tolerance']!r} is not understood"
    size = float(match[2]) * (0.01 if match[3] else 1.0)
    return (size if match[1] == "abs" else size * value) + value * ROUNDING


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['id']}-{row['status']}")
def test_row(row: dict[str, str]) -> None:
    found = evaluate(row["topic"], row["quantity"], json.loads(row["inputs"]))
    assert found == pytest.approx(float(row["value"]), abs=allowed(row), rel=0), (
        f"{row['quantity']} of {row['inputs']}: {found} {row['unit']}, printed {row['value']} "
        f"({row['tolerance']}; {row['source']}, {row['clause_or_table']})"
    )


def test_every_row_names_its_source() -> None:
    found = rows()
    assert len(found) > 700
    for row in found:
        assert row["source"] and row["clause_or_table"], row["id"]
        assert row["status"] in ("read", "memory", "computed"), row["id"]
    assert len({row["id"] for row in found}) == len(found)


def test_row_is_not_looked_up() -> None:
    """Another size, class and friction than any row has gives the value of the same formula."""
    torque = evaluate(
        "preload_torque_vdi", "tightening torque MA at 90 % yield utilisation (hexagon head, medium hole)",
        {"thread": "M27x3", "class": "10.9", "muG": 0.11, "muK": 0.13, "dw_mm": 38, "dh_mm": 30},
    )
    # by hand: As 459.4 mm2, d2 25.051 mm, d0 24.185 mm; F = 459.4 x 846 / sqrt(1 + 3 x 0.2566^2) = 355.2 kN;
    # M = 355.2 x (0.48 + 0.58 x 25.051 x 0.11 + 17 x 0.13) = 1523 N.m
    assert torque == pytest.approx(1523, rel=0.002)


@pytest.mark.parametrize(
    ("topic", "quantity", "inputs"),
    [
        ("gasket_creep", "anything", {}),
        ("thread_metric", "colour", {"thread": "M8"}),
        ("strength_inch", "proof strength", {"spec": "A193 B7", "size_in": "<=2-1/2"}),  # the standard gives none
        ("strength_inch", "proof strength", {"spec": "SAE J429", "grade": "5", "size_in": "3-2"}),
        ("nut_factor", "nut factor K lower", {"condition": "wet paint on string"}),
        ("units", "1 furlong", {}),
    ],
)
def test_what_is_not_covered_is_an_error(topic: str, quantity: str, inputs: dict[str, object]) -> None:
    with pytest.raises(LookupError):
        evaluate(topic, quantity, inputs)
    if topic == "gasket_creep":
        with pytest.raises(NotEvaluatedError, match=r"covered: .*head_dimensions"):
            evaluate(topic, quantity, inputs)
