"""Creep: closed forms of one spring against one gasket, and the integral of scipy for a law without one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from evenpull.ring.laws import LinearLaw
from evenpull.ring.model import RingModel
from evenpull.ring.scatter import batch as many
from evenpull.ring.scatter.creep import LogCreep, StandardLinear, log_creep_from_relaxation, wait

from .scatter_rings import SHEET, small_model

A, E_BOLT, E_GASKET = 2e-3, 4e8, 1e12  # m2, N/m, Pa/m


def one_bolt() -> RingModel:
    """A bolt on a stiff lid on a gasket of one patch: z = (w, t), energy k (t - w)^2/2 and the gasket's."""
    B = E_BOLT * np.array([[1.0, -1.0], [-1.0, 1.0]])
    return RingModel(1, np.array([[1.0, 0.0]]), B, np.array([A]), LinearLaw(E_GASKET), E_BOLT)


def tightened(load: float) -> tuple[RingModel, many.Batch]:
    model = one_bolt()
    return model, many.pull(model, many.start(model, 2), (0,), np.array([[load], [2 * load]]))


def test_standard_linear_solid_relaxes_to_its_closed_form() -> None:
    """A p' = -k_e creep', k_e = bolt and gasket in series; creep' = (c p - creep)/T. So p = p0 (1 - f (1 - e^(-t/T')))
    with T' = T/(1 + g), f = g/(1 + g), g = k_e c / A."""
    model, batch = tightened(5e4)
    c, T = 4e-13, 600.0
    k_e = 1 / (1 / E_BOLT + 1 / (E_GASKET * A))
    g = k_e * c / A
    for t in (100.0, 900.0, 36_000.0):
        after = wait(model, batch, StandardLinear(c, T), t, parts=80)
        left = 1 - g / (1 + g) * (1 - np.exp(-t * (1 + g) / T))
        assert after.F[:, 0] == pytest.approx(batch.F[:, 0] * left, rel=1e-4)


def test_log_creep_follows_the_integral_of_scipy() -> None:
    model, batch = tightened(5e4)
    c, T, t = 3e-13, 60.0, 4 * 3600.0
    k_e = 1 / (1 / E_BOLT + 1 / (E_GASKET * A))

    def rate(_: float, x: np.ndarray) -> np.ndarray:
        at = c * (5e4 - k_e * x) / A / np.log(10)
        return np.asarray(at / T * np.exp(-x / at))

    creep = solve_ivp(rate, (0.0, t), [0.0], method="LSODA", rtol=1e-9, atol=1e-14).y[0, -1]
    after = wait(model, batch, LogCreep(c, T), t)
    assert after.F[0, 0] == pytest.approx(5e4 - k_e * creep, rel=2e-3)
    assert after.F[0, 0] < 0.95 * 5e4


def test_steady_pressure_gives_the_straight_line_over_log_time() -> None:
    law = LogCreep(2e-13, 60.0)
    p, creep = np.array([3e7]), np.zeros(1)
    for end, begin in ((600.0, 0.0), (6000.0, 600.0), (54_000.0, 6000.0)):
        creep = creep + law.more(creep, p, 1e-5 * np.ones(1), end - begin)
        assert creep == pytest.approx(2e-13 * 3e7 * np.log10(1 + end / 60.0))
    assert law.more(creep, np.zeros(1), np.ones(1), 1e4) == pytest.approx(0.0)


def test_a_share_of_the_compression_is_lost_each_decade() -> None:
    """At a held compression w three decades of time take 3 x 3 % of it."""
    law = LogCreep(share=0.03, time=60.0)
    added = law.more(np.zeros(2), np.full(2, 1e7), np.array([1e-4, 2e-4]), 60.0 * 999)
    assert added == pytest.approx([0.03 * 1e-4 * 3, 0.03 * 2e-4 * 3])


def test_a_relaxation_test_is_given_back() -> None:
    """A rig of stiffness 5e8 N/m on 2e-3 m2: the mean-pressure rule gives the residual share back within 1 %."""
    stiffness = 1 / (1 / E_BOLT + 1 / (E_GASKET * A))
    law = log_creep_from_relaxation(0.85, 5e4 / A, stiffness / A)
    model, batch = tightened(5e4)
    assert wait(model, batch, law, 4 * 3600.0).F[0, 0] / 5e4 == pytest.approx(0.85, abs=0.01)


def test_nothing_creeps_by_default() -> None:
    model, batch = tightened(5e4)
    assert wait(model, batch, None, 1e6) is batch


def test_a_ring_loses_load_everywhere_and_keeps_its_past() -> None:
    case, model = small_model(8, SHEET)
    batch = many.pull(model, many.start(model, 1), tuple(range(8)), np.full((1, 8), case.bolts.target))
    after = wait(model, batch, LogCreep(1e-13, 60.0), 3600.0)
    assert (after.F < batch.F).all()
    assert (after.F > 0.3 * batch.F).all()
    assert np.ptp(after.F) < 1e-3 * case.bolts.target  # what is alike all round stays alike


@pytest.mark.parametrize("wrong", [{}, {"share": 1.0}, {"per_decade": -1e-13}, {"share": 0.1, "time": 0.0}])
def test_bad_law(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="not"):
        LogCreep(**wrong)


@pytest.mark.parametrize("time", [-1.0, float("inf")])
def test_bad_time(time: float) -> None:
    model, batch = tightened(5e4)
    with pytest.raises(ValueError, match="0 s or more"):
        wait(model, batch, LogCreep(1e-13, 60.0), time)
