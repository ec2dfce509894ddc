"""Materials, and what temperature does to modulus and strength."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue, material_rows
from evenpull.catalogue.materials import temperature_curves
from evenpull.joint.parts.materials import modulus_curve, strength_curve


@pytest.mark.parametrize(
    ("name", "same_as"),
    [
        ("S235JR", "S235"), ("St 37-2", "S235"), ("1.0038", "S235"), ("s 235", "S235"), ("EN AW-7075", "AW-7075"),
        ("AW-6082 (AlMgSi1 F31)", "AW-6082"), ("EN-GJL-250", "GJL-250"), ("gg-25", "GJL-250"),
        ("A-286", "X5NiCrTi26-15"),
        ("Ti-6Al-4V", "TiAl6V4"), ("AlMg4,5Mn F27", "AW-5083"), ("1.4401", "X5CrNiMo17-12-2"), ("A4", "316"),
    ],
)
def test_one_material_has_many_names(name: str, same_as: str) -> None:
    assert joint.material(name) == joint.material(same_as)


def test_a_name_of_two_states_is_not_chosen_silently() -> None:
    """Limiting pressures of VDI 2230: Cq45 630 MPa (2003), C45 V 700 MPa (1986); both from memory, not re-read."""
    with pytest.raises(NotInCatalogue, match=r"Cq45 \(R_m 700 MPa\), C45 V \(R_m 800 MPa\)"):
        joint.material("C45")
    assert joint.material("C45", R_m=700e6).p_G == 630e6
    assert joint.material("C45", R_m=800e6).p_G == 700e6
    with pytest.raises(NotInCatalogue, match="R_m 1500 MPa"):
        joint.material("C45", R_m=1500e6)


def test_editions_of_the_limiting_pressure_differ_and_are_named() -> None:
    """S235: 260 MPa in the older edition, 490 MPa in that of 2003 (the difference was read, the values from memory)."""
    assert joint.p_G("S235") == joint.p_G("S235", edition="2003") == 490e6
    assert joint.p_G("S235", edition="1986") == 260e6
    with pytest.raises(NotInCatalogue, match="known: 2003"):
        joint.p_G("S355", edition="1986")
    with pytest.raises(NotInCatalogue, match="limiting surface pressure"):
        joint.p_G("316")


def test_what_no_source_gives_is_not_invented() -> None:
    iron = joint.material("GJL-250")
    assert iron.R_p02 is None  # grey iron has no yield point
    assert joint.material("steel").R_m is None and joint.material("steel").p_G is None
    with pytest.raises(NotInCatalogue, match="state its values"):
        joint.material("unobtainium")
    with pytest.raises(NotInCatalogue):
        joint.material("S355 (S235)")  # two names, two materials


def test_every_row_makes_sense_and_names_are_not_shared_unless_the_strength_tells() -> None:
    rows = material_rows()
    assert len(rows) >= 50
    for row in rows:
        assert 40e9 < row.E < 230e9 and 5e-6 < row.alpha < 30e-6, row.name
        assert row.source and row.group, row.name
        if row.R_m is not None:
            assert row.R_p02 is None or row.R_p02 < row.R_m, row.name
            assert joint.material(row.name, R_m=row.R_m).E == row.E
        if row.curve is not None:
            assert row.curve in temperature_curves("modulus"), row.name
    names = [row.name for row in rows]
    assert len(set(names)) == len(names)


def test_pressure_limits_lie_between_yield_and_twice_the_tensile_strength() -> None:
    """Common practice, no source: a guard against a slipped row. Grey iron bears several times its tensile strength."""
    for row in material_rows():
        if row.p_G is not None and row.R_m is not None and "grey" not in row.group:
            assert 0.4 * row.R_m < row.p_G < 2.0 * row.R_m, row.name


def test_yield_strength_at_temperature() -> None:
    """ISO 898-1:1999 annex A: class 8.8 640, 590, 540, 510, 480 MPa at 20 to 300 degC (from memory, not re-read)."""
    assert joint.strength_ratio("8.8", 20.0) == pytest.approx(1.0, abs=1e-12)
    assert 640 * joint.strength_ratio("class 8.8", 250.0) == pytest.approx(510)
    assert 940 * joint.strength_ratio("10.9", 150.0) == pytest.approx((875 + 790) / 2)  # straight between the points
    assert joint.strength_ratio("A4-80", 200.0) == joint.strength_ratio("A2-70", 200.0) == pytest.approx(0.80)
    assert joint.strength_ratio("fire", 500.0) == pytest.approx(0.55)  # EN 1993-1-2 Table D.1, from memory
    # 500 degF is 260 degC: B7 88.5 of 105 ksi (ASME BPVC II-D Table Y-1, from memory)
    assert joint.strength_ratio("ASTM A193 B7", 260.0) == pytest.approx(88.5 / 105)
    assert type(joint.strength_ratio("8.8", 100.0)) is float


def test_modulus_at_temperature() -> None:
    """ASME BPVC II-D Table TM-1M (from memory): carbon steel 202 GPa at room temperature, 185 GPa at 300 degC."""
    assert joint.E_ratio("S355", 300.0) == pytest.approx(185 / 202)
    assert joint.E_ratio("carbon steel", 300.0) == joint.E_ratio("S235", 300.0)
    several = joint.E_ratio("316", np.array([20.0, 60.0, 100.0]))
    assert several == pytest.approx([1.0, (1.0 + 189 / 195) / 2, 189 / 195], abs=0.002)
    assert modulus_curve("42CrMo4").source.startswith("ASME") and strength_curve("A4-70").status == "memory"


@pytest.mark.parametrize("T", [19.0, 301.0, -40.0, math.nan, math.inf, np.array([20.0, 400.0])])
def test_outside_the_table_there_is_no_value(T: float) -> None:
    with pytest.raises(ValueError, match="covers 20 to 300 degC"):
        joint.strength_ratio("8.8", T)


def test_no_curve_no_ratio() -> None:
    for name in ("GJL-250", "AW-7075", "brass"):
        with pytest.raises(NotInCatalogue, match="state the ratio"):
            joint.E_ratio(name, 100.0)
    for name in ("A2-50", "4.6", "9.8", "SAE J429 grade 5"):
        with pytest.raises(NotInCatalogue, match="state the ratio"):
            joint.strength_ratio(name, 100.0)


@pytest.mark.parametrize("kind", ["modulus", "strength"])
def test_curves_begin_at_one_and_never_rise(kind: str) -> None:
    for curve in temperature_curves(kind).values():
        temperatures, ratios = zip(*curve.points, strict=True)
        assert ratios[0] == pytest.approx(1.0) and temperatures[0] == pytest.approx(20.0), curve.name
        assert list(temperatures) == sorted(set(temperatures)), curve.name
        assert all(a >= b for a, b in itertools.pairwise(ratios)), curve.name
