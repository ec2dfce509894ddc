"""Shearing of the bolt where friction does not carry the transverse load: VDI 2230-1 R12.

Areas in m2, forces in N, stresses in Pa; single numbers or arrays that broadcast.
"""

from __future__ import annotations

import re

from evenpull.joint.numeric import Num, holds

# tau_B/R_m by property class, VDI 2230-1 (2003) section 5.5.6 (table), from memory, not re-read
SHEAR_RATIO = {
    "4.6": 0.70, "5.6": 0.70, "8.8": 0.65, "10.9": 0.62, "12.9": 0.60,
}
# Shear over tensile level of aviation bolts in ksi, MIL-HDBK-5 in general terms, from memory, not re-read
AVIATION_RATIO = {"125": 75 / 125, "160": 95 / 160, "180": 108 / 180, "220": 132 / 220}


def shear_ratio(designation: str) -> tuple[float, str] | None:
    """tau_B/R_m of a bolt's class with its source, None where none is known. "8.8", "class 8.8", "aviation 160 ksi"."""
    plain = re.sub(r"^(?:property )?class\s+", "", " ".join(designation.split()), flags=re.IGNORECASE)
    if plain in SHEAR_RATIO:
        return SHEAR_RATIO[plain], "VDI 2230-1 section 5.5.6"
    match = re.fullmatch(r"aviation,?\s*(\d{3})\s*ksi(?:\s+tensile)?", plain, re.IGNORECASE)
    if match and match[1] in AVIATION_RATIO:
        return AVIATION_RATIO[match[1]], "MIL-HDBK-5, F_su and F_tu of steel bolts"
    return None


def shear_stress(F_Q: Num, A_tau: Num) -> Num:
    """tau_Q = F_Q / A_tau in Pa in the section that lies in the joint's face (VDI 2230-1 R12/6)."""
    if not holds(A_tau > 0):
        raise ValueError(f"the sheared area has to be greater than 0, not {A_tau} m2")
    return F_Q / A_tau


def S_A(tau_B: Num, tau_Q: Num) -> Num:
    """Safety against shearing S_A = tau_B / tau_Qmax (VDI 2230-1 R12/7). ValueError unless tau_Q > 0."""
    if not holds(tau_Q > 0):
        raise ValueError("without a transverse load there is no safety against shearing")
    return tau_B / tau_Q
