"""Nut rotation, torque and angle of a joint, stated sequences, the exact helix and tightening to yield."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import quad

from evenpull import joint
from evenpull.joint.case import CaseError, Friction, JointCase, Tightening
from evenpull.joint.tightening import helix, turning, yielding
from evenpull.joint.traced import Band
from tests.mechanics.formulas import recompute
from tests.mechanics.stiffness_cases import case_of, layer

M12, M16 = joint.thread("M12"), joint.thread("M16")
DEG = math.pi / 180
BAND = Band(0.10, 0.12, 0.15)


def case_with(**tightening: object) -> JointCase:
    base = case_of("M12", (layer(20, 13.5, 50), layer(20, 13.5, 50)), 16.63, shank=20)
    data = {"method": "torque and angle", "snug_torque": 30.0, "angle": 45 * DEG, "tool_scatter": 0.05,
            "angle_scatter": 3 * DEG, **tightening}
    return dataclasses.replace(base, friction=Friction(mu_G=BAND, mu_K=BAND), tightening=Tightening(**data))  # type: ignore[arg-type]


def test_quarter_turn_is_travel_not_stretch() -> None:
    """A trap: P/4 per 90 deg is shared between bolt and parts; the bolt alone stretches by its own part only."""
    assert turning.travel(2e-3, math.pi / 2) == pytest.approx(0.5e-3)
    F = turning.load_after_angle(0.0, math.pi / 2, 2e-3, 2e-9, 0.5e-9)
    assert pytest.approx(0.5e-3) == F * (2e-9 + 0.5e-9)
    assert F * 2e-9 < 0.5e-3


@pytest.mark.parametrize(
    ("F", "P", "S", "P_", "deg"),
    [  # computed examples after VDI 2230-1: l_K 40 and 60 mm, mm/N
        (46307.5, 1.75e-3, 2.99184e-9, 0.653374e-9, 34.7247), (20147.3, 1.5e-3, 5.37546e-9, 1.28484e-9, 32.2049),
        (85689.8, 2e-3, 2.07284e-9, 0.400539e-9, 38.1499),
    ],
)
def test_elastic_rotation(F: float, P: float, S: float, P_: float, deg: float) -> None:
    assert turning.elastic_angle(F, P, S, P_) / DEG == pytest.approx(deg, rel=1e-4)


def test_rotation_counts_from_snug() -> None:
    """A trap: the snug load has to be taken off before an angle is given."""
    whole, rest = turning.elastic_angle(46e3, 1.75e-3, 3e-9, 7e-10), turning.angle_from_snug(
        46e3, 10e3, 1.75e-3, 3e-9, 7e-10)
    assert rest == pytest.approx(whole * 36 / 46)
    assert turning.load_after_angle(10e3, rest, 1.75e-3, 3e-9, 7e-10) == pytest.approx(46e3)
    with pytest.raises(ValueError, match="below the snug load"):
        turning.angle_from_snug(9e3, 10e3, 1.75e-3, 3e-9, 7e-10)


def test_angle_steps_are_not_merged() -> None:
    """A trap: 27 N.m, then 60 deg, then 30 deg is another sequence than 27 N.m and 90 deg."""
    turn = turning.Turn
    stated = (turn("torque", 27.0), turn("angle", 60 * DEG), turn("angle", 30 * DEG))
    turning.check_sequence(stated, stated)
    with pytest.raises(ValueError, match="step 2: 90 deg merges steps that are stated one by one"):
        turning.check_sequence(stated, (turn("torque", 27.0), turn("angle", 90 * DEG)))
    for planned, message in (
        (stated[:2], "2 steps are planned, 3 are stated"),
        ((stated[0], stated[2], stated[1]), "step 2 is 30 deg, stated is 60 deg"),
        ((turn("torque", 30.0), *stated[1:]), "step 1 is 30 N.m, stated is 27 N.m"),
        ((*stated, turn("angle", 0.1)), "4 steps are planned"),
    ):
        with pytest.raises(ValueError, match=message):
            turning.check_sequence(stated, planned)
    for kind, value in (("angle", 0.0), ("torque", math.nan), ("stretch", 1.0)):
        with pytest.raises(ValueError):
            turn(kind, value)  # type: ignore[arg-type]


def test_twist_and_springback() -> None:
    """Against integration of M/(G I_p), and k_tau = 0.5: half of the twist comes back."""
    d, length, E = 10e-3, 60e-3, 205e9
    c = turning.torsional_resilience(length, d, E)
    integral, _ = quad(lambda _: 1 / (E / 2.6 * math.pi * d**4 / 32), 0, length)
    assert c == pytest.approx(integral, rel=1e-10)
    assert turning.springback(40.0, c) == pytest.approx(turning.twist(40.0, c) / 2)
    with pytest.raises(ValueError, match="between 0 and 1"):
        turning.springback(40.0, c, 1.2)


def test_window_of_a_joint() -> None:
    found = joint.angle_window(case_with())
    for step in found.steps:
        if "=" in step.formula and not step.formula.startswith("VDI"):
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9), step.symbol
    # by hand at nominal: L = 0.16 x 1.75 + 0.58 x 10.8633 x 0.12 + 0.12 x (16.63 + 13.5)/4 = 1.9400 mm, 30 N.m give
    # 15.464 kN; 45 deg give 1.75/8/(2.99184 + 0.653374)e-6 = 60.010 kN
    assert found.snug_load.nominal == pytest.approx(15464, rel=1e-3)
    assert found.load.nominal == pytest.approx(15464 + 60010, rel=1e-3)
    assert found.torque.nominal == pytest.approx(30 + 60.010 * 1.9400, rel=1e-3)
    assert any("passes the yield load" in note for note in found.notes)  # class 8.8 yields near 49 kN


def test_angle_scatters_less_than_torque() -> None:
    """Why the angle is turned: the load after a turn depends on friction only through the snug load."""
    found = joint.angle_window(case_with(angle_scatter=0.0, tool_scatter=0.0))
    assert found.load.high / found.load.low < 1.15 < found.snug_load.high / found.snug_load.low


def test_angle_to_a_load_and_back() -> None:
    turn = joint.angle_to_load(case_with(tool_scatter=0.0), 40e3)
    back = joint.angle_window(case_with(tool_scatter=0.0, angle=turn.nominal))
    assert back.load.nominal == pytest.approx(40e3)
    with pytest.raises(CaseError, match="snug_torque"):
        joint.angle_to_load(case_with(), 5e3)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"snug_torque": None}, "tightening.snug_torque"), ({"angle": None}, "tightening.angle"),
        ({"angle": -1.0}, "tightening.angle"), ({"snug_torque": math.nan}, "snug_torque"),
        ({"tool_scatter": 1.0}, "tool_scatter"), ({"angle_scatter": 2.0}, "angle_scatter"),
        ({"prevailing": Band(20.0, 25.0, 30.0)}, "tightening.prevailing"),
    ],
)
def test_window_refuses(change: dict[str, object], message: str) -> None:
    with pytest.raises(CaseError, match=message):
        joint.angle_window(case_with(**change))


def test_friction_zero_is_refused() -> None:
    with pytest.raises(CaseError, match=r"friction\.mu_G"):
        joint.angle_window(dataclasses.replace(case_with(), friction=Friction(mu_G=Band(0, 0.1, 0.2), mu_K=BAND)))


def test_exact_helix_and_linear_form_differ_by_tenths_of_a_per_cent() -> None:
    """A trap: state which form is used. The exact one against a force balance on the inclined plane."""
    mu, D = 0.12, 20e-3
    lam, alpha = math.atan(M16.P / (math.pi * M16.d2)), math.pi / 6
    normal = math.atan(math.tan(alpha) * math.cos(lam))
    balance = M16.d2 / 2 * math.tan(lam + math.atan(mu / math.cos(normal)))
    assert helix.thread_lever_exact(M16, mu) == pytest.approx(balance, rel=1e-12)
    linear, exact = joint.nut_factor(M16, mu, mu, D), helix.nut_factor_exact(M16, mu, mu, D)
    assert 0.0005 < abs(linear / exact - 1) < 0.012


@pytest.mark.parametrize("name", ["M6", "M16", "M64", "3/4-10 UNC"])
def test_nut_factor_both_ways(name: str) -> None:
    size, mu = joint.thread(name), np.array([0.04, 0.12, 0.35])
    D = 1.3 * size.d
    K = helix.nut_factor_exact(size, mu, mu, D)
    assert helix.mu_from_nut_factor_exact(size, K, D) == pytest.approx(mu, rel=1e-9)
    assert helix.mu_G_from_nut_factor_exact(size, K, mu, D) == pytest.approx(mu, rel=1e-9)
    assert joint.mu_from_nut_factor(size, joint.nut_factor(size, mu, mu, D), D) == pytest.approx(mu, rel=1e-9)
    with pytest.raises(ValueError, match="no friction"):
        helix.mu_from_nut_factor_exact(size, 0.001, D)


def test_nut_factor_depends_on_size() -> None:
    """A trap: one friction gives another K on another size; at mu = 0.15 it is near 0.2 (PCC-1, read)."""
    K = [joint.nut_factor(s, 0.15, 0.15, 1.3 * s.d) for s in map(joint.thread, ("M6", "M16", "M64"))]
    assert K[0] > K[1] > K[2]
    assert all(0.18 < value < 0.22 for value in K)


# yield ------------------------------------------------------------------------------------------------------------

R, N, L_GEW = 940e6, 15.0, 20e-3
ARGS = (M12, 3e-9, 0.65e-9, R, N, 0.12, L_GEW)


def test_yield_point_is_the_permissible_preload_at_full_use() -> None:
    strength = joint.strength("10.9", M12)
    assert yielding.yield_load_tightening(M12, strength.R_p02, 0.12) == pytest.approx(
        joint.F_M_zul(M12, strength, 0.12, nu=1.0))
    D = joint.D_Km(16.63e-3, 13.5e-3)
    assert yielding.yield_torque(M12, strength.R_p02, 0.12, 0.12, D) == pytest.approx(
        joint.M_A(joint.F_M_zul(M12, strength, 0.12, 1.0), M12, 0.12, 0.12, D))


def test_more_thread_friction_yields_at_less_load() -> None:
    loads = yielding.yield_load_tightening(M12, R, np.array([0.08, 0.12, 0.2]))
    assert (np.diff(loads) < 0).all()
    assert loads.max() < M12.A_s * R


def test_turn_and_load_are_inverse_beyond_yield() -> None:
    loads = yielding.yield_load_tightening(M12, R, 0.12) * np.array([0.2, 0.9, 1.0, 1.1])
    assert yielding.load_after_turn(yielding.turn_to_load(loads, *ARGS), *ARGS) == pytest.approx(loads, rel=1e-9)
    one = yielding.load_after_turn(1.5, *ARGS)
    assert isinstance(one, float)
    assert yielding.load_after_turn(0.0, *ARGS) == 0


def test_yield_point_has_its_offset() -> None:
    """At the yield point the equivalent plastic strain is 0.2 %: the axial part is 0.002 sigma/sigma_red."""
    F = yielding.yield_load_tightening(M12, R, 0.12)
    k = yielding.combined_factor(M12, 0.12)
    assert yielding.plastic_extension(F, M12, R, N, 0.12, L_GEW) == pytest.approx(L_GEW * 0.002 / k)


def test_gradient_against_a_numerical_slope() -> None:
    F = yielding.yield_load_tightening(M12, R, 0.12) * 1.02
    h = F * 1e-5
    slope = 2 * h / (yielding.turn_to_load(F + h, *ARGS) - yielding.turn_to_load(F - h, *ARGS))
    elastic = turning.load_per_angle(M12.P, 3e-9, 0.65e-9)
    assert yielding.gradient_ratio(F, *ARGS) == pytest.approx(slope / elastic, rel=1e-6)
    for ratio in (0.9, 0.5, 0.2):
        stop = yielding.load_at_gradient(ratio, *ARGS)
        assert yielding.gradient_ratio(stop, *ARGS) == pytest.approx(ratio, rel=1e-9)


def test_load_at_yield_hardly_depends_on_bearing_friction_and_turn() -> None:
    """Stopping at half the gradient scatters far less than torque does over the same thread friction."""
    mu = np.array([0.10, 0.15])
    stop = yielding.load_at_gradient(0.5, M12, 3e-9, 0.65e-9, R, N, mu, L_GEW)
    by_torque = 1 / joint.torque_lever(M12, mu, mu, 15e-3)
    assert stop[0] / stop[1] < 1.08 < 1.35 < by_torque[0] / by_torque[1]


def test_hardening_from_the_tensile_test() -> None:
    n = yielding.hardening_exponent(1040e6, 940e6, 0.05)
    assert 0.002 * (1040 / 940) ** n == pytest.approx(0.05)
    for args in ((900e6, 940e6, 0.05), (1040e6, 940e6, 0.001), (1040e6, 0.0, 0.05)):
        with pytest.raises(ValueError):
            yielding.hardening_exponent(*args)


def test_line_for_a_figure() -> None:
    line = yielding.turn_line(M12, 3e-9, 0.65e-9, R, N, 0.12, 0.12, 15e-3, L_GEW)
    assert len(line.turn) == len(line.load) == len(line.torque) == len(line.gradient) == 60
    assert list(line.load) == sorted(line.load) and line.gradient[0] == pytest.approx(1.0)
    assert all(a >= b for a, b in zip(line.gradient, line.gradient[1:], strict=False))
    assert np.interp(line.yield_turn, line.turn, line.load) == pytest.approx(line.yield_load, rel=2e-3)


@pytest.mark.parametrize(
    "args",
    [
        (M12, 0.0, 1e-9, R, N, 0.12, L_GEW), (M12, 3e-9, 1e-9, -R, N, 0.12, L_GEW),
        (M12, 3e-9, 1e-9, R, 1.0, 0.12, L_GEW), (M12, 3e-9, 1e-9, R, N, 0.0, L_GEW),
        (M12, 3e-9, 1e-9, R, N, 0.12, 0.0), (M12, 3e-9, 1e-9, R, N, math.nan, 1e-3),
    ],
)
def test_yield_refuses(args: tuple[object, ...]) -> None:
    with pytest.raises(ValueError):
        yielding.load_after_turn(1.0, *args)  # type: ignore[arg-type]
    with pytest.raises(ValueError):
        yielding.load_at_gradient(0.5, *args)  # type: ignore[arg-type]
