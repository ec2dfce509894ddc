"""R11 and R12: engagement of the thread, residual clamp load, slipping and shearing."""

from __future__ import annotations

import math

from evenpull.joint import clamping, shear
from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.engagement import engagement
from evenpull.joint.result import Check
from evenpull.joint.rules.vdi2230.demands import at_least, not_judged

R12 = "VDI 2230-1 R12"


def add_engagement(chain: Chain, case: JointCase) -> list[Check]:
    """R11: the nut of its class, or the length of engagement that a tapped hole needs."""
    R11 = "VDI 2230-1 R11"
    if case.through_bolt:
        chain.group("R11 length of engagement")
        stress = case.counterpart.nut_proof_stress
        name = "proof load of the nut against the greatest load of the bolt in service"
        if stress is None:
            return [not_judged("F_mM", name, None, "the class of the nut is not stated", R11)]
        chain.add("S_p_M", "proof stress of the nut", stress, "Pa", "stated",
                  chain.said("counterpart.nut_proof_stress"))
        value = chain.add("F_mM", "proof load of the nut", stress * chain["A_S"], "N", "F_mM = S_p_M A_S", R11,
                          inputs=chain.get("S_p_M", "A_S"))
        return [at_least("F_mM", name, value, chain["F_S_max"], "N", R11)]
    chain.group("R11 length of engagement")
    found = engagement(case)
    chain.take(found.steps)
    name = "length of engagement against the one at which the bolt breaks first"
    if found.required is None or found.engaged is None:
        return [not_judged("m_eff", name, found.required, found.why_not, R11)]
    return [at_least("m_eff", name, found.engaged, found.required, "m", R11)]


def add_slip(chain: Chain, case: JointCase) -> list[Check]:
    """R12: what clamp load is left, against what is needed, against slipping, and shearing where the shank carries."""
    chain.group("R12 slipping and shearing")
    loads, limits = case.loads, case.limits
    left = clamping.F_K_R(chain["F_M_zul"], chain["alpha_A"], chain["Phi"], loads.F_A_max, chain["F_Z"],
                          chain["dF_Vth"])
    chain.add("F_KR_min", "least residual clamp load", left, "N",
              "F_KR_min = F_M_zul / alpha_A - (1 - Phi) F_A_max - F_Z - max(dF_Vth, 0)", f"{R12}/1",
              inputs={**chain.get("F_M_zul", "alpha_A", "Phi", "F_Z", "dF_Vth"), "F_A_max": loads.F_A_max})
    checks = [at_least("F_KR_min", "residual clamp load against the required one", left, chain["F_Kerf"], "N",
                       f"{R12}/2")]
    if "F_KQ" in chain and chain["F_KQ"] > 0:
        S = chain.add("S_G", "safety against slipping", clamping.S_G(left, chain["F_KQ"]), "1",
                      "S_G = F_KR_min / F_KQ", f"{R12}/4", inputs=chain.get("F_KR_min", "F_KQ"))
        checks.append(at_least("S_G", "safety against slipping", S, limits.S_G, "1", f"{R12}/4"))
    if loads.F_Q and loads.bearing_shear:
        checks.append(_shear(chain, case))
    return checks


def _shear(chain: Chain, case: JointCase) -> Check:
    name, strength = "safety against shearing", case.bolt.strength
    known = shear.shear_ratio(strength.designation)
    if known is None:
        return not_judged("S_A", name, case.limits.S_A, f"no shear strength is known for {strength.designation}", R12)
    ratio, source = known
    in_joint = case.bolt.sections[-1].d if case.bolt.sections else 0.0
    if in_joint:
        d_tau, words = in_joint, "shank in the joint's face"
        chain.add("d_tau", words, d_tau, "m", "stated", chain.said("bolt.sections"))
    else:
        chain.add("d_tau", "thread in the joint's face", chain["d_S"], "m", "d_tau = d_S", R12,
                  inputs=chain.get("d_S"))
    chain.add("A_tau", "sheared area", math.pi / 4 * chain["d_tau"] ** 2, "m2", "A_tau = pi / 4 d_tau^2", f"{R12}/6",
              inputs=chain.get("d_tau"))
    chain.add("tau_Q", "shear stress", shear.shear_stress(abs(case.loads.F_Q), chain["A_tau"]), "Pa",
              "tau_Q = F_Q / A_tau", f"{R12}/6", inputs={"F_Q": abs(case.loads.F_Q), **chain.get("A_tau")})
    chain.add("tau_B", "shear strength of the bolt", ratio * strength.R_m, "Pa", "tau_B = r_tau R_m", source,
              "memory", inputs={"r_tau": ratio, "R_m": strength.R_m})
    S = chain.add("S_A", name, shear.S_A(chain["tau_B"], chain["tau_Q"]), "1", "S_A = tau_B / tau_Q", f"{R12}/7",
                  inputs=chain.get("tau_B", "tau_Q"))
    return at_least("S_A", name, S, case.limits.S_A, "1", f"{R12}/7")
