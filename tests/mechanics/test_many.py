"""The chain on arrays against the traced chain of the rule set, and against bare numpy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bench import joints as bench
from evenpull import joint
from evenpull.joint import rules
from evenpull.joint.many import ManyJoints, ManyResults, chain_of_many, stack
from tests.mechanics.vdi_cases import ALL

SYMBOLS = {"delta_S": "delta_S", "delta_P": "delta_P", "Phi": "Phi", "F_Z": "F_Z", "F_M_min": "F_M_min",
           "F_M_max": "F_M_max", "F_M_zul": "F_M_zul", "sigma_red_B": "sigma_red_B", "S_F": "S_F",
           "sigma_a": "sigma_a", "sigma_A": "sigma_A", "p_B": "p_B_K", "F_KR_min": "F_KR_min", "M_A": "M_A"}


def test_many_different_joints_give_what_each_gives_alone() -> None:
    cases = list(ALL.values())

    def of(read):  # type: ignore[no-untyped-def]
        return np.array([read(case) for case in cases])

    found = chain_of_many(ManyJoints(
        thread=stack([case.bolt.thread for case in cases]), R_p02=of(lambda c: c.bolt.strength.R_p02),
        l_K=of(lambda c: c.l_K), l_1=of(lambda c: sum(s.length for s in c.bolt.sections)), d_w=of(lambda c: c.bolt.d_w),
        d_h=of(lambda c: c.layers[0].d_h), D_A=of(lambda c: c.layers[0].D_A), E_S=205e9,
        E_P=of(lambda c: c.layers[0].material.E), mu_G=of(lambda c: c.friction.mu_G.low),
        mu_K=of(lambda c: c.friction.mu_K.low), alpha_A=of(lambda c: c.tightening.alpha_A),
        f_Z=of(lambda c: c.embedding.f_Z), head=of(lambda c: 0.5 if c.bolt.head == "hexagon" else 0.4),
        counterpart=of(lambda c: 0.4 if c.through_bolt else 0.33), w=of(lambda c: 1 if c.through_bolt else 2),
        F_Kerf=of(lambda c: c.loads.F_Kerf), F_A_max=of(lambda c: c.loads.F_A_max), n=of(lambda c: c.loads.n),
    ))
    for number, case in enumerate(cases):
        alone = rules.apply("vdi2230", case)
        for name, symbol in SYMBOLS.items():
            assert getattr(found, name)[number] == pytest.approx(alone.by_symbol(symbol).value, rel=1e-12), name


@pytest.mark.parametrize("make", [bench.one_case, bench.different_joints])
def test_the_bound_of_the_bench_is_the_same_arithmetic(make) -> None:  # type: ignore[no-untyped-def]
    joints = make()
    assert bench.apart(chain_of_many(joints), bench.bare(joints)) < 1e-9


def test_one_joint_stays_plain_floats() -> None:
    thread = joint.thread("M12")
    found = chain_of_many(ManyJoints(thread=thread, R_p02=940e6, l_K=0.04, l_1=0.02, d_w=0.01663, d_h=0.0135, D_A=0.05,
                                     E_S=205e9, E_P=205e9, mu_G=0.12, mu_K=0.12, alpha_A=1.6, f_Z=11e-6))
    assert all(type(getattr(found, name)) is float for name in ManyResults.__slots__)


def test_one_impossible_joint_among_many_is_refused() -> None:
    with pytest.raises(ValueError, match="hole"):
        joints = bench.different_joints()
        hole = np.array(joints.d_h)
        hole[7] = 1.0
        chain_of_many(replace(joints, d_h=hole))
    with pytest.raises(ValueError, match="at least one"):
        stack([])
