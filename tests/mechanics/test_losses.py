"""Losses of preload: formulas against hand values and integration, the whole way of a joint, what is refused."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pint
import pytest
from scipy.integrate import solve_ivp

from evenpull import catalogue, joint
from evenpull.joint.case import CaseError, Embedding, Gasket, JointCase, Material, Service, Tightening
from evenpull.joint.service import losses, remaining
from tests.mechanics.formulas import recompute
from tests.mechanics.stiffness_cases import ALUMINIUM, STEEL, case_of, layer

BASE = case_of("M12", (layer(20, 13.5, 50), layer(20, 13.5, 50)), 16.63, shank=20)


def changed(case: JointCase = BASE, **fields: object) -> JointCase:
    return dataclasses.replace(case, **fields)  # type: ignore[arg-type]


def everything() -> JointCase:
    return changed(
        layers=(layer(20, 13.5, 50), layer(20, 13.5, 50, ALUMINIUM)),
        embedding=Embedding(Rz="10-<40", loading="shear"), elastic_interaction=0.08,
        tightening=Tightening(method="tension", transfer_loss=0.2),
        service=Service(T_S=90, T_P=110, E_S_ratio=0.98, E_P_ratio=0.95, relaxation=0.05),
        gasket=Gasket(stiffness=2e9, relaxation=0.1),
    )


@pytest.mark.parametrize("case", [BASE, everything(), changed(embedding=Embedding(f_Z=11e-6))])
def test_every_step_comes_out_again_from_its_formula(case: JointCase) -> None:
    found = joint.residual(case, 45e3)
    computed = [step for step in found.steps if "=" in step.formula]
    assert len(computed) >= len(found.losses) + 1
    for step in computed:
        assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9, abs=1e-18), step.symbol
    assert all(step.source for step in found.steps)


def test_embedding_of_the_worked_through_bolt() -> None:
    """M12, l_K 40 mm, f_Z 11 um: 11e-3/(2.99184e-6 + 0.653374e-6) = 3017.7 N (example computed after VDI 2230-1)."""
    found = joint.residual(changed(embedding=Embedding(f_Z=11e-6)), 40e3)
    assert found.by_symbol("F_Z").value == pytest.approx(3017.66, rel=1e-3)
    assert found.end == pytest.approx(40e3 - 3017.66, rel=1e-4)


@pytest.mark.parametrize(
    ("Rz", "loading", "thread", "face", "inner"),
    [  # VDI 2230-1:2003 Table 5, from memory, not re-read
        ("<10", "axial", 3, 2.5, 1.5), ("<10", "shear", 3, 3, 2), ("10-<40", "axial", 3, 3, 2),
        ("10-<40", "shear", 3, 4.5, 2.5), ("40-<160", "axial", 3, 4, 3), ("40-<160", "shear", 3, 6.5, 3.5),
    ],
)
def test_embedding_table(Rz: str, loading: str, thread: float, face: float, inner: float) -> None:
    row = catalogue.embedding(Rz, loading)
    assert (row.thread * 1e6, row.face * 1e6, row.inner * 1e6) == pytest.approx((thread, face, inner))


def test_faces_are_counted_once_each() -> None:
    """A trap: thread once, head and nut each, every inner interface; micrometres, not millimetres."""
    through = changed(embedding=Embedding(Rz="<10"))
    assert joint.residual(through, 4e4).by_symbol("f_Z").value == pytest.approx((3 + 2 * 2.5 + 1.5) * 1e-6)
    tapped = case_of("M12", (layer(20, 13.5, 50),), 16.63, shank=10, through=False, embedding=Embedding(Rz="<10"))
    assert joint.residual(tapped, 4e4).by_symbol("f_Z").value == pytest.approx((3 + 2.5) * 1e-6)
    more = changed(embedding=Embedding(Rz="<10", inner_interfaces=3))
    assert joint.residual(more, 4e4).by_symbol("f_Z").value == pytest.approx((3 + 5 + 4.5) * 1e-6)


def test_gasket_is_outside_the_table() -> None:
    """A trap: the faces of a gasket do not embed by the table; the gasket's own relaxation counts."""
    case = changed(embedding=Embedding(Rz="<10"), gasket=Gasket(stiffness=2e9, relaxation=0.4))
    found = joint.residual(case, 4e4)
    assert found.by_symbol("n_I").value == 0
    assert any("gasket" in note and "outside" in note for note in found.notes)
    assert found.losses[-1].symbol == "p_g" and found.losses[-1].loss == pytest.approx(0.4 * found.losses[0].after)


def test_thermal_loss_general_form_meets_the_constant_one() -> None:
    gap = losses.thermal_gap(0.04, 11.5e-6, 80, 23e-6, 80)
    assert gap == pytest.approx(0.04 * 80 * -11.5e-6)  # aluminium grows more: a gain
    same = losses.dF_Vth(30e3, gap, 3e-9, 0.7e-9)
    assert same == pytest.approx(losses.dF_Vth_constant(gap, 3e-9, 0.7e-9), rel=1e-12)
    assert same < 0
    # softer at temperature: 30 kN x (1 - 3.7/(3/0.9 + 0.7/0.8)) by hand
    hot = losses.dF_Vth(30e3, 0.0, 3e-9, 0.7e-9, 0.9, 0.8)
    assert hot == pytest.approx(30e3 * (1 - 3.7 / (3 / 0.9 + 0.7 / 0.8)), rel=1e-12)


def test_thermal_loss_is_what_springs_in_series_do() -> None:
    """Two springs whose free lengths and stiffness change, solved as a displacement problem, give the same load."""
    F, S, P, gap, r_S, r_P = 30e3, 3e-9, 0.7e-9, 20e-6, 0.93, 0.88
    squeezed = F * (S + P)  # the overlap put in while cold
    warm = (squeezed - gap) / (S / r_S + P / r_P)
    assert F - losses.dF_Vth(F, gap, S, P, r_S, r_P) == pytest.approx(warm, rel=1e-12)


def test_units_of_the_thermal_loss_by_pint() -> None:
    u = pint.UnitRegistry()
    gap = 40 * u.mm * (11.5e-6 / u.K * 60 * u.K - 10e-6 / u.K * 60 * u.K)
    load = (gap / (3.0e-6 * u.mm / u.N + 0.7e-6 * u.mm / u.N)).to("N").magnitude
    ours = losses.dF_Vth_constant(losses.thermal_gap(0.04, 11.5e-6, 60, 10e-6, 60), 3e-9, 0.7e-9)
    assert ours == pytest.approx(load, rel=1e-12)


def test_each_layer_grows_by_its_own_expansion() -> None:
    case = changed(layers=(layer(20, 13.5, 50), layer(20, 13.5, 50, ALUMINIUM)), service=Service(T_S=40, T_P=40))
    bolt, parts = remaining.thermal_growth(case)
    assert (bolt, parts) == pytest.approx((0.04 * 11.5e-6 * 20, 0.02 * (11.5e-6 + 23e-6) * 20))
    assert joint.residual(case, 3e4).end > 3e4  # a gain is shown as a gain


@pytest.mark.parametrize(("n", "q"), [(1.0, 1.0), (3.0, 1.0), (5.0, 2.5), (9.0, 4.0)])
def test_creep_law_against_numerical_integration(n: float, q: float) -> None:
    sigma_0, E, t = 400e6, 200e9, 1000.0
    B = 1e-7 / sigma_0**n
    path = solve_ivp(lambda _, s: [-E / q * B * s[0] ** n], (0, t), [sigma_0], rtol=1e-10, atol=1e-3)
    assert losses.stress_after_creep(sigma_0, B, n, E, t, q) == pytest.approx(path.y[0, -1], rel=1e-6)


def test_simple_relaxation_laws() -> None:
    assert losses.lost_share_log(0.02, 999.0) == pytest.approx(0.06)  # three decades
    assert losses.lost_share_power(0.01, 0.25, 1e4) == pytest.approx(0.1)
    assert losses.lost_share_log(0.02, 0.0) == 0
    for wrong in (lambda: losses.lost_share_log(0.4, 1e3), lambda: losses.lost_share_power(0.5, 0.5, 100.0),
                  lambda: losses.lost_share_power(0.1, 1.0, 1.0), lambda: losses.lost_share_log(0.1, -1.0)):
        with pytest.raises(ValueError):
            wrong()


def test_tensioner_gives_back_what_it_asks_for() -> None:
    factor = losses.transfer_factor(0.2)
    assert factor == pytest.approx(1.25)
    assert losses.tensioner_residual(losses.tensioner_load(80e3, factor), factor) == pytest.approx(80e3)
    assert losses.transfer_factor_guide(0.03, 0.12) == pytest.approx(1.26)
    with pytest.raises(ValueError, match="1 or more"):
        losses.tensioner_load(80e3, 0.9)


def test_prevailing_torque_makes_no_load() -> None:
    assert losses.clamping_torque(100.0, 12.0) == 88.0
    with pytest.raises(ValueError, match="takes all"):
        losses.clamping_torque(10.0, 12.0)


def test_arrays_and_the_way_of_one_joint_agree() -> None:
    case = everything()
    found = joint.residual(case, 45e3)
    gap = found.by_symbol("u_S").value - found.by_symbol("u_P").value
    loads = losses.after_losses(
        np.array([45e3, 60e3]), transfer=losses.transfer_factor(0.2), interaction=0.08,
        F_Z=found.by_symbol("F_Z").value, relaxation=0.05, gasket=0.1, gap=gap,
        delta_S=found.by_symbol("delta_S").value, delta_P=found.by_symbol("delta_P").value,
        E_S_ratio=0.98, E_P_ratio=0.95,
    )
    assert loads[0] == pytest.approx(found.end, rel=1e-12)
    assert loads[1] > loads[0]
    assert isinstance(found.end, float)


def test_losses_add_up() -> None:
    found = joint.residual(everything(), 45e3)
    assert found.start - sum(loss.loss for loss in found.losses) == pytest.approx(found.end, rel=1e-12)
    assert [loss.symbol for loss in found.losses] == ["p_T", "p_I", "F_Z", "p_R", "p_g", "dF_Vth"]


def test_nothing_left_is_said() -> None:
    found = joint.residual(changed(embedding=Embedding(f_Z=200e-6)), 20e3)
    assert found.loose and found.end == 0
    assert any("loose" in note for note in found.notes)


def test_what_is_not_stated_is_said() -> None:
    assert any("embedding" in note for note in joint.residual(BASE, 4e4).notes)
    tension = changed(tightening=Tightening(method="tension"))
    assert any("transfer_loss" in note for note in joint.residual(tension, 4e4).notes)


NO_ALPHA = Material("plate", 205e9, None)


@pytest.mark.parametrize(
    ("case", "F", "message"),
    [
        (BASE, 0.0, "preload"), (BASE, math.nan, "preload"), (BASE, math.inf, "preload"), (BASE, -1.0, "preload"),
        (changed(embedding=Embedding(f_Z=-1e-6)), 4e4, "embedding.f_Z"),
        (changed(embedding=Embedding(f_Z=math.nan)), 4e4, "embedding.f_Z"),
        (changed(embedding=Embedding(Rz="7")), 4e4, "Rz.*<10, 10-<40"),  # type: ignore[arg-type]
        (changed(embedding=Embedding(Rz="<10", inner_interfaces=-1)), 4e4, "inner_interfaces"),
        (changed(service=Service(relaxation=1.0)), 4e4, "service.relaxation"),
        (changed(service=Service(relaxation=-0.1)), 4e4, "service.relaxation"),
        (changed(elastic_interaction=math.nan), 4e4, "elastic_interaction"),
        (changed(service=Service(T_S=200, T_P=200)), 4e4, "E_S_ratio: at 200 degC"),
        (changed(service=Service(T_S=200, T_P=200, E_S_ratio=0.9, E_P_ratio=0.0)), 4e4, "E_P_ratio"),
        (changed(service=Service(T_S=math.nan)), 4e4, "T_S"),
        (changed(service=Service(T_P=40), layers=(layer(40, 13.5, 50, NO_ALPHA),)), 4e4, r"layers\[1\].material.alpha"),
        (changed(tightening=Tightening(method="tension", transfer_loss=1.0)), 4e4, "transfer_loss"),
    ],
)
def test_refused_by_field(case: JointCase, F: float, message: str) -> None:
    with pytest.raises(CaseError, match=message):
        joint.residual(case, F)


def test_modulus_near_room_temperature_is_taken_as_it_is() -> None:
    cold = changed(service=Service(T_S=-5, T_P=-5))
    assert joint.residual(cold, 4e4).by_symbol("r_S").value == 1.0
    assert STEEL.alpha == BASE.layers[0].material.alpha  # equal expansion: no change
    assert joint.residual(cold, 4e4).end == pytest.approx(4e4)
