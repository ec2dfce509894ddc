"""Textbook joint: against Shigley examples 8-4 and 8-5, by hand, and step by step."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue
from evenpull.joint.case import (
    Bolt,
    CaseError,
    Counterpart,
    Friction,
    JointCase,
    Layer,
    Limits,
    Loads,
    Material,
    Section,
    Tightening,
)
from evenpull.joint.rules import shigley
from evenpull.joint.traced import Band
from evenpull.quantities import to_si
from tests.mechanics.formulas import recompute

INCH, KIP, KSI, MPSI = 0.0254, to_si(1, "kip", "force"), to_si(1, "ksi", "stress"), to_si(1000, "ksi", "stress")
STEEL, IRON = Material("steel", 30 * MPSI, None), Material("cast iron", 16 * MPSI, None)
K_SI = to_si(1, "lbf", "force") * 1e6 / INCH  # Mlbf/in


def cap_screw(**changes: object) -> JointCase:
    """Shigley example 8-5: 5/8-11 UNC grade 5 cap screw, hardened washer, steel cover, cast-iron base."""
    thread = joint.thread("5/8-11 UNC")
    base = JointCase(
        name="example 8-5",
        bolt=Bolt(thread=thread, strength=joint.strength("SAE J429 grade 5", thread), material=STEEL, head="hexagon",
                  d_w=0.9375 * INCH, sections=()),
        counterpart=Counterpart(kind="tapped hole", material=IRON, engagement=0.625 * INCH),
        layers=(Layer(name="washer", length=0.0625 * INCH, material=STEEL, d_h=0.65 * INCH, washer=True),
                Layer(name="cover", length=0.625 * INCH, material=STEEL, d_h=0.65 * INCH)),
        friction=Friction(mu_G=Band(0.1, 0.15, 0.2), mu_K=Band(0.1, 0.15, 0.2)),
        tightening=Tightening(reused=True),
        loads=Loads(F_A_max=5 * KIP),
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


def test_example_8_5() -> None:
    result = shigley.apply(cap_screw())

    def value(symbol: str) -> float:
        return result.by_symbol(symbol).value

    # printed: l = 1 in, k_1 = 46.46, k_2 = 197.43, k_3 = 32.39 Mlbf/in, k_b = 6.78, k_m = 17.40, C = 0.280
    assert value("l") == pytest.approx(1.0 * INCH)
    assert value("k_1") / K_SI == pytest.approx(46.46, rel=2e-3)
    assert value("k_2") / K_SI == pytest.approx(197.43, rel=3e-3)
    assert value("k_3") / K_SI == pytest.approx(32.39, rel=2e-3)
    assert value("k_b") / K_SI == pytest.approx(6.78, rel=2e-3)
    assert value("k_m") / K_SI == pytest.approx(17.40, rel=2e-3)
    assert value("C") == pytest.approx(0.280, abs=1e-3)
    # printed with F_i rounded to 14.4 kip: n_p = 1.22, n_L = 3.44, n_0 = 4.00
    assert value("n_p") == pytest.approx(1.22, abs=0.01)
    assert value("n_L") == pytest.approx(3.44, abs=0.02)
    assert value("n_0") == pytest.approx(4.00, abs=0.01)
    # printed: sigma_i 63.72, sigma_a 3.10, sigma_m 66.82; Goodman S_a 7.55, Gerber 11.32 ksi
    stresses = {"sigma_i": 63.72, "sigma_a": 3.10, "sigma_m": 66.82, "S_aG": 7.55, "S_aGe": 11.32}
    for symbol, printed in stresses.items():
        assert value(symbol) / KSI == pytest.approx(printed, rel=2e-3), symbol
    assert value("n_fG") == pytest.approx(7.55 / 3.10, rel=3e-3)
    assert joint.proof_line(85.0, 63.72) == pytest.approx(10.64, abs=0.005)
    assert not result.failed and not result.not_judged


def test_example_8_4_with_six_bolts() -> None:
    """Grade 5, 5/8-11, grip 1.5 in of cast iron at 14 Mpsi, shank and thread 0.75 in each, 36 kip on six bolts."""
    iron = Material("grey cast iron", 14 * MPSI, None)
    case = cap_screw(
        counterpart=Counterpart(kind="nut", material=STEEL, d_w=0.9375 * INCH),
        layers=(Layer(name="flange", length=1.5 * INCH, material=iron, d_h=0.65 * INCH),),
        loads=Loads(F_A_max=6 * KIP),
    )
    shank = (Section(0.75 * INCH, 0.625 * INCH),)
    result = shigley.apply(dataclasses.replace(case, bolt=dataclasses.replace(case.bolt, sections=shank)))
    assert result.by_symbol("k_b").value / K_SI == pytest.approx(5.21, rel=2e-3)
    assert result.by_symbol("k_m").value / K_SI == pytest.approx(8.95, rel=2e-3)
    for symbol, printed in (("n_L", 2.18), ("n_p", 1.16), ("n_0", 3.80)):
        assert result.by_symbol(symbol).value == pytest.approx(printed, abs=0.01), symbol
    assert joint.bolts_needed(2.0, 0.3677, 36.0, 85.0, 0.226, 14.4) == pytest.approx(5.52, abs=0.02)


CHANGES: list[dict[str, object]] = [
    {},
    {"tightening": Tightening(reused=False)},
    {"tightening": Tightening(torque=150.0)},
    {"tightening": Tightening(preload=60e3)},
    {"loads": Loads()},
    {"loads": Loads(F_A_max=20e3, F_A_min=5e3)},
    {"loads": Loads(F_A_max=20e3, F_A_min=-5e3)},
    {"limits": Limits(S_e=100e6, n_d=1.5)},
    {"friction": Friction(mu_G=Band(0.1, 0.15, 0.2), mu_K=Band(0.1, 0.15, 0.2), K=Band(0.18, 0.2, 0.22))},
    {"counterpart": Counterpart(kind="nut", material=STEEL, d_w=0.9375 * INCH)},
]


@pytest.mark.parametrize("changes", CHANGES)
def test_every_step_can_be_computed_again(changes: dict[str, object]) -> None:
    result = shigley.apply(cap_screw(**changes))
    seen = 0
    for step in result.steps:
        assert math.isfinite(step.value)
        if "=" in step.formula:
            seen += 1
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9), step.symbol
    assert seen >= 10
    assert result.preload is not None and result.torque is not None


def test_several_sections_stretch_one_after_the_other() -> None:
    case = cap_screw()
    sections = (Section(0.2 * INCH, 0.625 * INCH), Section(0.3 * INCH, 0.5 * INCH))
    result = shigley.apply(dataclasses.replace(case, bolt=dataclasses.replace(case.bolt, sections=sections)))
    step = result.by_symbol("A_d")
    assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9)


def test_window_lies_between_separation_and_overload() -> None:
    result = shigley.apply(cap_screw(limits=Limits(n_d=2.0)))
    assert result.preload is not None
    C, P, F_p = (result.by_symbol(symbol).value for symbol in ("C", "P", "F_p"))
    for F_i, factor in ((result.preload.low, joint.separation_factor(result.preload.low, C, P)),
                        (result.preload.high, joint.overload_factor(F_p, 1.0, C, P, result.preload.high))):
        assert F_i > 0 and factor == pytest.approx(2.0)


def test_without_proof_strength_nothing_is_invented() -> None:
    thread = joint.thread("5/8-11 UNC")
    b7 = joint.strength("A193 B7", thread)
    assert b7.S_p is None
    bare = cap_screw(bolt=dataclasses.replace(cap_screw().bolt, strength=b7))
    with pytest.raises(CaseError, match="proof strength"):
        shigley.apply(bare)
    result = shigley.apply(dataclasses.replace(bare, tightening=Tightening(preload=60e3)))
    assert {check.symbol for check in result.not_judged} >= {"n_p", "n_L", "n_fG", "n_fGe", "n_fA"}
    assert "F_p" not in {step.symbol for step in result.steps}


def test_class_without_endurance_strength_is_not_judged() -> None:
    m12 = joint.thread("M12")
    bolt = dataclasses.replace(cap_screw().bolt, thread=m12, strength=joint.strength("8.8", m12))
    result = shigley.apply(cap_screw(bolt=bolt))
    assert {check.symbol for check in result.not_judged} == {"n_fG", "n_fGe", "n_fA"}  # Table 8-17 starts at M16
    assert all("8.8" in check.text for check in result.not_judged)
    stated = shigley.apply(cap_screw(bolt=bolt, limits=Limits(S_e=129e6)))
    assert not stated.not_judged


def test_preload_above_the_strength_is_not_accepted() -> None:
    result = shigley.apply(cap_screw(tightening=Tightening(preload=100e3)))
    assert "F_i" in {check.symbol for check in result.failed}
    assert "n_fA" in {check.symbol for check in result.not_judged}


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"loads": Loads(F_A_max=1e3, F_A_min=2e3)}, "F_A_min"),
        ({"loads": Loads(F_A_max=-1e3, F_A_min=-2e3)}, "F_A_max"),
        ({"loads": Loads(F_A_max=float("nan"))}, "F_A_max"),
        ({"limits": Limits(n_d=0.0)}, "n_d"),
        ({"limits": Limits(largest_preload=-1.0)}, "largest_preload"),
        ({"limits": Limits(S_e=-1.0)}, "S_e"),
        ({"tightening": Tightening(torque=100.0, preload=1e4)}, "both stated"),
        ({"tightening": Tightening(torque=float("inf"))}, "tightening.torque"),
        ({"friction": Friction(mu_G=Band(0, 0, 0), mu_K=Band(0.1, 0.1, 0.1))}, "mu_G"),
        ({"layers": ()}, "layers"),
    ],
)
def test_cases_it_refuses(changes: dict[str, object], named: str) -> None:
    with pytest.raises(CaseError, match=named):
        shigley.apply(cap_screw(**changes))


def test_fatigue_lines_meet_their_own_equations() -> None:
    """Each strength amplitude lies on its line of failure, for load lines of any slope."""
    S_e, S_ut, S_p, s_i = 129e6, 830e6, 600e6, 400e6
    for r in (1.0, 0.4, 2.5, np.array([0.2, 1.0, 3.0])):
        a = joint.goodman(S_e, S_ut, s_i, r)
        assert a / S_e + (s_i + a / r) / S_ut == pytest.approx(1.0)
        a = joint.gerber(S_e, S_ut, s_i, r)
        assert a / S_e + ((s_i + a / r) / S_ut) ** 2 == pytest.approx(1.0)
        a = joint.asme_elliptic(S_e, S_p, s_i, r)
        assert (a / S_e) ** 2 + ((s_i + a / r) / S_p) ** 2 == pytest.approx(1.0)
        a = joint.proof_line(S_p, s_i, r)
        assert s_i + a / r + a == pytest.approx(S_p)
    with pytest.raises(ValueError, match="sigma_a"):
        joint.fatigue_factor(1.0, 0.0)
    with pytest.raises(ValueError, match="preload stress"):
        joint.goodman(S_e, S_ut, 900e6)
    with pytest.raises(ValueError, match="positive mean"):
        joint.load_line(1.0, -1.0)


def test_endurance_table() -> None:
    assert joint.endurance_strength("SAE 5", 0.5 * INCH).S_e == pytest.approx(18.6 * KSI)
    assert joint.endurance_strength("SAE J429 grade 5", 1.25 * INCH).S_e == pytest.approx(16.3 * KSI)
    assert joint.endurance_strength("10.9", 0.036).S_e == pytest.approx(162e6)
    for name, d in (("8.8", 0.012), ("SAE 5", 1.06 * INCH), ("A193 B7", 0.016), ("12.9", 0.04)):
        with pytest.raises(NotInCatalogue):
            joint.endurance_strength(name, d)


def test_torque_coefficient_near_two_tenths() -> None:
    """With 0.15 in thread and collar K is near 0.2 for every size (Shigley Table 8-16 and text)."""
    for size in ("1/4-20", "1/2-13", "3/4-16", "1-8", "M8", "M24"):
        assert joint.torque_coefficient(joint.thread(size), 0.15, 0.15) == pytest.approx(0.19, abs=0.015)


def test_another_textbook_rounds_the_slope_of_the_cone() -> None:
    """0.58 for tan 30 deg, as another textbook prints it, gives another stiffness; that is no error of either."""
    ours = joint.member_stiffness(207e9, 0.016, 0.05)
    other = joint.frustum_stiffness(0.016, 0.024, 0.025, 207e9, math.atan(0.58)) / 2
    assert joint.frustum_stiffness(0.016, 0.024, 0.025, 207e9) / 2 == pytest.approx(ours, rel=1e-12)
    assert 1.001 < other / ours < 1.005


def test_turn_of_the_nut_is_elastic_angle() -> None:
    theta = joint.nut_turn(25e3, 5e8, 1e9, 1.5e-3)
    assert math.degrees(theta) == pytest.approx(360 / 1.5 * 25e3 * (1 / 500e3 + 1 / 1000e3), rel=1e-12)


def test_bolts_on_a_circle() -> None:
    M, R, N = 12000.0, 4.0, 12
    loads = joint.bolt_on_circle(M, R, N, 2 * math.pi * np.arange(N) / N)
    assert float(np.sum(loads * R * np.sin(2 * math.pi * np.arange(N) / N))) == pytest.approx(M)  # equilibrium
    assert joint.bolt_on_circle(M, R, N) == pytest.approx(500)
    assert joint.bolt_on_circle_arc(M, R, N) == pytest.approx(494, abs=0.6)
    assert joint.bolt_on_circle_arc(M, R, 1000) == pytest.approx(joint.bolt_on_circle(M, R, 1000), rel=1e-5)
    for N_bad in (0, 2, -3):
        with pytest.raises(ValueError, match="three bolts"):
            joint.bolt_on_circle(M, R, N_bad)


def test_power_screw() -> None:
    """Shigley problem 8-4: 5 kN, lead 5 mm, d_m 22.5 mm, f 0.09, collar 45 mm at 0.06."""
    raised = joint.T_textbook(5e3, 0.0225, 0.005, 0.09, 0.06, 0.045, 0.0)
    assert raised == pytest.approx(15.85, rel=1e-3)
    assert joint.torque_to_lower(5e3, 0.0225, 0.005, 0.09, 0.0, 0.06, 0.045) == pytest.approx(7.83, rel=1e-3)
    assert joint.efficiency(5e3, 0.005, raised) == pytest.approx(0.251, abs=1e-3)
    least = joint.self_locking_friction(0.005, 0.0225)
    assert joint.torque_to_lower(5e3, 0.0225, 0.005, least) == pytest.approx(0.0, abs=1e-9)
    assert joint.torque_to_lower(5e3, 0.0225, 0.005, least / 2) < 0  # the load drives the screw
    with pytest.raises(ValueError, match="friction"):
        joint.torque_to_lower(5e3, 0.0225, 0.005, -0.1)
