"""Which way the mechanics have to go, and where two ways to one number meet: properties, not printed values."""

from __future__ import annotations

import math
from dataclasses import replace

import pint
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from evenpull import joint
from evenpull.joint import rules
from evenpull.joint.case import Eccentricity, Embedding, Friction, Loads, Material, Service, Tightening
from evenpull.joint.rules import shigley, vdi2230
from evenpull.joint.service import fatigue, preload_limits
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience, load_factor
from evenpull.joint.tightening import torque
from evenpull.joint.uncertainty.spread import spread_of

from .spread_cases import m16
from .stiffness_cases import case_of, layer
from .vdi_cases import ALL, VJ1, same

TRIES = settings(max_examples=20)
M12 = joint.thread("M12")
MU = st.floats(0.04, 0.4)


def value(case: joint.JointCase, symbol: str) -> float:
    return vdi2230.apply(case).by_symbol(symbol).value


@TRIES
@given(mu=MU, more=st.floats(1e-3, 0.2), other=MU)
def test_more_friction_gives_less_load_and_less_permissible_load(mu: float, more: float, other: float) -> None:
    assert torque.F_M(80, M12, mu + more, other, 15e-3) < torque.F_M(80, M12, mu, other, 15e-3)
    assert torque.F_M(80, M12, other, mu + more, 15e-3) < torque.F_M(80, M12, other, mu, 15e-3)
    strength = joint.strength("10.9", M12)
    assert torque.F_M_zul(M12, strength, mu + more) < torque.F_M_zul(M12, strength, mu)


@pytest.mark.parametrize("name", ALL)
@TRIES
@given(alpha=st.floats(1, 3), more=st.floats(1e-3, 1), f_Z=st.just(0.0) | st.floats(1e-8, 2e-5),
       deeper=st.floats(1e-7, 1e-5))
def test_wider_scatter_and_deeper_embedding_ask_for_more(
    name: str, alpha: float, more: float, f_Z: float, deeper: float
) -> None:
    case = replace(ALL[name], tightening=replace(ALL[name].tightening, alpha_A=alpha))
    wide = replace(case, tightening=replace(case.tightening, alpha_A=alpha + more))
    assert value(wide, "F_M_max") > value(case, "F_M_max")
    assert value(wide, "F_KR_min") < value(case, "F_KR_min")
    flat, deep = (replace(case, embedding=Embedding(f_Z=depth)) for depth in (f_Z, f_Z + deeper))
    assert value(deep, "F_Z") > value(flat, "F_Z")
    assert value(deep, "F_M_min") > value(flat, "F_M_min")


@TRIES
@given(E=st.floats(4e10, 2e11), softer=st.floats(0.2, 0.95))
def test_softer_parts_give_the_bolt_more_of_the_load(E: float, softer: float) -> None:
    def Phi(modulus: float) -> float:
        case = case_of("M12", (layer(30, 13.5, 40, Material("part", modulus, None)),), 17)
        return float(load_factor(1.0, clamped_resilience(case).total, bolt_resilience(case).total))

    assert 0 < Phi(E) < Phi(E * softer) < 1


@TRIES
@given(length=st.floats(5, 80), wide=st.floats(500, 5000))
def test_very_wide_and_very_short_parts(length: float, wide: float) -> None:
    near = clamped_resilience(case_of("M12", (layer(length, 13.5, 60),), 17)).total
    far = clamped_resilience(case_of("M12", (layer(length, 13.5, wide),), 17)).total
    assert 0.5 * near < far <= near * 1.001  # a wide part is stiffer, and not without end
    ring = math.pi / 4 * ((17e-3) ** 2 - (13.5e-3) ** 2)
    short = clamped_resilience(case_of("M12", (layer(0.05, 13.5, 60),), 17)).total
    assert short == pytest.approx(0.05e-3 / (205e9 * ring), rel=0.02)  # no room for a cone: the bare ring


@pytest.mark.parametrize("name", ALL)
@TRIES
@given(F_Kerf=st.floats(1e2, 2e4), dT=st.floats(-60, 60), ratio=st.floats(0.8, 1.05))
def test_a_bolt_loaded_to_F_M_max_keeps_exactly_what_is_needed(
    name: str, F_Kerf: float, dT: float, ratio: float
) -> None:
    """R12 is R5 and R6 read backwards: with alpha_A chosen so that F_M_zul = F_M_max, F_KR_min = F_Kerf."""
    base = ALL[name]
    aluminium = Material("aluminium", 70e9, 23e-6)
    case = replace(base, loads=replace(base.loads, F_Kerf=F_Kerf),
                   layers=tuple(replace(one, material=aluminium) for one in base.layers),
                   service=Service(T_S=20 + dT, T_P=20 + dT, E_S_ratio=1.0, E_P_ratio=ratio))
    first = vdi2230.apply(replace(case, tightening=replace(case.tightening, alpha_A=1.0)))
    alpha = first.by_symbol("F_M_zul").value / first.by_symbol("F_M_min").value
    assume(alpha >= 1)
    exact = vdi2230.apply(replace(case, tightening=replace(case.tightening, alpha_A=alpha)))
    assert exact.by_symbol("F_M_max").value == pytest.approx(exact.by_symbol("F_M_zul").value)
    left = exact.by_symbol("F_KR_min").value
    if exact.by_symbol("dF_Vth").value >= 0 or ratio == 1.0:
        assert left == pytest.approx(F_Kerf, rel=1e-6, abs=1e-3)
    else:
        assert left <= F_Kerf * (1 + 1e-6)


@TRIES
@given(dT=st.floats(1, 30))
def test_heat_counts_only_where_it_harms(dT: float) -> None:
    """Aluminium grows more than steel: warm, the load rises and R8 counts it; cold, it falls and R5 counts it."""
    parts = tuple(replace(one, material=Material("aluminium", 70e9, 23e-6)) for one in VJ1.layers)
    still = replace(VJ1, layers=parts)
    warm = replace(still, service=Service(T_S=20 + dT, T_P=20 + dT))
    cold = replace(still, service=Service(T_S=20 - dT, T_P=20 - dT))
    assert value(warm, "dF_Vth") < 0 < value(cold, "dF_Vth")
    assert value(warm, "F_M_min") == pytest.approx(value(still, "F_M_min"))
    assert value(cold, "F_M_min") > value(still, "F_M_min")
    assert value(warm, "S_F") < value(still, "S_F")
    assert value(cold, "S_F") == pytest.approx(value(still, "S_F"))


@TRIES
@given(S_e=st.floats(5e7, 3e8), S_ut=st.floats(6e8, 1.5e9), share=st.floats(0, 0.95))
def test_fatigue_strengths_lie_on_their_own_curves(S_e: float, S_ut: float, share: float) -> None:
    S_p = 0.8 * S_ut
    sigma_i = share * S_p
    for S_a, curve in (
        (fatigue.goodman(S_e, S_ut, sigma_i, 1.0), lambda a, m: a / S_e + m / S_ut),
        (fatigue.gerber(S_e, S_ut, sigma_i, 1.0), lambda a, m: a / S_e + (m / S_ut) ** 2),
        (fatigue.asme_elliptic(S_e, S_p, sigma_i, 1.0), lambda a, m: (a / S_e) ** 2 + (m / S_p) ** 2),
    ):
        assert S_a > 0
        assert curve(S_a, sigma_i + S_a) == pytest.approx(1, rel=1e-6)
    assert fatigue.goodman(S_e, S_ut, sigma_i, 1.0) <= fatigue.gerber(S_e, S_ut, sigma_i, 1.0)


@TRIES
@given(Gamma=st.floats(0, 0.9), c_min=st.floats(0.5, 1), c_max=st.floats(1, 2), n=st.integers(1, 50))
def test_preload_limits_stand_in_order(Gamma: float, c_min: float, c_max: float, n: int) -> None:
    least, shared = preload_limits.P_pi_min(1e4, c_min, Gamma), preload_limits.P_pi_min_shared(1e4, c_min, Gamma, n)
    assert 0 < least <= shared * (1 + 1e-12) <= 1e4 * (1 + 1e-12) <= preload_limits.P_pi_max(1e4, c_max, Gamma) + 1e-8
    assert preload_limits.P_pi_min_shared(1e4, c_min, Gamma, 1) == pytest.approx(least)


def test_units_of_the_chain_agree() -> None:
    """R13 and R3 in lbf, inch and ft.lbf by pint, as the library in SI."""
    u = pint.UnitRegistry()
    size = joint.thread("3/4-10 UNC")
    P, d2, mean = (u.Quantity(x, "m").to("inch") for x in (size.P, size.d2, 24e-3))
    F = u.Quantity(20e3, "lbf")
    T = (F * (0.16 * P + 0.58 * d2 * 0.12 + mean / 2 * 0.12)).to("ft * lbf")
    assert T.to("N * m").magnitude == pytest.approx(torque.M_A(F.to("N").magnitude, size, 0.12, 0.12, 24e-3))
    case = case_of("M12", (layer(30, 13.5, 40),), 17)
    delta = u.Quantity(bolt_resilience(case).total, "m/N") + u.Quantity(clamped_resilience(case).total, "m/N")
    assert (u.Quantity(10, "um") / delta).to("kN").magnitude == pytest.approx(
        joint.F_Z(10e-6, bolt_resilience(case).total, clamped_resilience(case).total) / 1e3)


ECCENTRIC = Eccentricity(s_sym=-1.5e-3, a=60e-3, I_Bers=2e-8, I_BT=2e-8, A_D=8e-4, u=10e-3)


def test_a_load_that_relieves_the_bolt_is_not_counted_on() -> None:
    """Phi below zero: the bolt alone, without the working load, is the worst case of R8; the fatigue still counts."""
    case = replace(VJ1, eccentricity=ECCENTRIC, loads=replace(VJ1.loads, F_A_max=2e3, F_A_min=0.0, n=1.0))
    found = vdi2230.apply(case)
    assert found.by_symbol("Phi").value < 0
    assert found.by_symbol("F_SA_max").value == 0
    assert found.by_symbol("F_S_max").value >= found.by_symbol("F_M_zul").value
    assert found.by_symbol("sigma_a").value > 0
    assert any("outside 0 to 1" in note for note in found.notes)


def test_parts_that_come_apart_leave_the_bolt_unjudged_by_the_load_factor() -> None:
    apart = vdi2230.apply(replace(VJ1, loads=replace(VJ1.loads, F_A_max=60e3, F_Kerf=0.0)))
    assert apart.by_symbol("F_KR_min").value < 0
    for check in apart.checks:
        assert check.symbol not in ("S_F", "S_D") or not check.holds
    book = shigley.apply(replace(VJ1, tightening=Tightening(preload=5e3), loads=Loads(F_A_max=20e3)))
    assert book.by_symbol("n_0").value < 1
    assert not any(check.holds for check in book.checks if check.symbol in ("n_p", "n_L", "n_fG", "n_fGe", "n_fA"))


def test_sealing_counts_beside_a_stated_clamp_load() -> None:
    """A stated F_Kerf smaller than what sealing needs does not silence the sealing."""
    case = replace(VJ1, loads=replace(VJ1.loads, F_Kerf=1e3, sealing_pressure=1e7, sealing_area=5e-3))
    check = next(one for one in vdi2230.apply(case).checks if one.symbol == "F_shut")
    assert check.limit == pytest.approx(50e3)
    assert check.holds is False
    assert "F_shut" not in {one.symbol for one in vdi2230.apply(VJ1).checks}


def test_n_of_zero_leaves_nothing_to_fatigue() -> None:
    found = vdi2230.apply(replace(VJ1, loads=replace(VJ1.loads, n=0.0)))
    assert next(check for check in found.checks if check.symbol == "S_D").holds is None


@TRIES
@given(mu=MU, low=st.floats(0.5, 1), high=st.floats(1, 1.5), s=st.just(0.0) | st.floats(1e-6, 0.3))
def test_torque_windows_rise(mu: float, low: float, high: float, s: float) -> None:
    band = joint.Band(mu * low, mu, mu * high)
    for key in ("vdi2230", "shigley"):
        case = replace(VJ1, friction=Friction(mu_G=band, mu_K=same(mu)),
                       tightening=Tightening(alpha_A=1.6, tool_scatter=s))
        found = rules.apply(key, case)
        for window in (found.torque, found.preload):
            assert window is None or 0 <= window.low <= window.nominal <= window.high


def test_first_order_of_a_joint_that_may_carry_nothing_is_sure_and_not_a_number_lost() -> None:
    """The working load alone passes the yield strength: every preload is too much, and the chance of it is 1."""
    case = m16(loads=Loads(F_A_max=900e3, n=1.0))
    p = spread_of(case, trials=2000).probability
    assert p.above == p.above_first_order == 1.0
    assert p.within == 0.0


def test_the_scatter_says_that_it_leaves_the_eccentricity_out() -> None:
    notes = spread_of(m16(eccentricity=ECCENTRIC), trials=1000).notes
    assert any("eccentricity" in note for note in notes)
    assert not any("eccentricity" in note for note in spread_of(m16(), trials=1000).notes)
