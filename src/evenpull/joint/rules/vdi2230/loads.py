"""R0 to R2 and R4 to R6: first size, tightening factor, required clamp load, losses, assembly preloads."""

from __future__ import annotations

from contextlib import suppress

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.parts.first_size import first_size
from evenpull.joint.parts.threads import stress_diameter
from evenpull.joint.service import clamping, losses
from evenpull.joint.service.need import friction_grip
from evenpull.joint.service.remaining import add_embedding, add_growth, modulus_ratio, thermal
from evenpull.joint.springs.eccentric import F_KA
from evenpull.joint.tightening.scatter import alpha_A_from_scatter
from evenpull.joint.tightening.torque import D_Km, torque_lever

VDI = "VDI 2230-1"


def add_size(chain: Chain, case: JointCase) -> None:
    """R0: the size that was chosen, with its dimensions."""
    t = case.bolt.thread
    chain.group("R0 nominal size")
    profile = "ISO 68-1 / ISO 724" if t.system == "metric" else "ASME B1.1"
    said = chain.said("bolt.thread")
    chain.add("d", "nominal diameter", t.d, "m", t.designation, said, "stated")
    chain.add("P", "pitch", t.P, "m", t.designation, profile, "memory")
    chain.add("d_2", "pitch diameter", t.d2, "m", "d_2 = d - 0.649519 P", profile, inputs=chain.get("d", "P"))
    if t.system == "metric":
        chain.add("d_3", "minor diameter", t.d3, "m", "d_3 = d - 1.226869 P", profile, inputs=chain.get("d", "P"))
        chain.add("A_S", "stress area", t.A_s, "m2", "A_S = pi / 4 ((d_2 + d_3) / 2)^2", "ISO 898-1",
                  inputs=chain.get("d_2", "d_3"))
    else:
        chain.add("d_3", "minor diameter", t.d3, "m", "d_3 = d - 1.1908 P", profile, "memory",
                  inputs=chain.get("d", "P"))
        chain.add("A_S", "tensile stress area", t.A_s, "m2", "A_S = pi / 4 (d - 0.9743 P)^2", profile,
                  inputs=chain.get("d", "P"))
    chain.add("d_S", "diameter of the stress area", stress_diameter(t), "m", "d_S = sqrt(4 A_S / pi)", f"{VDI} R7",
              inputs=chain.get("A_S"))
    chain.add("R_p02", "yield strength, lowest allowed", case.bolt.strength.R_p02, "Pa",
              case.bolt.strength.designation, case.bolt.strength.source, case.bolt.strength.status)
    _estimate(chain, case)


METHOD = {"torque": "torque wrench", "torque and angle": "angle", "yield": "yield"}  # as the table names them


def _estimate(chain: Chain, case: JointCase) -> None:
    """The first estimate of the table beside the size that was chosen; left out where the table has no row for it."""
    loads, method = case.loads, METHOD.get(case.tightening.method)
    place = "eccentric" if case.eccentricity is not None else "concentric"
    kind = "dynamic" if loads.F_A_max != loads.F_A_min and loads.cycles else "static"
    wanted = [(loads.F_A_max, f"{kind}, {place}")]
    if not loads.bearing_shear:
        wanted.append((abs(loads.F_Q), f"{kind}, transverse"))
    found = []
    for load, words in wanted:
        if load > 0 and method is not None:
            with suppress(NotInCatalogue, ValueError):  # a class or load beyond the table: no estimate
                found.append((first_size(load, words, method, case.bolt.strength.designation), load, words))
    if not found:
        return
    best, load, words = max(found, key=lambda one: one[0].d)
    step = best.steps[-1]
    chain.add("F_est", f"load of the first estimate, {words}", load, "N", "stated", chain.said("loads"))
    chain.add("F_step", "load step after the shifts of the table", best.shifted_step, "N",
              f"{words}, {method}", step.source, step.status)
    chain.add("d_est", "nominal diameter by the first estimate", best.d, "m", step.formula, step.source, step.status)


def add_tightening_factor(chain: Chain, case: JointCase) -> None:
    """R1: alpha_A as stated; for a torque that states none, from the bands of friction and tool."""
    chain.group("R1 tightening factor")
    tightening = case.tightening
    if tightening.alpha_A is not None:
        if not tightening.alpha_A >= 1:
            raise CaseError(f"tightening.alpha_A is F_Mmax/F_Mmin and not less than 1, not {tightening.alpha_A}")
        chain.add("alpha_A", "tightening factor", tightening.alpha_A, "1", "stated", chain.said("tightening.alpha_A"))
        return
    s = tightening.tool_scatter
    if tightening.method != "torque":
        raise CaseError(f"tightening.alpha_A: with method {tightening.method!r} the tightening factor has to be "
                        "stated; guide values stand in Table A8 of VDI 2230-1")
    d_w, hole = friction_face(case)
    mean = D_Km(d_w, hole)
    inputs = {"P": chain["P"], "d_2": chain["d_2"], "D_Km": mean}
    for kind, words in (("low", "lowest"), ("high", "highest")):
        g, k = getattr(case.friction.mu_G, kind), getattr(case.friction.mu_K, kind)
        chain.add(f"m_{kind}", f"torque per load, {words} friction", torque_lever(case.bolt.thread, g, k, mean), "m",
                  f"m_{kind} = 0.16 P + 0.58 d_2 mu_G_{kind} + D_Km / 2 mu_K_{kind}", f"{VDI} R13",
                  inputs={**inputs, f"mu_G_{kind}": g, f"mu_K_{kind}": k})
    chain.add("s", "tool scatter, share of the torque", s, "1", "stated", chain.said("tightening.tool_scatter"))
    value = alpha_A_from_scatter(s) * chain["m_high"] / chain["m_low"]
    chain.add("alpha_A", "tightening factor of this friction and tool, all at their worst", value, "1",
              "alpha_A = (1 + s) / (1 - s) m_high / m_low", f"{VDI} R1; corner case, no statistics",
              inputs=chain.get("s", "m_high", "m_low"))


def friction_face(case: JointCase) -> tuple[float, float]:
    """Bearing face and hole (m) of the turned end: the head's, as the case does not say which end is turned."""
    layer = case.layers[0]
    return case.bolt.d_w, max(layer.d_h, layer.chamfer or 0.0)


def add_need(chain: Chain, case: JointCase) -> None:
    """R2: the clamp load that the joint needs."""
    chain.group("R2 required clamp load")
    loads, R2 = case.loads, f"{VDI} R2"
    if (value := friction_grip(case)) is not None:
        formula = "F_KQ = F_Q / (q_F mu_T)"
        inputs = {"F_Q": abs(loads.F_Q), "q_F": loads.q_F, "mu_T": loads.mu_T or 0.0}
        if loads.M_Y:
            formula += " + M_Y / (q_M r_a mu_T)"
            inputs |= {"M_Y": abs(loads.M_Y), "q_M": loads.q_M, "r_a": loads.r_a or 0.0}
        chain.add("F_KQ", "clamp load for friction grip", value, "N", formula, f"{R2}/1", inputs=inputs)
    if loads.F_Kerf is not None:
        chain.add("F_Kerf", "required clamp load", loads.F_Kerf, "N", "stated", chain.said("loads.F_Kerf"))
        return
    chain.add("F_KP", "clamp load for sealing", clamping.F_KP(loads.sealing_area, loads.sealing_pressure), "N",
              "F_KP = A_D p", f"{R2}/2", inputs={"A_D": loads.sealing_area, "p": loads.sealing_pressure})
    names = ["F_KP"]
    formula = "F_KP"
    opening = 0.0
    if (ecc := case.eccentricity) is not None:
        value = F_KA(loads.F_A_max, ecc.A_D, ecc.a, ecc.s_sym, ecc.u, ecc.I_BT)
        chain.add("F_KA", "clamp load against one-sided opening", value, "N",
                  "F_KA = F_A_max A_D (a u - s_sym u) / (I_BT + s_sym u A_D)", f"{R2}/3",
                  inputs={"F_A_max": loads.F_A_max, "A_D": ecc.A_D, "a": ecc.a, "u": ecc.u, "s_sym": ecc.s_sym,
                          "I_BT": ecc.I_BT})
        opening = max(float(value), 0.0)
        names.append("F_KA")
        formula = "F_KP + max(F_KA, 0)"
    grip = 0.0
    if "F_KQ" in chain:
        grip = chain["F_KQ"]
        names.append("F_KQ")
        formula = f"max(F_KQ, {formula})"
    chain.add("F_Kerf", "required clamp load", clamping.F_K_erf(grip, chain["F_KP"], opening), "N",
              f"F_Kerf = {formula}", f"{R2}/4", inputs=chain.get(*names))


def add_changes(chain: Chain, case: JointCase) -> tuple[str, ...]:
    """R4: embedding and the change by temperature; gives notes."""
    chain.group("R4 changes of preload")
    R4 = f"{VDI} R4"
    if add_embedding(chain, case) is None:
        raise CaseError("embedding: state f_Z (0 where there is none) or the roughness Rz, from which guide values "
                        "follow")
    chain.add("F_Z", "loss by embedding", losses.F_Z(chain["f_Z"], chain["delta_S"], chain["delta_P"]), "N",
              "F_Z = f_Z / (delta_S + delta_P)", f"{R4}/1", inputs=chain.get("f_Z", "delta_S", "delta_P"))
    if not thermal(case):
        chain.add("dF_Vth", "change of preload by temperature", 0.0, "N", "none: temperature as at assembly", R4)
        return ()
    return _temperature(chain, case, R4)


def _temperature(chain: Chain, case: JointCase, R4: str) -> tuple[str, ...]:
    r_S, r_P = modulus_ratio(case, "S"), modulus_ratio(case, "P")
    said = f"{chain.said('service')}"
    bolt, parts = add_growth(chain, case)
    chain.add("r_S", "modulus of the bolt at temperature over that at 20 degC", r_S, "1", "stated", said)
    chain.add("r_P", "modulus of the parts at temperature over that at 20 degC", r_P, "1", "stated", said)
    S, P = chain["delta_S"], chain["delta_P"]
    delta_T = chain.add("delta_T", "resilience at temperature", losses.delta_at_temperature(S, P, r_S, r_P), "m/N",
                        "delta_T = delta_S / r_S + delta_P / r_P", R4,
                        inputs=chain.get("delta_S", "r_S", "delta_P", "r_P"))
    need = chain.add("F_need", "load that has to be there hot", chain["F_Kerf"] + chain["F_PA_max"], "N",
                     "F_need = F_Kerf + F_PA_max", f"{VDI} R5", inputs=chain.get("F_Kerf", "F_PA_max"))
    # The loss at changed moduli depends on the load itself; solved for the load that leaves exactly F_need when hot.
    cold = (need + (bolt - parts) / delta_T) * delta_T / (S + P)
    loss = losses.dF_Vth(cold, bolt - parts, S, P, r_S, r_P)
    chain.add("dF_Vth", "change of preload by temperature (a loss positive)", loss, "N",
              "dF_Vth = (F_need + (u_S - u_P) / delta_T) delta_T / (delta_S + delta_P) - F_need", f"{R4}/2",
              inputs=chain.get("F_need", "u_S", "u_P", "delta_T", "delta_S", "delta_P"))
    notes = ["the change by temperature is the one of the load that just leaves what is needed when hot"]
    if case.gasket is not None:
        notes.append("thermal growth of the gasket is not known and taken as none")
    return tuple(notes)


def add_change_of(chain: Chain, load: str, symbol: str, name: str) -> str:
    """Adds the change by temperature of another load than that of R4 and gives its symbol: at changed moduli it depends
    on the load. `load` is the symbol of one at room temperature. Without a change of temperature it is dF_Vth.
    """
    if "delta_T" not in chain:
        return "dF_Vth"
    value = losses.dF_Vth(chain[load], chain["u_S"] - chain["u_P"], chain["delta_S"], chain["delta_P"], chain["r_S"],
                          chain["r_P"])
    chain.add(symbol, name, value, "N",
              f"{symbol} = {load} (1 - (delta_S + delta_P) / delta_T) + (u_S - u_P) / delta_T", f"{VDI} R4/2",
              inputs=chain.get(load, "delta_S", "delta_P", "delta_T", "u_S", "u_P"))
    return symbol


def add_preloads(chain: Chain, case: JointCase) -> None:
    """R5 and R6: least and greatest assembly preload."""
    chain.group("R5 least assembly preload")
    value = clamping.F_M_min(chain["F_Kerf"], 0.0, chain["F_PA_max"], chain["F_Z"], chain["dF_Vth"])  # relief of R3
    chain.add("F_M_min", "least assembly preload", value, "N",
              "F_M_min = F_Kerf + F_PA_max + F_Z + max(dF_Vth, 0)", f"{VDI} R5/1",
              inputs=chain.get("F_Kerf", "F_PA_max", "F_Z", "dF_Vth"))
    chain.group("R6 greatest assembly preload")
    chain.add("F_M_max", "greatest assembly preload", clamping.F_M_max(chain["alpha_A"], chain["F_M_min"]), "N",
              "F_M_max = alpha_A F_M_min", f"{VDI} R6/1", inputs=chain.get("alpha_A", "F_M_min"))
