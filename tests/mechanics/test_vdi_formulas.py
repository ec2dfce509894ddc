"""Formulas of VDI 2230-1 apart from their rule set: by hand, by integration, on arrays, and what they refuse."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad

from evenpull import joint
from evenpull.joint.service import clamping, fatigue_vdi, shear, working
from evenpull.joint.springs.resilience import ring_area
from evenpull.joint.tightening.scatter import alpha_A_from_scatter
from evenpull.joint.tightening.torque import plastic_torsion_modulus

M12 = joint.thread("M12")
NAN = float("nan")


@pytest.mark.parametrize(("d_0", "d_i"), [(0.0104, 0.0), (0.0104, 0.004), (0.03, 0.0295)])
def test_torsion_moduli_against_integration(d_0: float, d_i: float) -> None:
    """Torque of a shear stress of 1 Pa: everywhere (plastic), or rising with the radius to 1 at the edge (elastic)."""
    plastic, _ = quad(lambda r: 2 * math.pi * r**2, d_i / 2, d_0 / 2)
    elastic, _ = quad(lambda r: 2 * math.pi * r**2 * r / (d_0 / 2), d_i / 2, d_0 / 2)
    assert plastic_torsion_modulus(d_0, d_i) == pytest.approx(plastic, rel=1e-9)
    assert working.elastic_torsion_modulus(d_0, d_i) == pytest.approx(elastic, rel=1e-9)


def test_any_section_gives_the_form_for_the_thread() -> None:
    d_0 = joint.stress_diameter(M12)
    ratio = joint.torsion_ratio(M12, 0.12, d_0)
    by_hand = 1.5 * M12.d2 / d_0 * (M12.P / (math.pi * M12.d2) + 1.155 * 0.12)
    assert ratio == pytest.approx(by_hand, rel=1e-12)
    assert ratio == pytest.approx(joint.torsion_ratio(M12, 0.12), rel=1e-12)
    load = working.permissible_preload(ring_area(d_0), 940e6, 0.9, ratio)
    assert load == pytest.approx(joint.F_M_zul(M12, joint.strength("10.9", M12), 0.12), rel=1e-12)


def test_a_bore_takes_more_tension_than_torsion() -> None:
    """The middle carries tension but hardly torsion: a bore lowers the area more than the torsion modulus."""
    d_0 = joint.stress_diameter(M12)
    assert joint.torsion_ratio(M12, 0.12, d_0, 0.5 * d_0) < joint.torsion_ratio(M12, 0.12, d_0)
    assert ring_area(d_0, 0.5 * d_0) == pytest.approx(0.75 * ring_area(d_0), rel=1e-12)


def test_required_clamp_load_by_hand() -> None:
    """2 kN and 30 N.m on one face, mu_T 0.15, r_a 20 mm: 13.33 + 10 = 23.33 kN; 5 MPa on 1000 mm2: 5 kN."""
    grip = clamping.F_KQ(2e3, 30.0, 1, 1, 0.02, 0.15)
    assert grip == pytest.approx(23333.3, rel=1e-5)
    assert clamping.F_KP(1e-3, 5e6) == pytest.approx(5e3)
    assert clamping.F_K_erf(grip, 5e3, 1e3) == grip  # not their sum
    assert clamping.F_K_erf(0.0, 5e3, 1e3) == 6e3
    assert clamping.F_KQ(2e3, 0.0, 2, 1, 1.0, 0.15) == pytest.approx(6666.67, rel=1e-5)  # two faces: half


def test_a_gain_by_temperature_is_not_counted_on() -> None:
    assert clamping.F_M_min(10e3, 0.1, 10e3, 1e3, -5e3) == clamping.F_M_min(10e3, 0.1, 10e3, 1e3, 0.0) == 20e3
    assert clamping.F_M_min(10e3, 0.1, 10e3, 1e3, 5e3) == 25e3
    assert clamping.F_K_R(40e3, 1.6, 0.1, 10e3, 1e3, -5e3) == 15e3


def test_tightening_factor_of_a_scatter() -> None:
    """+-23 % (torque wrench): 1.23/0.77 = 1.597, the guide value 1.6 of the table of tightening factors."""
    assert alpha_A_from_scatter(0.23) == pytest.approx(1.597, abs=5e-4)


def test_half_the_torsion_is_left_in_service() -> None:
    assert working.working_stress(300e6, 200e6) == pytest.approx(math.sqrt(300**2 + 3 * 100**2) * 1e6)
    assert working.working_stress(300e6, 200e6, 0.0) == 300e6


def test_fatigue_strength_bends_at_two_million_cycles() -> None:
    strength = fatigue_vdi.sigma_A_SV(0.010)
    assert strength == pytest.approx(51e6)  # 0.85 (150/10 + 45) MPa
    found = fatigue_vdi.at_cycles(strength, np.array([1e4, 2.5e5, 2e6, 1e9]), 1 / 3)
    assert found / strength == pytest.approx([200 ** (1 / 3), 2.0, 1.0, 1.0], rel=1e-12)
    assert fatigue_vdi.sigma_A_SG(strength, 0.7, 1.0) == pytest.approx(1.3 * strength)


def test_shear_strength_by_class() -> None:
    assert shear.shear_ratio("property class 10.9") == (0.62, "VDI 2230-1 section 5.5.6")
    assert shear.shear_ratio("A4-70") is None
    assert shear.S_A(0.62 * 1040e6, shear.shear_stress(20e3, 84.27e-6)) == pytest.approx(2.717, rel=1e-3)


@pytest.mark.parametrize("act", [
    lambda mu: clamping.F_KQ(2e3, 30.0, 1, 1, 0.02, mu),
    lambda x: clamping.F_M_min(10e3, x, 10e3, 1e3, 2e3),
    lambda x: clamping.F_K_R(40e3, 1 + x, 0.1, 10e3, 1e3, 2e3),
    lambda x: working.working_stress(300e6 * x, 200e6),
    lambda x: working.permissible_preload(84e-6, 940e6, x, 0.5),
    lambda x: fatigue_vdi.sigma_A_SV(x),
    lambda x: working.elastic_torsion_modulus(1.0, x),
])
def test_an_array_gives_what_its_elements_give(act: Callable[[object], object]) -> None:
    values = [0.1, 0.15, 0.6]
    alone = [act(value) for value in values]
    assert all(type(value) is float for value in alone)
    assert np.allclose(act(np.array(values)), alone, rtol=1e-14, atol=0)  # type: ignore[arg-type]


@pytest.mark.parametrize("act", [
    lambda: clamping.F_KQ(2e3, 0.0, 1, 1, 1.0, 0.0),
    lambda: clamping.F_KQ(2e3, 0.0, 0, 1, 1.0, 0.15),
    lambda: clamping.F_KQ(2e3, 0.0, 1, 1, NAN, 0.15),
    lambda: clamping.F_M_max(0.9, 1e3),
    lambda: clamping.F_M_max(NAN, 1e3),
    lambda: alpha_A_from_scatter(1.0),
    lambda: alpha_A_from_scatter(-0.1),
    lambda: clamping.S_G(1e3, 0.0),
    lambda: ring_area(0.01, 0.01),
    lambda: ring_area(0.01, -0.001),
    lambda: fatigue_vdi.sigma_A_SV(0.0),
    lambda: fatigue_vdi.sigma_A_SG(50e6, 0.2, 1.0),
    lambda: fatigue_vdi.sigma_A_SG(50e6, 1.0, 1.0),
    lambda: fatigue_vdi.at_cycles(50e6, 100.0, 1 / 3),
    lambda: fatigue_vdi.sigma_a(1e3, 2e3, 84e-6),
    lambda: fatigue_vdi.S_D(50e6, 0.0),
    lambda: shear.shear_stress(1e3, 0.0),
    lambda: shear.S_A(1e8, 0.0),
])
def test_senseless_numbers_are_refused(act: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        act()


def test_one_bad_element_refuses_the_array() -> None:
    with pytest.raises(ValueError, match="mu_T"):
        clamping.F_KQ(2e3, 0.0, 1, 1, 1.0, np.array([0.15, 0.0, 0.2]))
