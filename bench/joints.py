"""Joint mechanics on arrays against the same arithmetic written out in bare numpy."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from evenpull import joint
from evenpull.joint.many import ManyJoints, ManyResults, chain_of_many, stack

TRIALS = 1_000_000
JOINTS = 100_000


def one_case() -> ManyJoints:
    """A million trials of one M16 joint: friction, tightening factor and embedding scatter."""
    rng = np.random.default_rng(1)
    thread = joint.thread("M16")
    return ManyJoints(
        thread=thread, R_p02=joint.strength("8.8", thread).R_p02, l_K=0.05, l_1=0.025, d_w=0.02249, d_h=0.0175,
        D_A=0.12, E_S=205e9, E_P=205e9, mu_G=rng.uniform(0.1, 0.16, TRIALS), mu_K=rng.uniform(0.1, 0.16, TRIALS),
        alpha_A=rng.uniform(1.4, 1.8, TRIALS), f_Z=rng.normal(12e-6, 2e-6, TRIALS), F_Kerf=30e3, F_A_max=20e3, n=0.4,
    )


def different_joints() -> ManyJoints:
    """A hundred thousand joints that differ in everything."""
    rng = np.random.default_rng(2)
    sizes = [joint.thread(f"M{d}") for d in (8, 10, 12, 16, 20, 24, 30, 36)]
    thread = stack([sizes[i] for i in rng.integers(0, len(sizes), JOINTS)])
    d_w = 1.4 * thread.d
    return ManyJoints(
        thread=thread, R_p02=rng.choice([640e6, 660e6, 940e6, 1100e6], JOINTS),
        l_K=thread.d * rng.uniform(2, 6, JOINTS), l_1=thread.d * rng.uniform(0, 1.5, JOINTS), d_w=d_w,
        d_h=1.1 * thread.d, D_A=d_w * rng.uniform(1.05, 4, JOINTS), E_S=205e9,
        E_P=rng.choice([205e9, 110e9, 70e9], JOINTS),
        mu_G=rng.uniform(0.08, 0.2, JOINTS), mu_K=rng.uniform(0.08, 0.2, JOINTS),
        alpha_A=rng.uniform(1.2, 2.5, JOINTS), f_Z=rng.uniform(5e-6, 15e-6, JOINTS),
        F_Kerf=thread.A_s * rng.uniform(20e6, 150e6, JOINTS), F_A_max=thread.A_s * rng.uniform(0, 100e6, JOINTS),
        n=rng.uniform(0.2, 1, JOINTS), gap=rng.uniform(-5e-6, 5e-6, JOINTS),
    )


def bare(j: ManyJoints) -> tuple[np.ndarray, ...]:
    """The same chain as one block of numpy, without a check: the bound."""
    t, pi, log = j.thread, math.pi, np.log
    A_N, A_3 = pi / 4 * t.d**2, pi / 4 * t.d3**2
    delta_S = ((j.head * t.d + j.l_1 + j.counterpart * t.d) / A_N + (j.l_K - j.l_1 + 0.5 * t.d) / A_3) / j.E_S
    slope = 0.362 + 0.032 * log(j.l_K / j.d_w / 2) + 0.153 * log(j.D_A / j.d_w)
    D = np.minimum(j.D_A, j.d_w + j.l_K * slope)
    delta_P = (2 / (j.d_h * slope) * log((j.d_w + j.d_h) * (D - j.d_h) / ((j.d_w - j.d_h) * (D + j.d_h)))
               + 4 / (D**2 - j.d_h**2) * (j.l_K - (D - j.d_w) / slope)) / (j.E_P * pi)
    both = delta_S + delta_P
    Phi = j.n * delta_P / both
    F_Z, dF = j.f_Z / both, j.gap / both
    F_M_min = j.F_Kerf + (1 - Phi) * j.F_A_max + F_Z + np.maximum(dF, 0)
    F_M_max = j.alpha_A * F_M_min
    d_0 = np.sqrt(4 * t.A_s / pi)
    lead = t.P / (pi * t.d2) + 1.155 * j.mu_G
    F_zul = t.A_s * j.nu * j.R_p02 / np.sqrt(1 + 3 * (1.5 * t.d2 / d_0 * lead) ** 2)
    F_S = F_zul + Phi * j.F_A_max + np.maximum(-dF, 0)
    tau = F_zul * t.d2 / 2 * lead / (pi / 16 * d_0**3)
    sigma = np.sqrt((F_S / t.A_s) ** 2 + 0.75 * tau**2)
    sigma_a = Phi * (j.F_A_max - j.F_A_min) / (2 * t.A_s)
    sigma_A = 0.85 * (0.15 / t.d + 45) * 1e6
    p = F_S / (pi / 4 * (j.d_w**2 - j.d_h**2))
    F_KR = F_zul / j.alpha_A - (1 - Phi) * j.F_A_max - F_Z - np.maximum(dF, 0)
    M = F_zul * (0.16 * t.P + 0.58 * t.d2 * j.mu_G + (j.d_w + j.d_h) / 4 * j.mu_K)
    return (delta_S, delta_P, Phi, F_Z, dF, F_M_min, F_M_max, F_zul, sigma, j.R_p02 / sigma, sigma_a, sigma_A, p, F_KR,
            M)


def apart(found: ManyResults, bound: tuple[np.ndarray, ...]) -> float:
    """Largest relative difference between the two, over all quantities and joints."""
    values = [getattr(found, name) for name in ManyResults.__slots__]
    return max(float(np.max(np.abs(a - b) / (np.abs(b) + 1e-30))) for a, b in zip(values, bound, strict=True))


def run(timed: Callable[[Callable[[], object]], float], line: Callable[[str, float, str, float], None]) -> None:
    """Prints time and ratio of both uses; the two ways have to agree, or the ratio would compare different things."""
    for name, joints in ((f"chain, {TRIALS:,} trials of one joint", one_case()),
                         (f"chain, {JOINTS:,} different joints", different_joints())):
        difference = apart(chain_of_many(joints), bare(joints))
        if difference > 1e-9:
            raise SystemExit(f"{name}: the chain and bare numpy differ by {difference:.1e}")
        line(name, timed(lambda joints=joints: chain_of_many(joints)), "bare numpy",  # type: ignore[misc]
             timed(lambda joints=joints: bare(joints)))  # type: ignore[misc]
