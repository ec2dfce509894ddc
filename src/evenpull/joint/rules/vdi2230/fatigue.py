"""R9: alternating stress against the fatigue strength of the thread."""

from __future__ import annotations

import re

from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check
from evenpull.joint.rules.vdi2230.demands import at_least, not_judged
from evenpull.joint.service import fatigue_vdi as fatigue
from evenpull.joint.service.clamping import F_SA
from evenpull.joint.springs.eccentric import Eccentric, sigma_SAb

R9 = "VDI 2230-1 R9"
NAME = "safety against fatigue"
CLASSES = ("8.8", "9.8", "10.9", "12.9")  # quenched and tempered steels for which the strengths are given
LEAST_R_M = 790e6  # Pa, of class 8.8: a class whose stated strength is lower is not what it says
SIZES = (5e-3, 40e-3)  # m; range of the strengths


def add_fatigue(chain: Chain, case: JointCase, eccentric: Eccentric | None) -> list[Check]:
    """R9 for a thread rolled before heat treatment, the weaker of both; not judged where the strengths do not hold.
    `eccentric` is the beam model of R3, None for a concentric joint.
    """
    loads, limit, d = case.loads, case.limits.S_D, case.bolt.thread.d
    if loads.F_A_max == loads.F_A_min:
        chain.group("R9 fatigue", "the axial load does not alternate")
        return []
    chain.group("R9 fatigue")
    right = _class(case) in CLASSES and case.bolt.strength.R_m >= LEAST_R_M
    if not right or not SIZES[0] * 0.999 <= d <= SIZES[1] * 1.001:
        return [not_judged("S_D", NAME, limit, "the fatigue strengths hold for class 8.8 to 12.9 and M5 to M40", R9)]
    chain.add("F_SA_min", "additional load of the bolt, lowest", F_SA(chain["Phi"], loads.F_A_min), "N",
              "F_SA_min = Phi F_A_min", f"{R9}", inputs={**chain.get("Phi"), "F_A_min": loads.F_A_min})
    if eccentric is None:
        value = fatigue.sigma_a(chain["F_SA_max"], chain["F_SA_min"], chain["A_S"])
        chain.add("sigma_a", "alternating stress", value, "Pa", "sigma_a = (F_SA_max - F_SA_min) / (2 A_S)",
                  f"{R9}/1", inputs=chain.get("F_SA_max", "F_SA_min", "A_S"))
    else:
        _bending(chain, case, eccentric)
    if chain["sigma_a"] == 0:
        return [not_judged("S_D", NAME, limit, "nothing of the alternating load reaches the bolt (loads.n or the lever "
                           "arms make it so)", R9)]
    strength = fatigue.sigma_A_SV(d)
    chain.add("sigma_A", "endurance limit, rolled before heat treatment", strength, "Pa",
              "sigma_A = 0.85 (0.150 / d + 45) 1000000", f"{R9}/3", inputs=chain.get("d"))
    _after_heat_treatment(chain, case)
    symbol = "sigma_A"
    if loads.cycles is not None and loads.cycles < fatigue.N_D:
        if loads.cycles < fatigue.N_MIN:
            return [not_judged("S_D", NAME, limit, f"fewer than {fatigue.N_MIN:.0f} cycles are not judged by R9", R9)]
        strength = fatigue.at_cycles(strength, loads.cycles, 1 / 3)
        chain.add("sigma_AZ", "fatigue strength at the stated cycles", strength, "Pa",
                  "sigma_AZ = sigma_A (2000000 / N_Z)^(1/3)", f"{R9}/5",
                  inputs={**chain.get("sigma_A"), "N_Z": loads.cycles})
        symbol = "sigma_AZ"
    S = chain.add("S_D", NAME, fatigue.S_D(strength, chain["sigma_a"]), "1", f"S_D = {symbol} / sigma_a", f"{R9}/7",
                  inputs=chain.get(symbol, "sigma_a"))
    return [at_least("S_D", NAME, S, limit, "1", f"{R9}/7")]


def _class(case: JointCase) -> str:
    """The property class without the words that may stand before it."""
    return re.sub(r"^(?:property )?class\s+", "", " ".join(case.bolt.strength.designation.split()), flags=re.IGNORECASE)


def _after_heat_treatment(chain: Chain, case: JointCase) -> None:
    """What the thread would stand if rolled after heat treatment: shown, not relied on, as the case does not say it."""
    F_Sm = fatigue.mean_load(chain["F_SA_max"], chain["F_SA_min"], chain["F_M_zul"])
    F_02 = chain["R_p02"] * chain["A_S"]
    if not 0.3 <= F_Sm / F_02 < 1:
        return
    chain.add("F_S_m", "mean load of the bolt", F_Sm, "N", "F_S_m = (F_SA_max + F_SA_min) / 2 + F_M_zul", R9,
              inputs=chain.get("F_SA_max", "F_SA_min", "F_M_zul"))
    chain.add("F_02", "yield load of the thread", F_02, "N", "F_02 = R_p02 A_S", R9, inputs=chain.get("R_p02", "A_S"))
    chain.add("sigma_A_SG", "endurance limit if rolled after heat treatment (not relied on here)",
              fatigue.sigma_A_SG(chain["sigma_A"], F_Sm, F_02), "Pa", "sigma_A_SG = (2 - F_S_m / F_02) sigma_A",
              f"{R9}/4", inputs=chain.get("F_S_m", "F_02", "sigma_A"))


def _bending(chain: Chain, case: JointCase, model: Eccentric) -> None:
    ecc = case.eccentricity
    assert ecc is not None
    said = {"a": ecc.a, "s_sym": ecc.s_sym, "E_P": model.E_P, "I_Bers": ecc.I_Bers, "beta_S": model.beta_S,
            **chain.get("Phi", "l_K", "d_S", "A_S")}
    chain.add("beta_S", "bending resilience of the bolt", model.beta_S, "1/(N.m)", "sum of l/(E I) of the pieces",
              "VDI 2230-1 section 5.1.1.2")
    for key, F_A, words in (("o", case.loads.F_A_max, "upper"), ("u", case.loads.F_A_min, "lower")):
        value = sigma_SAb(F_A, model.Phi_en, ecc.a, ecc.s_sym, chain["l_K"], model.E_P, ecc.I_Bers, model.beta_S,
                          chain["d_S"], chain["A_S"])
        chain.add(f"sigma_SAb_{key}", f"additional stress at the edge of the thread, {words} load", value, "Pa",
                  f"sigma_SAb_{key} = Phi F_A_{key} / A_S + 32 (a - Phi s_sym) F_A_{key} l_K / (E_P I_Bers) / beta_S "
                  "/ (pi d_S^3)", f"{R9}/2", inputs={**said, f"F_A_{key}": F_A})
    chain.add("sigma_a", "alternating stress with bending", abs(chain["sigma_SAb_o"] - chain["sigma_SAb_u"]) / 2, "Pa",
              "sigma_a = max(sigma_SAb_o - sigma_SAb_u, sigma_SAb_u - sigma_SAb_o) / 2", f"{R9}/2",
              inputs=chain.get("sigma_SAb_o", "sigma_SAb_u"))
