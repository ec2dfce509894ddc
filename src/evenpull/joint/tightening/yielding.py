"""Tightening to and beyond the yield point, tension and torsion together.

Loads in N, torques in N.m, lengths in m, stresses in Pa, angles in rad; single numbers or arrays that broadcast.
Before yield: VDI 2230-1 R7 (fully plastic torsion modulus). Beyond it: Ramberg and Osgood's law with the 0.2 % offset
at R_p02, plastic strain only in the loaded free thread, tension and torsion growing in proportion (textbook plasticity
with von Mises' flow rule). The exponent n is stated, or found from tensile strength and uniform elongation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenpull.joint.numeric import Num, holds, ln, sqrt, where
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.torque import torque_lever, torsion_ratio

OFFSET = 0.002  # plastic strain at R_p02
_HALVINGS = 80  # of the bracket of a load: far below the rounding of a float


def combined_factor(thread: ThreadSize, mu_G: Num) -> Num:
    """sigma_red/sigma = sqrt(1 + 3 (tau/sigma)^2) while tightening (VDI 2230-1 R7); at least 1."""
    _friction(mu_G)
    return sqrt(1 + 3 * torsion_ratio(thread, mu_G) ** 2)


def yield_load_tightening(thread: ThreadSize, R_p02: Num, mu_G: Num) -> Num:
    """Load in N at which the stress section yields under the wrench, A_s R_p02/sqrt(1 + 3 (tau/sigma)^2)
    (VDI 2230-1 R7 with nu = 1).
    """
    _stress(R_p02)
    return thread.A_s * R_p02 / combined_factor(thread, mu_G)


def yield_torque(thread: ThreadSize, R_p02: Num, mu_G: Num, mu_K: Num, D_Km: Num) -> Num:
    """Torque in N.m at the yield point (VDI 2230-1 R7 and R13)."""
    _friction(mu_K)
    return yield_load_tightening(thread, R_p02, mu_G) * torque_lever(thread, mu_G, mu_K, D_Km)


def hardening_exponent(R_m: Num, R_p02: Num, uniform_strain: Num) -> Num:
    """n of Ramberg and Osgood from the yield point (plastic strain 0.002) and the tensile strength (plastic uniform
    strain): n = ln(uniform_strain/0.002)/ln(R_m/R_p02). ValueError unless R_m > R_p02 and the strain exceeds 0.002.
    """
    if not holds((R_p02 > 0) & (R_m > R_p02)):
        raise ValueError(f"R_m has to be larger than R_p02: {R_m} Pa, {R_p02} Pa")
    if not holds((uniform_strain > OFFSET) & (uniform_strain < 1)):
        raise ValueError(f"the uniform strain lies between 0.002 and 1, not {uniform_strain}")
    return ln(uniform_strain / OFFSET) / ln(R_m / R_p02)


def plastic_extension(F: Num, thread: ThreadSize, R_p02: Num, n: Num, mu_G: Num, l_Gew: Num) -> Num:
    """Lasting extension in m of the loaded free thread under the load F while tightening:
    l_Gew (0.002/k) (k F/(A_s R_p02))^n with k = sigma_red/sigma.
    """
    _stress(R_p02)
    _plastic(n, l_Gew)
    k = combined_factor(thread, mu_G)
    return l_Gew * OFFSET / k * (k * F / (thread.A_s * R_p02)) ** n


def turn_to_load(
    F: Num, thread: ThreadSize, delta_S: Num, delta_P: Num, R_p02: Num, n: Num, mu_G: Num, l_Gew: Num,
) -> Num:
    """Turn in rad from loose contact to the load F, elastic and plastic: (2 pi/P) [F (delta_S + delta_P) + u_pl]."""
    _resilience(delta_S, delta_P)
    plastic = plastic_extension(F, thread, R_p02, n, mu_G, l_Gew)
    return 2 * math.pi / thread.P * (F * (delta_S + delta_P) + plastic)


def load_after_turn(
    angle: Num, thread: ThreadSize, delta_S: Num, delta_P: Num, R_p02: Num, n: Num, mu_G: Num, l_Gew: Num,
) -> Num:
    """Load in N after a turn from loose contact, elastic or beyond yield: `turn_to_load` solved by halving.

    The law knows no necking: compare the load with A_s R_m over the combined factor.
    """
    if not holds((angle >= 0) & (angle < math.inf)):
        raise ValueError(f"a turn is finite and 0 or more, not {angle}")
    _resilience(delta_S, delta_P)
    _stress(R_p02)
    elastic = angle * thread.P / (2 * math.pi * (delta_S + delta_P))
    # the plastic part alone bounds the load as well; without this a large exponent overflows
    k = combined_factor(thread, mu_G)
    _plastic(n, l_Gew)
    alone = thread.A_s * R_p02 / k * (angle * thread.P / (2 * math.pi) * k / (l_Gew * OFFSET)) ** (1 / n)
    high = where(elastic < alone, elastic, alone)
    low = high * 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        short = turn_to_load(middle, thread, delta_S, delta_P, R_p02, n, mu_G, l_Gew) < angle
        low, high = where(short, middle, low), where(short, high, middle)
    return (low + high) / 2


def gradient_ratio(
    F: Num, thread: ThreadSize, delta_S: Num, delta_P: Num, R_p02: Num, n: Num, mu_G: Num, l_Gew: Num,
) -> Num:
    """Gradient of the torque-angle line at the load F over its elastic one, between 1 and 0 (torque and load are in
    proportion at constant friction): 1/(1 + u_pl'/(delta_S + delta_P)).
    """
    _resilience(delta_S, delta_P)
    _stress(R_p02)
    _plastic(n, l_Gew)
    k = combined_factor(thread, mu_G)
    slope = l_Gew * OFFSET * n / (thread.A_s * R_p02) * (k * F / (thread.A_s * R_p02)) ** (n - 1)
    return 1 / (1 + slope / (delta_S + delta_P))


def load_at_gradient(
    ratio: Num, thread: ThreadSize, delta_S: Num, delta_P: Num, R_p02: Num, n: Num, mu_G: Num, l_Gew: Num,
) -> Num:
    """Load in N at which the gradient has fallen to `ratio` of the elastic one: where yield-controlled tightening that
    watches the gradient stops. ValueError unless 0 < ratio < 1.
    """
    if not holds((ratio > 0) & (ratio < 1)):
        raise ValueError(f"the gradient at the stop lies between 0 and 1 of the elastic one, not {ratio}")
    _resilience(delta_S, delta_P)
    _stress(R_p02)
    _plastic(n, l_Gew)
    k, F_p = combined_factor(thread, mu_G), thread.A_s * R_p02
    return F_p / k * ((1 / ratio - 1) * (delta_S + delta_P) * F_p / (OFFSET * n * l_Gew)) ** (1 / (n - 1))


@dataclass(frozen=True, slots=True)
class TurnLine:
    """A torque-angle line ready to be drawn: turn from loose contact (rad), load (N), torque (N.m), gradient over the
    elastic one; `yield_turn` the turn at the 0.2 % yield point.
    """

    turn: tuple[float, ...]
    load: tuple[float, ...]
    torque: tuple[float, ...]
    gradient: tuple[float, ...]
    yield_turn: float
    yield_load: float


def turn_line(
    thread: ThreadSize, delta_S: float, delta_P: float, R_p02: float, n: float, mu_G: float, mu_K: float,
    D_Km: float, l_Gew: float, *, points: int = 60, beyond: float = 1.3,
) -> TurnLine:
    """The line up to `beyond` times the turn at yield, `points` of equal load up to it."""
    if points < 3 or not 0 < beyond < math.inf:
        raise ValueError(f"at least 3 points and an end above 0 are needed, not {points} and {beyond}")
    F_y = yield_load_tightening(thread, R_p02, mu_G)
    args = (thread, delta_S, delta_P, R_p02, n, mu_G, l_Gew)
    yield_turn = turn_to_load(F_y, *args)
    turns = np.linspace(0.0, beyond * yield_turn, points)
    loads = load_after_turn(turns, *args)
    gradients = gradient_ratio(loads, *args)
    torques = loads * torque_lever(thread, mu_G, mu_K, D_Km)
    return TurnLine(
        tuple(turns.tolist()), tuple(loads.tolist()), tuple(torques.tolist()), tuple(gradients.tolist()),
        float(yield_turn), float(F_y),
    )


def _friction(mu: Num) -> None:
    if not holds((mu > 0) & (mu < 1)):
        raise ValueError(f"a coefficient of friction lies between 0 and 1, not {mu}")


def _stress(R_p02: Num) -> None:
    if not holds((R_p02 > 0) & (R_p02 < math.inf)):
        raise ValueError(f"R_p02 has to be finite and greater than 0, not {R_p02} Pa")


def _resilience(delta_S: Num, delta_P: Num) -> None:
    if not holds((delta_S > 0) & (delta_P > 0)):
        raise ValueError(f"resiliences have to be greater than 0: {delta_S}, {delta_P} m/N")


def _plastic(n: Num, l_Gew: Num) -> None:
    if not holds((n > 1) & (n < math.inf)):
        raise ValueError(f"the exponent n has to be greater than 1, not {n}")
    if not holds((l_Gew > 0) & (l_Gew < math.inf)):
        raise ValueError(f"plastic strain needs a length of loaded free thread above 0 m, not {l_Gew}")
