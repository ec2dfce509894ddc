"""Eccentric clamping and loading against equilibrium and beam bending worked out here; the guideline from memory."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from evenpull import joint
from evenpull.joint.case import CaseError, Eccentricity, Gasket, Loads
from evenpull.joint.springs import eccentric
from tests.mechanics.stiffness_cases import ALUMINIUM, case_of, layer

WIDE, DEEP = 0.036, 0.050  # contact area: across the bending axis, along it
I_RECTANGLE = DEEP * WIDE**3 / 12
PLAIN = Eccentricity(s_sym=0.0, a=0.0, I_Bers=I_RECTANGLE, I_BT=I_RECTANGLE, A_D=WIDE * DEEP, u=WIDE / 2)
BASE = replace(case_of("M12", (layer(20, 13.5, WIDE * 1e3), layer(20, 13.5, WIDE * 1e3)), 16.63, shank=20),
               loads=Loads(F_A_max=8e3, n=0.6))


def model(**lever_arms: float) -> eccentric.Eccentric:
    case = replace(BASE, eccentricity=replace(PLAIN, **lever_arms))
    return joint.eccentric_model(case, joint.bolt_resilience(case), joint.clamped_resilience(case))


def test_without_lever_arms_it_is_the_concentric_joint() -> None:
    found = model()
    bolt, parts = joint.bolt_resilience(BASE), joint.clamped_resilience(BASE)
    assert found.Phi_en == pytest.approx(joint.load_factor(0.6, parts.total, bolt.total))
    assert found.delta_P_star == found.delta_P_star2 == parts.total
    assert found.opening_ratio == 0
    # no edge opens; the whole joint opens where nothing of the clamp load is left
    assert eccentric.F_Aab(20e3, found.Phi_en, PLAIN.A_D, 0.0, 0.0, PLAIN.u, PLAIN.I_BT) == pytest.approx(
        20e3 / (1 - found.Phi_en))


@given(s_sym=st.floats(-5e-3, 9e-3), a=st.floats(0, 60e-3))
def test_deflection_of_a_beam(s_sym: float, a: float) -> None:
    """The bolt's place on a beam bent by F at s_sym, and by F at a: what delta_P* and delta_P** add (Maxwell)."""
    found = model(s_sym=s_sym, a=a)
    F, l_K, E = 1000.0, 0.040, 205e9
    curvature_from_bolt, curvature_from_load = F * s_sym / (E * PLAIN.I_Bers), F * a / (E * PLAIN.I_Bers)
    plain = joint.clamped_resilience(BASE).total
    assert F * (found.delta_P_star - plain) == pytest.approx(curvature_from_bolt * l_K * s_sym, abs=1e-16)
    assert F * (found.delta_P_star2 - plain) == pytest.approx(curvature_from_load * l_K * s_sym, abs=1e-16)


@given(F_V=st.floats(1e3, 1e5), s_sym=st.floats(-3e-3, 9e-3), a=st.floats(0, 60e-3), Phi=st.floats(0, 0.5))
def test_at_the_opening_load_the_edge_is_just_free(F_V: float, s_sym: float, a: float, Phi: float) -> None:
    """Pressure at the edge from force and moment in the interface, by equilibrium of the clamped part."""
    F_A = eccentric.F_Aab(F_V, Phi, PLAIN.A_D, a, s_sym, PLAIN.u, PLAIN.I_BT)
    never = math.isinf(F_A)
    if never:
        F_A = 1e6 * F_V
    bolt = F_V + Phi * F_A
    clamp = bolt - F_A
    moment = bolt * s_sym - F_A * a
    pressure = clamp / PLAIN.A_D + moment * PLAIN.u / PLAIN.I_BT
    scale = abs(F_A) * (1 / PLAIN.A_D + (abs(s_sym) + a) * PLAIN.u / PLAIN.I_BT)
    if never:
        assert pressure > 0
        return
    assert pressure == pytest.approx(0, abs=1e-9 * scale)
    assert clamp == pytest.approx(eccentric.F_KA(F_A, PLAIN.A_D, a, s_sym, PLAIN.u, PLAIN.I_BT), abs=1e-9 * scale)


def test_the_side_of_the_bolt_counts() -> None:
    """A trap: s_sym has a sign. On the side of the load the bolt carries more and the edge opens later."""
    near, far = model(s_sym=4e-3, a=20e-3), model(s_sym=-4e-3, a=20e-3)
    assert near.Phi_en > model().Phi_en > far.Phi_en
    assert near.opening_ratio < model(a=20e-3).opening_ratio < far.opening_ratio
    relieved = model(s_sym=-5.5e-3, a=0.2)
    assert relieved.Phi_en < 0 and any("relieved" in note for note in relieved.notes)


def test_cone_as_a_beam() -> None:
    d_w, D_A = 0.0166, 0.038
    length = 0.02
    flexible = quad(lambda x: 64 / (math.pi * (d_w + (D_A - d_w) * x / length) ** 4), 0, length, epsabs=0)[0]
    assert eccentric.I_cone(d_w, D_A) == pytest.approx(length / flexible, rel=1e-9)
    assert eccentric.I_cone(d_w, D_A) == pytest.approx(
        0.147 * (D_A - d_w) * d_w**3 * D_A**3 / (D_A**3 - d_w**3), rel=2e-3)  # as printed, from memory
    with pytest.raises(ValueError, match="the cone widens"):
        eccentric.I_cone(0.04, 0.02)


def test_bending_of_the_bolt() -> None:
    """The closed form of the guideline (from memory) against the moment that this module names, and beta_S by hand."""
    found = model(s_sym=3e-3, a=15e-3)
    bolt = joint.bolt_resilience(BASE)
    by_hand = sum(part.l / (part.E * math.pi / 64 * (4 * part.A / math.pi) ** 2) for part in bolt.parts)
    assert found.beta_S == pytest.approx(by_hand)
    F_A, l_K, E_P, d_S = 8e3, 0.04, 205e9, joint.stress_diameter(BASE.bolt.thread)
    A_S = math.pi / 4 * d_S**2
    sigma = eccentric.sigma_SAb(F_A, found.Phi_en, 15e-3, 3e-3, l_K, E_P, PLAIN.I_Bers, found.beta_S, d_S, A_S)
    l_ers = found.beta_S * 205e9 * math.pi / 64 * d_S**4
    closed = (1 + (1 / found.Phi_en - 3e-3 / 15e-3) * (l_K / l_ers) * (205e9 / E_P) * math.pi * 15e-3 * d_S**3
              / (8 * PLAIN.I_Bers)) * found.Phi_en * F_A / A_S
    assert sigma == pytest.approx(closed, rel=1e-12)
    assert sigma > 1.2 * found.Phi_en * F_A / A_S  # bending is no small part


def test_layers_bend_with_their_own_modulus() -> None:
    mixed = replace(BASE, layers=(layer(10, 13.5, 36), layer(30, 13.5, 36, ALUMINIUM)),
                    eccentricity=replace(PLAIN, s_sym=4e-3))
    found = joint.eccentric_model(mixed, joint.bolt_resilience(mixed), joint.clamped_resilience(mixed))
    assert found.delta_P_star - joint.clamped_resilience(mixed).total == pytest.approx(
        16e-6 / PLAIN.I_Bers * (0.010 / 205e9 + 0.030 / 70e9))


def test_limit_of_the_model() -> None:
    """G = d_w + h_min of a through bolt, G' = 1.5 d_w of a tapped hole (from memory, not re-read)."""
    inside = model()
    assert pytest.approx(16.63e-3 + 20e-3) == inside.G and inside.within and not inside.notes
    beyond = model(u=0.03)
    assert not beyond.within and "more than half of G" in beyond.notes[0]
    assert eccentric.interface_limit(0.02, 0.01, 2) == pytest.approx(0.03)


def test_arrays() -> None:
    a = np.array([0.0, 0.02])
    def opens(a: object) -> object:
        return eccentric.F_Aab(20e3, 0.1, PLAIN.A_D, a, 0.002, PLAIN.u, PLAIN.I_BT)

    assert list(opens(a)) == pytest.approx([opens(x) for x in a.tolist()])  # type: ignore[call-overload]
    assert eccentric.F_Aab(20e3, 1.2, PLAIN.A_D, 0.0, 0.001, PLAIN.u, PLAIN.I_BT) == math.inf  # nothing opens it


@pytest.mark.parametrize(("change", "message"), [
    ({"I_Bers": 0.0}, "eccentricity.I_Bers"), ({"I_BT": -1.0}, "eccentricity.I_BT"), ({"A_D": math.nan}, "A_D"),
    ({"u": 0.0}, "eccentricity.u"), ({"a": -0.01}, "give s_sym the sign"), ({"a": math.inf}, "eccentricity.a"),
    ({"s_sym": math.nan}, "eccentricity.s_sym"), ({"I_BT": 1e-3}, "can have"),
    ({"s_sym": -0.0065}, "the bolt's own load opens the edge"),
])
def test_lever_arms_that_cannot_be(change: dict[str, float], message: str) -> None:
    with pytest.raises(CaseError, match=message):
        model(**change)


def test_cases_outside_the_model() -> None:
    bolt, parts = joint.bolt_resilience(BASE), joint.clamped_resilience(BASE)
    with pytest.raises(CaseError, match="s_sym, a, I_Bers"):
        joint.eccentric_model(BASE, bolt, parts)
    with pytest.raises(CaseError, match="gasket"):
        joint.eccentric_model(replace(BASE, eccentricity=PLAIN, gasket=Gasket(stiffness=1e9)), bolt, parts)
    with pytest.raises(CaseError, match="hollow"):
        joint.eccentric_model(replace(BASE, eccentricity=PLAIN, bolt=replace(BASE.bolt, d_i=0.004)), bolt, parts)
    with pytest.raises(ValueError, match="F_V"):
        eccentric.F_Aab(0.0, 0.1, PLAIN.A_D, 0.01, 0.0, PLAIN.u, PLAIN.I_BT)
    with pytest.raises(ValueError, match="n must not be negative"):
        eccentric.Phi_en(-1.0, 1e-9, 1e-9, 1e-9)
