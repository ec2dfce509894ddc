"""R7 and R13: permissible assembly preload, and the tightening torque."""

from __future__ import annotations

from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check
from evenpull.joint.rules.vdi2230.demands import at_least, at_most, not_judged
from evenpull.joint.rules.vdi2230.loads import friction_face
from evenpull.joint.service import working
from evenpull.joint.springs.resilience import ring_area
from evenpull.joint.tightening import torque
from evenpull.joint.uncertainty.spread_limits import smallest_sections

TWISTED = ("torque", "torque and angle", "yield")  # methods that turn the nut under load


def add_permissible(chain: Chain, case: JointCase) -> list[Check]:
    """R7: F_Mzul of the section that allows least, at the lowest thread friction, against F_Mmax."""
    chain.group("R7 permissible assembly preload")
    nu, mu_G = case.limits.nu, case.friction.mu_G.low
    chain.add("nu", "utilisation of the yield strength at assembly", nu, "1", "stated", chain.said("limits.nu"))
    twisted = case.tightening.method in TWISTED
    allowed = []
    for d_0, d_i in smallest_sections(case):
        A_0 = ring_area(d_0, d_i)
        ratio = torque.torsion_ratio(case.bolt.thread, mu_G, d_0, d_i) if twisted else 0.0
        allowed.append((working.permissible_preload(A_0, chain["R_p02"], nu, ratio), d_0, d_i, ratio))
    _, d_0, d_i, ratio = min(allowed)
    if len(allowed) == 1:
        chain.add("d_0", "diameter of the weakest section: the thread", d_0, "m", "d_0 = d_S", "VDI 2230-1 R7",
                  inputs=chain.get("d_S"))
    else:
        chain.add("d_0", "diameter of the weakest section", d_0, "m", "the section that allows the least preload",
                  "VDI 2230-1 R7")
    chain.add("d_i", "bore of the weakest section", d_i, "m", "stated", chain.said("bolt.d_i"))
    chain.add("A_0", "weakest section", ring_area(d_0, d_i), "m2", "A_0 = pi / 4 (d_0^2 - d_i^2)",
              "VDI 2230-1 R7", inputs=chain.get("d_0", "d_i"))
    chain.add("mu_G_low", "thread friction, lowest", mu_G, "1", "stated", chain.said("friction.mu_G"))
    if twisted:
        formula = "chi = d_2 / 2 (P / (pi d_2) + 1.155 mu_G_low) (d_0^2 - d_i^2) pi / 4 / (pi / 12 (d_0^3 - d_i^3))"
        chain.add("chi", "torsion over tension while tightening, fully plastic", ratio, "1", formula,
                  "VDI 2230-1 R7, torsion modulus pi d_0^3/12",
                  inputs=chain.get("d_2", "P", "mu_G_low", "d_0", "d_i"))
    else:
        chain.add("chi", "torsion over tension while tightening", 0.0, "1", "none: the bolt is not turned under load",
                  "VDI 2230-1 R7")
    value = working.permissible_preload(chain["A_0"], chain["R_p02"], nu, ratio)
    chain.add("F_M_zul", "permissible assembly preload", value, "N",
              "F_M_zul = A_0 nu R_p02 / sqrt(1 + 3 chi^2)", "VDI 2230-1 R7/1",
              inputs=chain.get("A_0", "nu", "R_p02", "chi"))
    if case.tightening.method == "yield":
        return [at_least("F_M_zul", "permissible preload against the least one (yield controlled)", value,
                         chain["F_M_min"], "N", "VDI 2230-1 R7")]
    return [at_least("F_M_zul", "permissible preload against the greatest one", value, chain["F_M_max"], "N",
                     "VDI 2230-1 R7/2")]


def add_torque(chain: Chain, case: JointCase) -> list[Check]:
    """R13: torque of F_Mzul at the lowest friction, and the least torque that surely gives F_Mmin."""
    if case.tightening.method in ("stretch", "tension"):
        chain.group("R13 tightening torque", f"no torque is set with method {case.tightening.method!r}")
        return []
    chain.group("R13 tightening torque")
    thread, friction, s = case.bolt.thread, case.friction, case.tightening.tool_scatter
    d_w, hole = friction_face(case)
    R13 = "VDI 2230-1 R13"
    chain.add("d_W", "bearing face of the turned end", d_w, "m", "stated", chain.said("bolt.d_w"))
    chain.add("D_Ki", "inner edge of the bearing face: hole or chamfer", hole, "m", "stated", chain.said("layers"))
    chain.add("D_Km", "mean friction diameter", torque.D_Km(d_w, hole), "m", "D_Km = (d_W + D_Ki) / 2", R13,
              inputs=chain.get("d_W", "D_Ki"))
    chain.add("mu_K_low", "friction under the turned face, lowest", friction.mu_K.low, "1", "stated",
              chain.said("friction.mu_K"))
    lever = "(0.16 P + 0.58 d_2 mu_G_{0} + D_Km / 2 mu_K_{0})"
    geometry = chain.get("P", "d_2", "D_Km")
    value = torque.M_A(chain["F_M_zul"], thread, friction.mu_G.low, friction.mu_K.low, chain["D_Km"])
    chain.add("M_A", "tightening torque for the permissible preload", value, "N.m",
              f"M_A = F_M_zul {lever.format('low')}", f"{R13}/1",
              inputs={**geometry, **chain.get("F_M_zul", "mu_G_low", "mu_K_low")})
    if "s" not in chain:
        chain.add("s", "tool scatter, share of the torque", s, "1", "stated", chain.said("tightening.tool_scatter"))
    least = torque.M_A(chain["F_M_min"], thread, friction.mu_G.high, friction.mu_K.high, chain["D_Km"]) / (1 - s)
    chain.add("M_least", "least torque that gives the least preload at the highest friction", least, "N.m",
              f"M_least = F_M_min {lever.format('high')} / (1 - s)", "corner case of friction and tool, no statistics",
              inputs={**geometry, **chain.get("F_M_min", "s"), "mu_G_high": friction.mu_G.high,
                      "mu_K_high": friction.mu_K.high})
    chain.add("M_set", "greatest setting whose tool scatter stays within M_A", value / (1 + s), "N.m",
              "M_set = M_A / (1 + s)", "corner case of the tool", inputs=chain.get("M_A", "s"))
    drag = case.tightening.prevailing
    if drag.high:
        chain.add("M_P", "drag of the self-locking nut, nominal", drag.nominal, "N.m", "stated",
                  chain.said("tightening.prevailing"))
        chain.add("M_AS", "torque with drag", value + drag.nominal, "N.m", "M_AS = M_A + M_P", f"{R13}/2",
                  inputs=chain.get("M_A", "M_P"))
    wanted = case.tightening.torque
    if wanted is None:
        return []
    chain.add("M_stated", "stated torque, without drag", wanted, "N.m", "stated", chain.said("tightening.torque"))
    most = chain.add("M_stated_max", "highest torque the tool may give", wanted * (1 + s), "N.m",
                     "M_stated_max = M_stated (1 + s)", "corner case of the tool", inputs=chain.get("M_stated", "s"))
    checks = [at_most("M_stated_max", "stated torque against that of the permissible preload", most, value, "N.m", R13),
              at_least("M_stated", "stated torque against the least one", wanted, least, "N.m", R13)]
    if case.tightening.method != "torque":
        checks = [not_judged("M_stated", "stated torque", None,
                             f"with method {case.tightening.method!r} the torque is not the target", R13)]
    return checks
