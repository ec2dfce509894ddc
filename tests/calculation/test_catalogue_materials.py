"""Materials of a calculation file by their names in the catalogue."""

from __future__ import annotations

import re

import pytest

from evenpull import joint
from evenpull.calculation import read_calculation
from evenpull.plan import SpecificationError
from tests.calculation.files import plain


def _without_description() -> str:
    return re.sub(r"\[\[material\]\]\nname = \"part steel\"\n(?:\w+ = .*\n)+", "", plain())


def test_a_material_by_its_name_alone() -> None:
    text = _without_description().replace("part steel", "S355")
    layer = read_calculation(text, "t.toml").case.layers[0]
    assert layer.material == joint.material("S355")
    assert "VDI 2230" in layer.material.source and layer.material.status == "memory"


def test_a_name_of_two_states_is_a_fault_that_names_them() -> None:
    text = _without_description().replace("part steel", "C45")
    with pytest.raises(SpecificationError) as caught:
        read_calculation(text, "t.toml")
    assert "Cq45 (R_m 700 MPa), C45 V (R_m 800 MPa)" in str(caught.value)


def test_the_file_comes_first() -> None:
    text = plain().replace("part steel", "S355")
    assert read_calculation(text, "t.toml").case.layers[0].material.p_G == 490e6  # as the file says, not the catalogue
