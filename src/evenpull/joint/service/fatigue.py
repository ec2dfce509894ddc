"""Fatigue of a preloaded bolt the textbook way (Shigley section 8-11): three lines of failure, Pa and N.

The load line starts at the stress of the preload and has the slope r = sigma_a/(sigma_m - sigma_i), which is 1 for a
load that comes from zero (the case that the textbook prints). Not the method of VDI 2230-1.
"""

from __future__ import annotations

import re

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.catalogue.textbook import EnduranceRow, endurance_rows
from evenpull.joint.numeric import Num, holds, require_positive, sqrt
from evenpull.quantities import show

SOURCE = "Shigley section 8-11"


def endurance_strength(designation: str, d: float) -> EnduranceRow:
    """S_e of a class ("SAE J429 grade 5", "10.9") at the diameter d in m (Shigley Table 8-17, rolled threads).

    Raises NotInCatalogue for a class that the table lacks and a size outside its range (8.8 below M16): none is
    assumed.
    """
    name = re.sub(r"^(?:property )?class\s+", "", " ".join(designation.split()), flags=re.IGNORECASE)
    if match := re.fullmatch(r"(?:SAE\s*)?(?:J\s*429)?\s*(?:grade|gr\.?)?\s*(\d(?:\.2)?)", name, re.IGNORECASE):
        name = f"SAE J429 grade {match[1]}"
    rows = [row for row in endurance_rows() if row.designation == name]
    if not rows:
        known = tuple(dict.fromkeys(row.designation for row in endurance_rows()))
        raise NotInCatalogue("class with an endurance strength", designation, known, endurance_rows()[0].source)
    for row in rows:
        if row.holds_for(d):
            return row
    ranges = tuple(f"{show(row.d_from, 'mm')} to {show(row.d_to, 'mm')}" for row in rows)
    raise NotInCatalogue("size with an endurance strength", f"{designation} at {show(d, 'mm')}", ranges, rows[0].source)


def stress_amplitude(C: Num, P_max: Num, P_min: Num, A_t: Num) -> Num:
    """sigma_a = C (P_max - P_min)/(2 A_t) in Pa (Shigley eq. 8-35). ValueError unless P_max >= P_min, A_t > 0."""
    require_positive("m2", A_t=A_t)
    if not holds(P_max >= P_min):
        raise ValueError(f"the greatest load {P_max} N is less than the least {P_min} N")
    return C * (P_max - P_min) / (2 * A_t)


def mean_stress(C: Num, P_max: Num, P_min: Num, F_i: Num, A_t: Num) -> Num:
    """sigma_m = C (P_max + P_min)/(2 A_t) + F_i/A_t in Pa (Shigley eq. 8-36)."""
    require_positive("m2", A_t=A_t)
    return C * (P_max + P_min) / (2 * A_t) + F_i / A_t


def load_line(P_max: Num, P_min: Num) -> Num:
    """r = (P_max - P_min)/(P_max + P_min): slope sigma_a/(sigma_m - sigma_i) of the load line; 1 for a load from zero.

    ValueError unless the loads have a positive mean: the textbook's lines start upwards from the preload.
    """
    if not holds((P_max > P_min) & (P_max + P_min > 0)):
        raise ValueError(f"no load line: the load goes from {P_min} to {P_max} N and needs a positive mean")
    return (P_max - P_min) / (P_max + P_min)


def _require(limit: Num, name: str, S_e: Num, sigma_i: Num, r: Num) -> None:
    require_positive("", S_e=S_e, r=r, **{name: limit})
    if not holds((sigma_i >= 0) & (sigma_i < limit)):
        raise ValueError(f"the preload stress {sigma_i} Pa lies between 0 and {name} = {limit} Pa")


def goodman(S_e: Num, S_ut: Num, sigma_i: Num, r: Num = 1.0) -> Num:
    """S_a = r S_e (S_ut - sigma_i)/(r S_ut + S_e) in Pa: line of Goodman (r = 1: Shigley eq. 8-40, section 8-11).

    ValueError unless S_e, S_ut, r > 0 and 0 <= sigma_i < S_ut.
    """
    _require(S_ut, "S_ut", S_e, sigma_i, r)
    return r * S_e * (S_ut - sigma_i) / (r * S_ut + S_e)


def gerber(S_e: Num, S_ut: Num, sigma_i: Num, r: Num = 1.0) -> Num:
    """S_a = r [S_ut sqrt(r^2 S_ut^2 + 4 S_e (S_e + r sigma_i)) - r S_ut^2 - 2 sigma_i S_e]/(2 S_e) in Pa: parabola of
    Gerber, S_a/S_e + (S_m/S_ut)^2 = 1 (r = 1: Shigley eq. 8-41, section 8-11).
    """
    _require(S_ut, "S_ut", S_e, sigma_i, r)
    root = sqrt(r**2 * S_ut**2 + 4 * S_e * (S_e + r * sigma_i))
    return r * (S_ut * root - r * S_ut**2 - 2 * sigma_i * S_e) / (2 * S_e)


def asme_elliptic(S_e: Num, S_p: Num, sigma_i: Num, r: Num = 1.0) -> Num:
    """S_a = r S_e [S_p sqrt(r^2 (S_p^2 - sigma_i^2) + S_e^2) - sigma_i S_e]/(r^2 S_p^2 + S_e^2) in Pa: ASME ellipse,
    (S_a/S_e)^2 + (S_m/S_p)^2 = 1 (r = 1: Shigley eq. 8-42, section 8-11).
    """
    _require(S_p, "S_p", S_e, sigma_i, r)
    root = sqrt(r**2 * (S_p**2 - sigma_i**2) + S_e**2)
    return r * S_e * (S_p * root - sigma_i * S_e) / (r**2 * S_p**2 + S_e**2)


def proof_line(S_p: Num, sigma_i: Num, r: Num = 1.0) -> Num:
    """S_a = r (S_p - sigma_i)/(1 + r) in Pa: amplitude at which the greatest stress reaches S_p along the load line."""
    _require(S_p, "S_p", S_p, sigma_i, r)
    return r * (S_p - sigma_i) / (1 + r)


def fatigue_factor(S_a: Num, sigma_a: Num) -> Num:
    """n_f = S_a/sigma_a (Shigley eq. 8-37). ValueError for sigma_a <= 0: a load that does not alternate."""
    require_positive("Pa", sigma_a=sigma_a)
    return S_a / sigma_a


def safe_repeated_load(S_a: Num, A_t: Num, C: Num, n_f: Num = 1.0) -> Num:
    """P = 2 S_a A_t/(n_f C) in N: greatest load from zero with the factor n_f (Shigley eq. 8-35 and 8-37)."""
    require_positive("", S_a=S_a, A_t=A_t, C=C, n_f=n_f)
    return 2 * S_a * A_t / (n_f * C)
