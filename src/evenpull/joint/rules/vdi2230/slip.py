"""R11 and R12: engagement of the thread, residual clamp load, slipping and shearing."""

from __future__ import annotations

import itertools

from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.parts.engagement import engagement
from evenpull.joint.result import Check
from evenpull.joint.rules.vdi2230.demands import at_least, not_judged
from evenpull.joint.rules.vdi2230.loads import add_change_of
from evenpull.joint.service import clamping, shear
from evenpull.joint.springs.eccentric import F_KA
from evenpull.joint.springs.resilience import ring_area

R12 = "VDI 2230-1 R12"
TOUCHES = 1e-6  # m; a face this near to the end of a section lies at its end


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
    least = chain["F_M_zul"] / chain["alpha_A"] - chain["F_Z"]
    chain.add("F_V_min", "least preload after embedding", least, "N", "F_V_min = F_M_zul / alpha_A - F_Z", R12,
              inputs=chain.get("F_M_zul", "alpha_A", "F_Z"))
    change = add_change_of(chain, "F_V_min", "dF_Vth_min", "change by temperature of the least preload")
    left = clamping.F_K_R(chain["F_M_zul"], chain["alpha_A"], 0.0, chain["F_PA_max"], chain["F_Z"], chain[change])
    chain.add("F_KR_min", "least residual clamp load", left, "N",
              f"F_KR_min = F_M_zul / alpha_A - F_PA_max - F_Z - max({change}, 0)", f"{R12}/1",
              inputs=chain.get("F_M_zul", "alpha_A", "F_PA_max", "F_Z", change))
    checks = [at_least("F_KR_min", "residual clamp load against the required one", left, chain["F_Kerf"], "N",
                       f"{R12}/2")]
    if (shut := _shut(case)) > chain["F_Kerf"] * (1 + 1e-9):
        chain.add("F_shut", "clamp load for sealing and against one-sided opening, more than the stated F_Kerf", shut,
                  "N", "pressure times area, and the opening of the edge", "VDI 2230-1 R2/2, R2/3")
        checks.append(at_least("F_shut", "residual clamp load against sealing and one-sided opening", left, shut, "N",
                               "VDI 2230-1 R2/2, R2/3"))
    if "F_KQ" in chain and chain["F_KQ"] > 0:
        S = chain.add("S_G", "safety against slipping", clamping.S_G(left, chain["F_KQ"]), "1",
                      "S_G = F_KR_min / F_KQ", f"{R12}/4", inputs=chain.get("F_KR_min", "F_KQ"))
        checks.append(at_least("S_G", "safety against slipping", S, limits.S_G, "1", f"{R12}/4"))
    if loads.F_Q and loads.bearing_shear:
        checks.append(_shear(chain, case))
    return checks


def _shut(case: JointCase) -> float:
    """What sealing and an edge kept shut need (N), also where another clamp load is stated."""
    loads, ecc = case.loads, case.eccentricity
    need = float(clamping.F_KP(loads.sealing_area, loads.sealing_pressure))
    if ecc is not None:
        need += max(float(F_KA(loads.F_A_max, ecc.A_D, ecc.a, ecc.s_sym, ecc.u, ecc.I_BT)), 0.0)
    return need


def separated(chain: Chain, checks: list[Check]) -> list[Check]:
    """The checks, those of the bolt in service not judged where the parts come apart: the bolt then carries the whole
    working load, and the load factor no longer holds.
    """
    why = "the parts come apart (F_KR_min below zero): the load factor does not hold and the bolt carries all of F_A"
    if chain["F_KR_min"] >= 0:
        return checks
    return [not_judged(one.symbol, one.name, one.limit, why, one.source) if one.symbol in ("S_F", "S_D") and one.holds
            else one for one in checks]


def _shear(chain: Chain, case: JointCase) -> Check:
    name, strength = "safety against shearing", case.bolt.strength
    d_tau, bore, words, said = _sheared_section(chain, case)
    known = shear.shear_ratio(strength.designation)
    if known is None and case.bolt.material.tau_B is None:
        return not_judged("S_A", name, case.limits.S_A, f"no shear strength is known for {strength.designation}; "
                          "state bolt.material.tau_B", R12)
    chain.add("d_tau", words, d_tau, "m", *said, inputs=chain.get("d_S") if said[0] != "stated" else {})
    chain.add("d_tau_i", "bore there", bore, "m", "stated", chain.said("bolt.sections"))
    chain.add("A_tau", "sheared area", ring_area(d_tau, bore), "m2", "A_tau = pi / 4 (d_tau^2 - d_tau_i^2)",
              f"{R12}/6", inputs=chain.get("d_tau", "d_tau_i"))
    chain.add("tau_Q", "shear stress", shear.shear_stress(abs(case.loads.F_Q), chain["A_tau"]), "Pa",
              "tau_Q = F_Q / A_tau", f"{R12}/6", inputs={"F_Q": abs(case.loads.F_Q), **chain.get("A_tau")})
    if known is not None:
        ratio, source = known
        chain.add("tau_B", "shear strength of the bolt", ratio * strength.R_m, "Pa", "tau_B = r_tau R_m", source,
                  "memory", inputs={"r_tau": ratio, "R_m": strength.R_m})
    else:
        material = case.bolt.material
        assert material.tau_B is not None  # asked above
        chain.add("tau_B", "shear strength of the bolt", material.tau_B, "Pa", material.name, material.source,
                  material.status)
    S = chain.add("S_A", name, shear.S_A(chain["tau_B"], chain["tau_Q"]), "1", "S_A = tau_B / tau_Q", f"{R12}/7",
                  inputs=chain.get("tau_B", "tau_Q"))
    return at_least("S_A", name, S, case.limits.S_A, "1", f"{R12}/7")


def _sheared_section(chain: Chain, case: JointCase) -> tuple[float, float, str, tuple[str, str]]:
    """Diameter, bore, name, formula and source of the smallest section that lies in a face between two parts.

    A face at the very end of a section counts to the smaller neighbour; the face of a tapped hole lies in the thread.
    Where the case has no face between parts, every section may be the sheared one.
    """
    thread = (chain["d_S"], case.bolt.d_i, "thread in the joint's face", ("d_tau = d_S", R12))
    spans, start = [], 0.0
    for section in case.bolt.sections:
        spans.append((start, start + section.length, section))
        start += section.length
    faces = list(itertools.accumulate(layer.length for layer in case.layers))
    if case.through_bolt:
        faces.pop()
    found = [] if faces else [thread]
    for face in faces:
        if face >= start - TOUCHES:
            found.append(thread)
    for low, high, section in spans:
        if not faces or any(low - TOUCHES <= face <= high + TOUCHES for face in faces):
            found.append((section.d, section.d_i, "section in the joint's face",
                          ("stated", chain.said("bolt.sections"))))
    return min(found, key=lambda one: ring_area(one[0], one[1]))
