"""Structural bolting: the US and the European rules, every step computed again, and the traps between them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue
from evenpull.catalogue.structural import combined_rotation, k_limits, pretension, pretensions, turn_of_nut
from evenpull.joint.case import CaseError, JointCase, Loads, Section, Tightening
from evenpull.joint.result import RuleResult
from evenpull.joint.rules import structural_eu, structural_us
from evenpull.joint.service import structural
from evenpull.quantities import from_si, to_si
from tests.mechanics.formulas import recompute
from tests.mechanics.structural_cases import INCH, eu, us

SLIP = Loads(F_A_max=20e3, F_Q=30e3, q_F=2, mu_T=0.30)
KIP = to_si(1, "kip", "force")


def slipping(case: JointCase, **loads: Any) -> JointCase:
    return replace(case, loads=replace(SLIP, **loads))


@pytest.mark.parametrize("result", [
    structural_us.apply(slipping(us())),
    structural_us.apply(us("M24", "A490M", 0.1)),
    structural_us.apply(replace(us(method="torque"), tightening=Tightening(torque=400))),
    structural_eu.apply(slipping(eu(k_class="K2", k_m=0.12, V_k=0.05))),
    structural_eu.apply(eu(k_class="K1", method="combined")),
    structural_eu.apply(eu(k_class="K1", method="combined", edition="F_p,C*")),
    structural_eu.apply(slipping(eu(k_class="K2", k_m=0.12, gamma_M3=1.1, hole="oversize"))),
], ids=["turn, slip", "metric", "torque", "EU torque", "combined", "national", "oversize"])
def test_every_step_can_be_computed_again(result: RuleResult) -> None:
    computed = 0
    for step in result.steps:
        if "=" in step.formula:
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-12), step.symbol
            computed += 1
        assert step.source and step.status
    assert computed >= 4


@pytest.mark.parametrize("row", pretensions(), ids=lambda row: f"{row.bolt} {row.size} {row.edition}")
def test_table_of_pretensions_is_the_rounded_formula(row: Any) -> None:
    """AISC 360 Table J3.1: 0.70 F_u A_t, rounded to the whole kip or kN; M20 A490M is printed one above it."""
    thread = joint.thread(row.size if row.size.startswith("M") else f"{row.size} UNC")
    area = round(thread.A_s / INCH**2, 3) * INCH**2  # the tables start from the printed area: 0.462 in2 at 7/8
    if thread.system == "metric":
        area = joint.nominal_stress_area(thread)
    exact = from_si(structural.structural_pretension(row.F_u, area), row.unit)
    printed = from_si(row.value, row.unit)
    assert printed == pytest.approx(round(exact), abs=0.01) or (row.bolt, row.size) == ("A490M", "M20")
    assert abs(printed - exact) < 0.7


def test_editions_differ_above_one_inch_and_have_to_be_named() -> None:
    assert pretension("A325", "1-1/8", "2010").value == pytest.approx(56 * KIP)
    assert pretension("A325", "1-1/8", "2016").value == pytest.approx(64 * KIP)
    assert pretension("A325", "1").value == pytest.approx(51 * KIP)
    with pytest.raises(CaseError, match=r"structural.edition: .*state the year"):
        structural_us.apply(us("1-1/8-7 UNC", "A325"))
    with pytest.raises(NotInCatalogue, match="1999"):
        pretension("A325", "1-1/8", "1999")


def test_bolt_length_is_not_the_clamped_thickness() -> None:
    """3/4 in bolt, 3.2 in long (4.27 d: 1/2 turn) on a grip of 40 mm (2.1 d: would be 1/3 turn)."""
    result = structural_us.apply(us(length=3.2 * INCH))
    assert result.angle is not None and result.angle.nominal == pytest.approx(math.pi)
    with pytest.raises(CaseError, match=r"bolt.length is missing.*not by the clamped thickness"):
        structural_us.apply(us(length=None))
    # EN 1090-2 the other way round: the length of the bolt changes nothing
    case = eu("M20", grip=(0.0205, 0.0205), k_class="K1", method="combined")  # t = 41 mm = 2.05 d
    long = replace(case, bolt=replace(case.bolt, length=0.2))
    for found in (case, long):
        angle = structural_eu.apply(found).angle
        assert angle is not None and math.degrees(angle.nominal) == pytest.approx(90)


@pytest.mark.parametrize(("length", "faces", "turn"), [
    (4, "both normal", 120), (4, "one sloped", 180), (4, "both sloped", 240), (4.01, "both normal", 180),
    (8, "one sloped", 240), (8, "both sloped", 300), (8.01, "both normal", 240), (12, "one sloped", 300),
    (12, "both sloped", 360),
])  # RCSC Table 8.2: 1/3, 1/2, 2/3 turn, and 1/6 more for each sloped face
def test_turn_of_nut(length: float, faces: str, turn: float) -> None:
    found = turn_of_nut(length, faces)
    assert math.degrees(found.angle) == pytest.approx(turn)
    # tolerance 30 deg up to half a turn, 45 deg from two thirds of a turn (2009 and 2014 editions, from memory)
    assert math.degrees(found.above) == pytest.approx(30 if turn <= 180 else 45)


def test_turn_beyond_twelve_diameters_needs_a_test() -> None:
    with pytest.raises(CaseError, match=r"beyond 12 d the rotation is found by a test"):
        structural_us.apply(us(length=9.1 * INCH))
    with pytest.raises(NotInCatalogue):
        turn_of_nut(4, "curved")


def test_verification_load_is_five_per_cent_above_the_table() -> None:
    """RCSC Table 7.1 (from memory): 3/4 A325 29 kip, 1 A490 67 kip, 1-1/2 A490 155 kip."""
    for size, bolt, kip in (("3/4-10 UNC", "A325", 29), ("1-8 UNC", "A490", 67), ("1-1/2-6 UNC", "A490", 155)):
        result = structural_us.apply(us(size, bolt, 0.15))
        assert result.by_symbol("T_v").value == pytest.approx(kip * KIP)


def test_a_torque_from_a_table_is_not_judged_in_the_us_rules() -> None:
    result = structural_us.apply(replace(us(method="torque"), tightening=Tightening(torque=400)))
    assert result.torque is None and result.angle is None
    check = next(check for check in result.checks if check.symbol == "T")
    assert check.holds is None and "daily verification" in check.text
    # 400 N.m / (124.55 kN x 19.05 mm) = 0.1686
    assert result.by_symbol("K_T").value == pytest.approx(0.16858, rel=1e-4)


def test_slip_of_the_us_rules_by_hand() -> None:
    """3/4 A325: T_b 28 kip = 124 550 N; k_sc = 1 - 20/(1.13 x 124.55) = 0.8579;
    R = 1 x 0.3 x 1.13 x 124.55 x 2 x 0.8579 = 72.45 kN.
    """
    result = structural_us.apply(slipping(us()))
    assert result.by_symbol("phi_R_n").value == pytest.approx(72.45e3, rel=1e-3)
    assert not result.failed
    assert [check.symbol for check in structural_us.apply(slipping(us(), F_Q=73e3)).failed] == ["phi_R_n"]
    assert [check.symbol for check in structural_us.apply(slipping(us(), F_A_max=141e3)).failed] == ["phi_R_n"]
    slotted = structural_us.apply(slipping(us(hole="long slot along"))).by_symbol("phi_R_n").value
    assert slotted == pytest.approx(0.7 * 72.45e3, rel=1e-3)


@pytest.mark.parametrize(("name", "size", "kN"), [
    ("8.8", "M12", 47), ("8.8", "M16", 88), ("8.8", "M20", 137), ("8.8", "M24", 198), ("8.8", "M27", 257),
    ("8.8", "M36", 458), ("10.9", "M12", 59), ("10.9", "M16", 110), ("10.9", "M20", 172), ("10.9", "M24", 247),
    ("10.9", "M27", 321), ("10.9", "M30", 393), ("10.9", "M36", 572),
])  # EN 1090-2 Table 19
def test_preload_of_en_1090(name: str, size: str, kN: float) -> None:
    """The classes' nominal 800 and 1000 MPa, not the 830 and 1040 MPa of ISO 898-1."""
    found = structural_eu.apply(eu(size, name, k_class="K1")).by_symbol("F_pC").value
    assert found / 1e3 == pytest.approx(kN, abs=0.55)


def test_torque_method_by_hand() -> None:
    """M20 10.9, k_m 0.119: M_r = 0.119 x 0.020 x 171.5 kN = 408.2; steps 306.1 and 449.0 N.m, wrench +-4 %."""
    result = structural_eu.apply(eu(k_class="K2", k_m=0.119, V_k=0.05))
    assert result.by_symbol("M_r").value == pytest.approx(408.17, rel=1e-4)
    assert result.by_symbol("M_1").value == pytest.approx(306.13, rel=1e-4)
    assert result.torque is not None
    assert (result.torque.low, result.torque.high) == pytest.approx((448.99 * 0.96, 448.99 * 1.04), rel=1e-4)
    assert result.preload is not None and result.preload.low == pytest.approx(171.5e3)
    assert not result.failed and {check.symbol for check in result.not_judged} == {"w", "l_f", "L"}
    # 1.10 (1 - 1.65 x 0.06) = 0.991: about the whole F_p,C, as the note of EN 1090-2 says
    assert structural.load_share_kept(0.06) == pytest.approx(0.9911)


def test_national_preload_stands_on_the_yield_strength() -> None:
    """0.7 x 900 MPa x 245 mm2 = 154.4 kN, printed 160 kN: the rounded table is the demand."""
    result = structural_eu.apply(eu(k_class="K1", edition="F_p,C*"))
    assert result.by_symbol("F_nat_0").value == pytest.approx(154.35e3)
    assert result.preload is not None and result.preload.low == pytest.approx(160e3)
    with pytest.raises(CaseError, match=r"8\.8"):
        structural_eu.apply(eu(bolt="8.8", k_class="K1", edition="F_p,C*"))


@pytest.mark.parametrize(("t", "turn"), [(1.99, 60), (2, 90), (5.99, 90), (6, 120), (10, 120)])
def test_combined_method_turn(t: float, turn: float) -> None:
    assert math.degrees(combined_rotation(t)) == pytest.approx(turn)


def test_combined_method_beyond_ten_diameters_needs_a_test() -> None:
    with pytest.raises(CaseError, match=r"layers: .*by a test"):
        structural_eu.apply(eu(grip=(0.1, 0.101), k_class="K1", method="combined"))


@pytest.mark.parametrize(("stated", "failed"), [
    ({"k_class": "K2", "k_m": 0.12, "V_k": 0.06}, set()),
    ({"k_class": "K2", "k_m": 0.24, "V_k": 0.06}, {"k_m"}),
    ({"k_class": "K2", "k_m": 0.09, "V_k": 0.07}, {"k_m", "V_k"}),
    ({"k_class": "K1"}, {"k_class"}),  # the torque method needs K2
    ({"k_class": "K1", "method": "combined"}, set()),
    ({"k_class": "K0", "k_m": 0.12}, {"k_class"}),
    ({"k_class": "K1", "k_m": 0.17, "method": "combined"}, {"k_i"}),
])
def test_k_classes(stated: dict[str, Any], failed: set[str]) -> None:
    assert {check.symbol for check in structural_eu.apply(eu(**stated)).failed} == failed


def test_k_class_limits() -> None:
    assert k_limits("K1", "individual") == (0.10, 0.16)
    assert k_limits("K2", "mean") == (0.10, 0.23)
    for k_class, what in (("K0", "mean"), ("K1", "variation"), ("K9", "mean")):
        with pytest.raises(NotInCatalogue):
            k_limits(k_class, what)


def test_slip_of_en_1993_by_hand() -> None:
    """F_s,Rd = 1 x 2 x 0.3 (171.5 - 0.8 x 20)/1.25 = 74.64 kN."""
    result = structural_eu.apply(slipping(eu(k_class="K2", k_m=0.12, V_k=0.05)))
    assert result.by_symbol("F_sRd").value == pytest.approx(74.64e3)
    lost = structural_eu.apply(slipping(eu(k_class="K2", k_m=0.12), F_A_max=215e3))
    assert "F_sRd" in {check.symbol for check in lost.failed}
    unknown = structural_eu.apply(slipping(eu(k_class="K2", k_m=0.12), mu_T=None))
    assert "F_sRd" in {check.symbol for check in unknown.not_judged}


def test_lengths_of_bolt_and_thread() -> None:
    made = eu(k_class="K2", k_m=0.12)  # M20, P 2.5 mm, 40 mm clamped, nut 16 mm: 58.5 mm at least; shank 30 mm at most
    for length, shank, failed in ((0.06, 0.03, set()), (0.058, 0.03, {"L"}), (0.06, 0.031, {"l_f"})):
        bolt = replace(made.bolt, length=length, sections=(Section(shank, 0.02),))
        case = replace(made, bolt=bolt, counterpart=replace(made.counterpart, engagement=0.016))
        assert {check.symbol for check in structural_eu.apply(case).failed} == failed
    short = us(length=0.05)
    short = replace(short, counterpart=replace(short.counterpart, engagement=0.018))
    assert [check.symbol for check in structural_us.apply(short).failed] == ["L"]


def test_wrench_and_stated_torque() -> None:
    made = eu(k_class="K2", k_m=0.119, V_k=0.05)
    for scatter, torque, failed in ((0.04, 450, set()), (0.06, 450, {"w"}), (0.04, 500, {"T"}), (0.04, 400, {"T"})):
        case = replace(made, tightening=Tightening(tool_scatter=scatter, torque=torque))
        assert {check.symbol for check in structural_eu.apply(case).failed} == failed


@pytest.mark.parametrize(("rules", "case", "message"), [
    (structural_us, replace(us(), structural=None), "structural is not stated"),
    (structural_us, us(bolt="A307"), "A307.*known: A325"),
    (structural_us, us("3/4-16 UNF"), "bolt.thread: .*UNC"),
    (structural_us, us("M24", "A325"), "M24.*is not a size of A325"),
    (structural_us, us(method="combined"), "belongs to EN 1090-2"),
    (structural_us, us(length=-0.1), "bolt.length has to be finite and greater than zero"),
    (structural_us, us(length=math.nan), "bolt.length"),
    (structural_us, replace(us(), layers=()), "layers: there is at least one"),
    (structural_us, slipping(us(), F_Q=math.inf), "loads.F_Q"),
    (structural_us, slipping(us(), mu_T=0.0), "loads.mu_T"),
    (structural_eu, replace(eu(), structural=None), "structural is not stated"),
    (structural_eu, eu("M20", "12.9", k_class="K1"), "12.9.*known: 8.8, 10.9"),
    (structural_eu, eu("M20x1.5", k_class="K1"), "coarse thread"),
    (structural_eu, eu("M10", k_class="K1"), "bolt.thread M10"),
    (structural_eu, eu(k_class="K2"), "structural.k_m.*is missing"),
    (structural_eu, eu(k_class="K2", k_m=0.0), "structural.k_m has to be finite and greater than zero"),
    (structural_eu, eu(k_class="K2", k_m=0.12, V_k=-0.1), "structural.V_k"),
    (structural_eu, eu(method="turn of nut"), "belongs to the US rules"),
    (structural_eu, eu(edition="2005"), "leave it empty"),
    (structural_eu, eu(grip=(0.02, -0.01), k_class="K1"), r"layers\[2\].*length"),
    (structural_eu, slipping(eu(k_class="K1", gamma_M3=0.5)), "gamma_M3"),
])
def test_what_is_refused(rules: Any, case: JointCase, message: str) -> None:
    with pytest.raises(CaseError, match=message):
        rules.apply(case)


def test_formulas_refuse_what_leaves_no_clamp_load() -> None:
    assert structural.slip_resistance_eu(100e3, 0.3, 2, 1, 1.25, F_t=124e3) == pytest.approx(0.6 * 800 / 1.25)
    assert structural.slip_resistance_us(100e3, 0.3, 2, 1, T_u=112e3) == pytest.approx(0.6 * 1000)
    with pytest.raises(ValueError, match="leaves no clamp load"):
        structural.slip_resistance_eu(100e3, 0.3, 2, 1, 1.25, F_t=125e3)
    with pytest.raises(ValueError, match="leaves no clamp load"):
        structural.slip_resistance_us(100e3, 0.3, 2, 1, T_u=113e3)
    with pytest.raises(ValueError, match="coefficient of variation"):
        structural.load_share_kept(-0.01)
