"""Moduli and yield strength at temperature: from the tables where materials are named, otherwise asked for."""

from __future__ import annotations

import re

import pytest

from evenpull.calculation import read_calculation
from evenpull.joint import rules
from evenpull.joint.case import CaseError
from evenpull.joint.parts.materials import E_ratio, strength_ratio
from tests.calculation.files import plain

HOT = '\n[service]\nT_S = "150 degC"\nT_P = "160 degC"\n'


def named(text: str) -> str:
    """The same joint of materials that the catalogue knows."""
    bare = re.sub(r"\[\[material\]\]\n(?:\w+ = .*\n)+", "", text)
    return bare.replace('"bolt steel"', '"42CrMo4"').replace('material = "part steel"', 'material = "S355"')


def test_the_tables_fill_what_the_file_leaves_open() -> None:
    found = read_calculation(named(plain("vdi2230")) + HOT, "hot.toml")
    service = found.case.service
    assert service.E_S_ratio == pytest.approx(E_ratio("42CrMo4", 150.0)) and 0.9 < service.E_S_ratio < 1
    assert service.E_P_ratio == pytest.approx(E_ratio("S355", 160.0))
    assert service.R_p02_ratio == pytest.approx(strength_ratio("8.8", 150.0))
    rows = {row.field: row for row in found.inputs}
    assert "from memory" in rows["service.E_S_ratio"].source
    result = rules.apply("vdi2230", found.case)
    assert result.by_symbol("r_S").value == service.E_S_ratio


def test_what_is_stated_stays() -> None:
    found = read_calculation(named(plain("vdi2230")) + HOT + "E_S_ratio = 0.93\n", "hot.toml")
    assert found.case.service.E_S_ratio == 0.93


def test_materials_of_the_file_have_no_table() -> None:
    found = read_calculation(plain("vdi2230") + HOT, "hot.toml")
    assert found.case.service.E_S_ratio is None
    with pytest.raises(CaseError, match="E_S_ratio"):
        rules.apply("vdi2230", found.case)
