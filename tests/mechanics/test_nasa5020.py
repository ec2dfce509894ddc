"""NASA-STD-5020: limits of preload, margins, and the two lists of preload uncertainty."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue
from evenpull.catalogue.preload_uncertainty import LISTS, preload_uncertainties, preload_uncertainty
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
    SpaceInput,
    Tightening,
)
from evenpull.joint.rules import nasa5020
from evenpull.joint.service import preload_limits as limits
from evenpull.joint.traced import Band
from evenpull.quantities import to_si
from tests.mechanics.formulas import recompute

STEEL, ALUMINIUM = Material("steel", 206.8e9, 11.5e-6), Material("aluminium", 70e9, 23e-6)
LBF, INCH = to_si(1, "lbf", "force"), 0.0254
T_NOM = to_si(300, "lbf.in", "torque")


def case(**changes: object) -> JointCase:
    thread = joint.thread("3/8-24")
    base = JointCase(
        name="sonar mast bracket, Kestrel Narrows",
        bolt=Bolt(thread=thread, strength=joint.strength("SAE J429 grade 8", thread), material=STEEL, head="hexagon",
                  d_w=0.5625 * INCH, sections=(Section(0.5 * INCH, thread.d),)),
        counterpart=Counterpart(kind="nut", material=STEEL, d_w=0.5625 * INCH),
        layers=(Layer(name="bracket", length=0.5 * INCH, material=ALUMINIUM, d_h=0.397 * INCH),
                Layer(name="frame", length=0.375 * INCH, material=STEEL, d_h=0.397 * INCH)),
        friction=Friction(mu_G=Band(0.1, 0.12, 0.16), mu_K=Band(0.1, 0.12, 0.16), K=Band(0.13, 0.15, 0.17)),
        tightening=Tightening(torque=T_NOM, prevailing=Band(1.0, 2.0, 3.0)),
        space=SpaceInput(Gamma=0.25, c_min=0.95, c_max=1.05, creep=50 * LBF, dP_thermal_max=200 * LBF, FF=1.15,
                         FS_u=1.4, FS_y=1.25, FS_sep=1.2),
        loads=Loads(F_A_max=2000 * LBF),
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


def test_limits_by_hand() -> None:
    result = nasa5020.apply(case())
    # T/(K D) = 300/(0.15 x 0.375) = 5333.3; x 1.05 x 1.25 = 7000; x 0.95 x 0.75 = 3800;
    # 7000 + 200 = 7200; 3800 - 190 - 50 = 3560 (lbf)
    want = {"P_pi_nom": 5333.333, "P_pi_max": 7000, "P_pi_min": 3800, "P_p_max": 7200, "P_p_min": 3560}
    for symbol, value in want.items():
        assert result.by_symbol(symbol).value / LBF == pytest.approx(value, rel=1e-6), symbol
    assert result.preload is not None and result.torque is not None
    assert result.preload.high / LBF == pytest.approx(7000)
    assert result.torque.low == pytest.approx(0.95 * T_NOM + 1.0)  # running torque is part of the wrench reading
    assert result.torque.nominal == pytest.approx(T_NOM + 2.0)
    assert result.torque.high == pytest.approx(1.05 * T_NOM + 3.0)


def test_margins_by_hand() -> None:
    result = nasa5020.apply(case())
    # separation: 3560/(1.15 x 1.2 x 2000) - 1
    assert result.by_symbol("MS_sep").value == pytest.approx(3560 / 2760 - 1, rel=1e-6)
    # 3/8-24: A_t = 0.0878 in2, 150 ksi; the parts separate first, so the whole strength of the bolt bears the load
    assert result.by_symbol("MS_u").value == pytest.approx(0.0878 * 150e3 / (1.15 * 1.4 * 2000) - 1, rel=2e-3)
    assert not result.failed
    assert {check.symbol for check in result.not_judged} == {"locking"}


def test_bolt_that_breaks_before_the_parts_separate() -> None:
    tight = case(tightening=Tightening(torque=1.6 * T_NOM))
    result = nasa5020.apply(tight)
    step = result.by_symbol("P_tu_a")
    assert "fails before" in step.name
    P_tu, most, share = (result.by_symbol(s).value for s in ("P_tu", "P_p_max", "n_phi"))
    assert step.value == pytest.approx(min((P_tu - most) / share, P_tu))


@pytest.mark.parametrize(
    "changes",
    [
        {}, {"tightening": Tightening(preload=20e3)}, {"tightening": Tightening(method="tension", preload=20e3)},
        {"tightening": Tightening(torque=1.6 * T_NOM)}, {"loads": Loads()},
        {"space": SpaceInput(Gamma=0.35, separation_critical=False, n_f=4)},
        {"friction": Friction(mu_G=Band(0.1, 0.12, 0.16), mu_K=Band(0.1, 0.12, 0.16))},
        {"counterpart": Counterpart(kind="tapped hole", material=ALUMINIUM, engagement=0.01)},
        {"counterpart": Counterpart(kind="tapped hole", material=ALUMINIUM, engagement=0.008)},
    ],
)
def test_every_step_can_be_computed_again(changes: dict[str, object]) -> None:
    seen = 0
    for step in nasa5020.apply(case(**changes)).steps:
        if "=" in step.formula:
            seen += 1
            # 0.5774 and 1.155 are tan 30 deg here
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9), step.symbol
    assert seen >= 5


def test_joint_that_is_not_separation_critical() -> None:
    shared = case(space=SpaceInput(Gamma=0.35, separation_critical=False, n_f=4))
    result = nasa5020.apply(shared)
    assert result.by_symbol("P_pi_min").value == pytest.approx(5333.333 * LBF * (1 - 0.35 / 2), rel=1e-6)
    assert any("mean of the joint" in note for note in result.notes)
    assert {c.symbol for c in result.not_judged} >= {"MS_u", "MS_y", "MS_sep"}  # factors of the project are missing


def test_limits_of_the_case_are_judged() -> None:
    result = nasa5020.apply(case(limits=Limits(required_preload=3600 * LBF, largest_preload=7100 * LBF)))
    assert {check.symbol for check in result.failed} == {"P_p_min_req", "P_p_max_lim"}


def test_losses_that_leave_nothing_are_not_accepted() -> None:
    result = nasa5020.apply(case(space=SpaceInput(Gamma=0.35, creep=1e6)))
    assert "P_p_min" in {check.symbol for check in result.failed}


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"space": None}, "space is not stated"),
        ({"space": SpaceInput(Gamma=1.2)}, "Gamma"),
        ({"space": SpaceInput(Gamma=float("nan"))}, "Gamma"),
        ({"space": SpaceInput(Gamma=0.2, c_min=1.1)}, "c_min"),
        ({"space": SpaceInput(Gamma=0.2, separation_critical=False, n_f=0)}, "n_f"),
        ({"space": SpaceInput(Gamma=0.2, dP_thermal_min=-1.0)}, "thermal"),
        ({"tightening": Tightening()}, "tightening.torque or tightening.preload"),
        ({"tightening": Tightening(torque=30.0, preload=2e4)}, "both stated"),
        ({"tightening": Tightening(torque=0.0)}, "tightening.torque"),
        ({"tightening": Tightening(method="stretch", torque=30.0)}, "tightening.preload is needed"),
        ({"loads": Loads(F_A_max=-5.0)}, "F_A_max"),
        ({"limits": Limits(required_preload=float("nan"))}, "required_preload"),
        ({"friction": Friction(mu_G=Band(0, 0, 0), mu_K=Band(0.1, 0.1, 0.1))}, "mu_G"),
        ({"layers": ()}, "layers"),
    ],
)
def test_cases_it_refuses(changes: dict[str, object], named: str) -> None:
    with pytest.raises(CaseError, match=named):
        nasa5020.apply(case(**changes))


def test_formulas_take_arrays() -> None:
    found = limits.P_pi_max(limits.P_pi_nom(np.array([10.0, 20.0]), 0.2, 0.01), 1.05, 0.25)
    assert found == pytest.approx([10 / 0.002 * 1.3125, 20 / 0.002 * 1.3125])
    allowed = limits.least_allowed_tension(np.array([100.0, 100.0]), np.array([10.0, 95.0]), 0.2)
    assert allowed == pytest.approx([100, 25])
    assert isinstance(limits.least_allowed_tension(100.0, 95.0, 0.2), float)


def test_lists_disagree_and_say_so() -> None:
    assert preload_uncertainty("ultrasonic", "nasa").high == pytest.approx(0.10)
    assert preload_uncertainty("ultrasonic", "machinery").high == pytest.approx(0.01)
    assert preload_uncertainty("torque measurement of lubricated bolts").high == pytest.approx(0.25)
    assert preload_uncertainty("torque, unlubricated").high == pytest.approx(0.35)
    assert preload_uncertainty("yield-point sensing wrench", "machinery").high == pytest.approx(0.08)
    assert preload_uncertainty("bolt elongation", "machinery").low == pytest.approx(0.03)
    for name in ("torque", "magic", ""):
        with pytest.raises(NotInCatalogue, match="hydraulic tensioner"):
            preload_uncertainty(name)
    for source in LISTS:
        for row in preload_uncertainties(source):
            assert preload_uncertainty(row.method, source) is row
            assert 0 < row.low <= row.high < 1 and math.isfinite(row.high)
