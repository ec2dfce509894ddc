"""R8 and R10: stress of the bolt in service, and surface pressure."""

from __future__ import annotations

from evenpull.joint.case import AMBIENT, JointCase, Layer
from evenpull.joint.chain import Chain
from evenpull.joint.numeric import larger
from evenpull.joint.parts.bearing import S_P, bearing_area, slotted_area, surface_pressure
from evenpull.joint.result import Check
from evenpull.joint.rules.vdi2230.demands import at_least, not_judged
from evenpull.joint.rules.vdi2230.loads import add_change_of
from evenpull.joint.rules.vdi2230.tightening import TWISTED
from evenpull.joint.service import working
from evenpull.joint.service.remaining import NEAR_AMBIENT
from evenpull.joint.springs.resilience import ring_area

R10 = "VDI 2230-1 R10"
BEYOND_YIELD = 1.40  # VDI 2230-1 R10: what yield controlled tightening may reach over F_Mzul, from memory


def add_working_stress(chain: Chain, case: JointCase) -> list[Check]:
    """R8: greatest bolt load and equivalent stress in service, k_tau = 0.5; a gain by heat counts, a loss not."""
    chain.group("R8 working stress")
    R8, name = "VDI 2230-1 R8", "safety against yielding in service"
    change = add_change_of(chain, "F_M_zul", "dF_Vth_zul", "change by temperature of the permissible preload")
    gain = chain.add("dF_gain", "gain of load by temperature", larger(-chain[change], 0.0), "N",
                     f"dF_gain = max(0 - {change}, 0)", f"{R8}: a loss is not counted on", inputs=chain.get(change))
    F_S = chain.add("F_S_max", "greatest load of the bolt in service",
                    working.F_S_max(chain["F_M_zul"], chain["F_SA_max"], -gain), "N",
                    "F_S_max = F_M_zul + F_SA_max + dF_gain", f"{R8}/1",
                    inputs=chain.get("F_M_zul", "F_SA_max", "dF_gain"))
    chain.add("sigma_z", "tension", working.tension_stress(F_S, chain["A_0"]), "Pa", "sigma_z = F_S_max / A_0",
              f"{R8}/2", inputs=chain.get("F_S_max", "A_0"))
    M_G = 0.0
    if case.tightening.method in TWISTED:
        M_G = working.thread_torque(chain["F_M_zul"], case.bolt.thread, chain["mu_G_low"])
        chain.add("M_G", "thread torque", M_G, "N.m", "M_G = F_M_zul d_2 / 2 (P / (pi d_2) + 1.155 mu_G_low)",
                  f"{R8}/3", inputs=chain.get("F_M_zul", "d_2", "P", "mu_G_low"))
    else:
        chain.add("M_G", "thread torque", M_G, "N.m", "none: the bolt is not turned under load", R8)
    tau = working.torsion_stress(M_G, chain["d_0"], chain["d_i"])
    chain.add("tau", "torsion, elastic", tau, "Pa", "tau = M_G d_0 / (pi / 16 (d_0^4 - d_i^4))",
              f"{R8}/3, torsion modulus pi d_0^3/16", inputs=chain.get("M_G", "d_0", "d_i"))
    sigma = working.working_stress(chain["sigma_z"], tau)
    chain.add("sigma_red_B", "equivalent stress in service", sigma, "Pa",
              "sigma_red_B = sqrt(sigma_z^2 + 3 (0.5 tau)^2)", f"{R8}/4, k_tau = 0.5",
              inputs=chain.get("sigma_z", "tau"))
    if case.tightening.method == "yield":
        return [not_judged("S_F", name, case.limits.S_F, "tightened to yield: the working load adds to a bolt at its "
                           "yield point, to be judged by its plastic elongation", R8)]
    ratio = case.service.R_p02_ratio
    if ratio is None:
        if abs(case.service.T_S - AMBIENT) > NEAR_AMBIENT:
            return [not_judged("S_F", name, case.limits.S_F, f"at {case.service.T_S:g} degC the yield strength "
                               "differs; state service.R_p02_ratio", R8)]
        ratio = 1.0
    chain.add("r_R", "yield strength in service over that at 20 degC", ratio, "1", "stated",
              chain.said("service.R_p02_ratio"))
    S_F = chain.add("S_F", name, working.S_F(ratio * chain["R_p02"], sigma), "1", "S_F = r_R R_p02 / sigma_red_B",
                    f"{R8}/5", inputs=chain.get("r_R", "R_p02", "sigma_red_B"))
    return [at_least("S_F", name, S_F, case.limits.S_F, "1", f"{R8}/5")]


def add_pressure(chain: Chain, case: JointCase) -> list[Check]:
    """R10: pressure under head and nut at assembly and in service against p_G."""
    chain.group("R10 surface pressure")
    if case.tightening.method == "yield":
        chain.add("F_p", "load that presses the faces, tightened to yield", BEYOND_YIELD * chain["F_M_zul"], "N",
                  f"F_p = {BEYOND_YIELD} F_M_zul", "VDI 2230-1 R10/2: yield controlled", "memory",
                  inputs=chain.get("F_M_zul"))
    else:
        chain.add("F_p", "load that presses the faces in service", chain["F_S_max"], "N", "F_p = F_S_max",
                  "VDI 2230-1 R10/2", inputs=chain.get("F_S_max"))
    faces = [("K", "head", case.bolt.d_w, case.layers[0])]
    if case.through_bolt and case.counterpart.d_w is not None:
        faces.append(("M", "nut", case.counterpart.d_w, case.layers[-1]))
    return [check for key, words, d_w, layer in faces for check in _face(chain, case, key, words, d_w, layer)]


def _face(chain: Chain, case: JointCase, key: str, words: str, d_w: float, layer: Layer) -> list[Check]:
    name = f"safety of the face under the {words}"
    inner = max(layer.d_h, layer.chamfer or 0.0)
    if layer.slot_length is not None:
        if layer.chamfer is not None:
            return [not_judged(f"S_P_{key}", name, case.limits.S_P, f"{layer.name} has a slotted hole with a chamfer",
                               R10)]
        A = _slotted(chain, key, words, d_w, layer.d_h, layer.slot_length)
    else:
        A = chain.add(f"A_p_{key}", f"bearing area under the {words}", bearing_area(d_w, inner), "m2",
                      f"A_p_{key} = pi / 4 (d_w_{key}^2 - D_i_{key}^2)", f"{R10}/3",
                      inputs={f"d_w_{key}": d_w, f"D_i_{key}": inner})
    chain.add(f"p_M_{key}", f"pressure under the {words} at assembly", surface_pressure(chain["F_M_zul"], A), "Pa",
              f"p_M_{key} = F_M_zul / A_p_{key}", f"{R10}/1", inputs=chain.get("F_M_zul", f"A_p_{key}"))
    p = chain.add(f"p_B_{key}", f"greatest pressure under the {words}", surface_pressure(chain["F_p"], A), "Pa",
                  f"p_B_{key} = F_p / A_p_{key}", f"{R10}/2", inputs=chain.get("F_p", f"A_p_{key}"))
    limit = layer.material.p_G
    if limit is None:
        return [not_judged(f"S_P_{key}", name, case.limits.S_P, f"{layer.material.name} states no limiting surface "
                           "pressure p_G, and none is assumed", R10)]
    chain.add(f"p_G_{key}", f"limiting surface pressure of {layer.material.name}", limit, "Pa", layer.material.name,
              layer.material.source, layer.material.status)
    S = chain.add(f"S_P_{key}", name, S_P(limit, p), "1", f"S_P_{key} = p_G_{key} / p_B_{key}", f"{R10}/4",
                  inputs=chain.get(f"p_G_{key}", f"p_B_{key}"))
    return [at_least(f"S_P_{key}", name, S, case.limits.S_P, "1", f"{R10}/4")]


def _slotted(chain: Chain, key: str, words: str, d_w: float, width: float, length: float) -> float:
    """The face around a slotted hole, bolt in the middle: there a slot takes most of it."""
    left = slotted_area(d_w, width, length)
    slot, geometry = ring_area(d_w) - left, "plane geometry"
    if length <= d_w:
        chain.add(f"A_slot_{key}", f"slot under the {words}", slot, "m2",
                  f"A_slot_{key} = b_{key} (l_{key} - b_{key}) + pi / 4 b_{key}^2", geometry,
                  inputs={f"b_{key}": width, f"l_{key}": length})
    else:
        chain.add(f"A_slot_{key}", f"part of the slot under the {words}", slot, "m2",
                  "slot cut off by the rim of the face", geometry)
    return chain.add(f"A_p_{key}", f"bearing area under the {words}", left, "m2",
                     f"A_p_{key} = pi / 4 d_w_{key}^2 - A_slot_{key}", f"{R10}/3",
                     inputs={f"d_w_{key}": d_w, **chain.get(f"A_slot_{key}")})
