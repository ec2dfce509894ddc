"""NASA-STD-5020: limits of preload from torque and its uncertainty, and the margins of a joint in tension."""

from __future__ import annotations

from evenpull.joint.case import CaseError, JointCase, SpaceInput
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.frusta_steps import add_stiffness
from evenpull.joint.rules.stated import unused
from evenpull.joint.sane import positive, refuse_senseless
from evenpull.joint.service import preload_limits as limits
from evenpull.joint.tightening.torque import D_Km, nut_factor
from evenpull.joint.traced import Band

DOCUMENT = "NASA-STD-5020"
SOURCE = f"{DOCUMENT}, preload equations (from memory)"
MARGINS = f"{DOCUMENT}, strength and separation of joints in tension (from memory)"

RULE_SET = RuleSet(
    "nasa5020",
    "Preload limits and margins of space-flight joints",
    f"{DOCUMENT} (2012) and revision A (2018)",
    "all equations and demands were recalled from memory and not re-read",
    "joints tightened by torque or to a stated preload; margins of one fastener in tension, no bending or shear",
)

_USED = (
    "space", "bolt.thread", "bolt.strength", "bolt.material", "bolt.d_w", "bolt.sections", "counterpart", "layers",
    "gasket", "friction.K", "friction.mu_G", "friction.mu_K", "friction.lubricant", "tightening.method",
    "tightening.torque", "tightening.preload", "tightening.prevailing", "loads.F_A_max", "loads.n",
    "limits.required_preload", "limits.largest_preload",
)


def apply(case: JointCase) -> RuleResult:
    """Least and greatest preload and the margins. CaseError without `space`, without a torque or preload, and for
    numbers that no joint has.
    """
    refuse_senseless(case)
    space = case.space
    if space is None:
        raise CaseError("space is not stated: the rule set needs the preload uncertainty Gamma")
    chain = Chain(case.sources)
    try:
        _nominal(chain, case)
        _initial(chain, space)
        _service(chain, space)
        _wrench(chain, case)
        checks = [*_limit_checks(case, chain), *_margins(chain, case, space), *_demands(case)]
    except CaseError:
        raise
    except ValueError as error:
        raise CaseError(f"{DOCUMENT}: {error}") from error
    drag = case.tightening.prevailing
    torque = Band(chain["T_1"], chain["T_w"], chain["T_2"]) if "T_w" in chain else None
    preload = Band(chain["P_pi_min"], chain["P_pi_nom"], chain["P_pi_max"])
    return RuleResult(RULE_SET, chain.groups(), tuple(checks), preload, torque, unused=unused(case, _USED),
                      notes=_notes(space, drag))


def _nominal(chain: Chain, case: JointCase) -> None:
    tightening, thread = case.tightening, case.bolt.thread
    chain.group("Nominal initial preload")
    chain.add("D", "nominal diameter", thread.d, "m", thread.designation, chain.said("bolt.thread"), "stated")
    by_torque = tightening.method == "torque"
    if tightening.torque is None and tightening.preload is None:
        raise CaseError(f"tightening.torque or tightening.preload is needed: {DOCUMENT} gives the limits of what is "
                        "chosen, not the torque")
    if by_torque and tightening.torque is not None and tightening.preload is not None:
        raise CaseError("tightening.torque and tightening.preload are both stated: state the one that is controlled")
    if not by_torque:
        if tightening.preload is None:
            raise CaseError(f"tightening.preload is needed with the method {tightening.method!r}")
        chain.add("P_pi_nom", "nominal initial preload", tightening.preload, "N",
                  "stated", chain.said("tightening.preload"))
        return
    _add_K(chain, case)
    if tightening.torque is not None:
        chain.add("T_nom", "nominal torque without running torque", tightening.torque,
                  "N.m", "stated", chain.said("tightening.torque"))
        chain.add("P_pi_nom", "nominal initial preload", limits.P_pi_nom(chain["T_nom"], chain["K"], chain["D"]), "N",
                  "P_pi_nom = T_nom / (K D)", SOURCE, "memory", inputs=chain.get("T_nom", "K", "D"))
    elif tightening.preload is not None:
        load = chain.add("P_pi_nom", "nominal initial preload", tightening.preload,
                         "N", "stated", chain.said("tightening.preload"))
        chain.add("T_nom", "nominal torque without running torque", chain["K"] * chain["D"] * load, "N.m",
                  "T_nom = K D P_pi_nom", SOURCE, "memory", inputs=chain.get("K", "D", "P_pi_nom"))


def _add_K(chain: Chain, case: JointCase) -> None:
    friction, thread = case.friction, case.bolt.thread
    if friction.K is not None:
        chain.add("K", "nominal nut factor", positive(friction.K.nominal, "friction.K"), "1", "stated",
                  chain.said("friction.K"))
        return
    d_Km = D_Km(case.bolt.d_w, case.layers[0].chamfer or case.layers[0].d_h)
    mu_G = positive(friction.mu_G.nominal, "friction.mu_G")
    mu_K = positive(friction.mu_K.nominal, "friction.mu_K")
    chain.add(
        "K", "nominal nut factor from the friction", nut_factor(thread, mu_G, mu_K, d_Km), "1",
        "K = (0.16 P + 0.58 d_2 mu_G + D_Km / 2 mu_K) / D", "VDI 2230-1 R13 divided by d; the standard wants K tested",
        inputs={"P": thread.P, "d_2": thread.d2, "mu_G": mu_G, "D_Km": d_Km, "mu_K": mu_K, "D": chain["D"]},
    )


def _initial(chain: Chain, space: SpaceInput) -> None:
    chain.group("Limits of the initial preload")
    chain.add("Gamma", "preload uncertainty", space.Gamma, "1", "stated", chain.said("space.Gamma"))
    chain.add("c_max", "greatest over nominal torque", space.c_max, "1", "stated", chain.said("space.c_max"))
    chain.add("c_min", "least over nominal torque", space.c_min, "1", "stated", chain.said("space.c_min"))
    P = chain["P_pi_nom"]
    chain.add("P_pi_max", "greatest initial preload", limits.P_pi_max(P, space.c_max, space.Gamma), "N",
              "P_pi_max = c_max (1 + Gamma) P_pi_nom", SOURCE, "memory", inputs=chain.get("c_max", "Gamma", "P_pi_nom"))
    if space.separation_critical:
        chain.add("P_pi_min", "least initial preload, separation-critical",
                  limits.P_pi_min(P, space.c_min, space.Gamma), "N", "P_pi_min = c_min (1 - Gamma) P_pi_nom",
                  SOURCE, "memory",
                  inputs=chain.get("c_min", "Gamma", "P_pi_nom"))
        return
    chain.add("n_f", "fasteners in the joint", space.n_f, "1", "stated", chain.said("space.n_f"))
    chain.add("P_pi_min", "least initial preload, not separation-critical",
              limits.P_pi_min_shared(P, space.c_min, space.Gamma, space.n_f), "N",
              "P_pi_min = c_min (1 - Gamma / sqrt(n_f)) P_pi_nom", SOURCE, "memory",
              inputs=chain.get("c_min", "Gamma", "n_f", "P_pi_nom"))


def _wrench(chain: Chain, case: JointCase) -> None:
    """Least, nominal and greatest torque at the wrench: running torque is added to the nominal torque."""
    if "T_nom" not in chain:
        return
    drag = case.tightening.prevailing
    chain.group("Torque at the wrench, running torque included")
    for symbol, name, run, factor, add in (
        ("T_1", "least", drag.low, "c_min", "T_run_1"), ("T_w", "nominal", drag.nominal, "", "T_run"),
        ("T_2", "greatest", drag.high, "c_max", "T_run_2"),
    ):
        chain.add(add, f"running torque, {name}", run, "N.m", "stated", chain.said("tightening.prevailing"))
        share = chain[factor] if factor else 1.0
        right = f"{factor} T_nom + {add}" if factor else f"T_nom + {add}"
        chain.add(symbol, f"{name} torque at the wrench", share * chain["T_nom"] + run, "N.m", f"{symbol} = {right}",
                  SOURCE, "memory", inputs=chain.get("T_nom", add, *([factor] if factor else [])))


def _service(chain: Chain, space: SpaceInput) -> None:
    chain.group("Relaxation, creep and temperature")
    share = space.relaxation
    chain.add("r", "share lost by short-term relaxation", share, "1", "stated", chain.said("space.relaxation"))
    chain.add("P_pr", "loss by short-term relaxation", limits.short_term_relaxation(chain["P_pi_min"], share), "N",
              "P_pr = r P_pi_min", f"{SOURCE}; 5 % where not tested", "memory", inputs=chain.get("r", "P_pi_min"))
    for symbol, name, value, field in (
        ("P_pc", "loss by creep", space.creep, "creep"),
        ("dP_t_max", "greatest thermal increase", space.dP_thermal_max, "dP_thermal_max"),
        ("dP_t_min", "greatest thermal loss", space.dP_thermal_min, "dP_thermal_min"),
    ):
        chain.add(symbol, name, value, "N", "stated", chain.said(f"space.{field}"))
    chain.add("P_p_max", "greatest preload", limits.P_p_max(chain["P_pi_max"], space.dP_thermal_max), "N",
              "P_p_max = P_pi_max + dP_t_max", SOURCE, "memory", inputs=chain.get("P_pi_max", "dP_t_max"))
    chain.add("P_p_min", "least preload",
              limits.P_p_min(chain["P_pi_min"], chain["P_pr"], space.creep, space.dP_thermal_min), "N",
              "P_p_min = P_pi_min - P_pr - P_pc - dP_t_min", SOURCE, "memory",
              inputs=chain.get("P_pi_min", "P_pr", "P_pc", "dP_t_min"))


def _limit_checks(case: JointCase, chain: Chain) -> list[Check]:
    least, most = chain["P_p_min"], chain["P_p_max"]
    found = [Check("P_p_min", "some preload is left", least, ">=", 0.0, "N", least > 0, "", SOURCE)]
    if (required := case.limits.required_preload) is not None:
        found.append(Check("P_p_min_req", "least preload against the required one", least, ">=", required, "N",
                           least >= required, "", case.sources.get("limits.required_preload", "stated")))
    if (largest := case.limits.largest_preload) is not None:
        found.append(Check("P_p_max_lim", "greatest preload against the largest allowed", most, "<=", largest, "N",
                           most <= largest, "", case.sources.get("limits.largest_preload", "stated")))
    return found


def _margins(chain: Chain, case: JointCase, space: SpaceInput) -> list[Check]:
    names = (("MS_u", "ultimate strength", "FS_u"), ("MS_y", "yield strength", "FS_y"),
             ("MS_sep", "separation", "FS_sep"))
    load = case.loads.F_A_max
    if load == 0:
        chain.group("Margins of safety", "no limit tension load is stated")
        return []
    positive(load, "loads.F_A_max")
    chain.group("Margins of safety")
    chain.add("P_tL", "limit tension load", load, "N", "stated", chain.said("loads.F_A_max"))
    found = []
    factors = {name: getattr(space, name) for name in ("FF", "FS_u", "FS_y", "FS_sep")}
    for name, value in factors.items():
        if value is not None:
            chain.add(name, "fitting factor" if name == "FF" else f"factor of safety {name}",
                      value, "1", "stated", chain.said(f"space.{name}"))
    if space.FF is not None and (space.FS_u is not None or space.FS_y is not None):
        _stiffness(chain, case)
    for symbol, name, factor in names:
        FS = factors[factor]
        if space.FF is None or FS is None:
            found.append(Check(symbol, f"margin of safety, {name}", None, ">=", 0.0, "1", None,
                               f"the project's factors are missing: space.FF, space.{factor}", MARGINS))
            continue
        allowed = "P_p_min" if symbol == "MS_sep" else _allowed(chain, case, symbol)
        value = limits.margin(chain[allowed], space.FF, FS, load)
        chain.add(symbol, f"margin of safety, {name}", value, "1", f"{symbol} = {allowed} / (FF {factor} P_tL) - 1",
                  MARGINS, "memory", inputs=chain.get(allowed, "FF", factor, "P_tL"))
        found.append(Check(symbol, f"margin of safety, {name}", value, ">=", 0.0, "1", value >= 0, "", MARGINS))
    return found


def _stiffness(chain: Chain, case: JointCase) -> None:
    add_stiffness(chain, case)
    chain.add("n", "load introduction factor", case.loads.n, "1", "stated", chain.said("loads.n"))
    chain.add("n_phi", "share of the external load that reaches the bolt", chain["n"] * chain["C"], "1", "n_phi = n C",
              MARGINS, "memory", inputs=chain.get("n", "C"))
    chain.add("P_sep", "tension that separates the parts at the greatest preload",
              limits.separation_load(chain["P_p_max"], chain["n_phi"]), "N", "P_sep = P_p_max / (1 - n_phi)", MARGINS,
              "memory", inputs=chain.get("P_p_max", "n_phi"))


def _allowed(chain: Chain, case: JointCase, symbol: str) -> str:
    """Adds the tension that the bolt bears, and gives its symbol."""
    ultimate = symbol == "MS_u"
    mark, word = ("tu", "ultimate") if ultimate else ("ty", "yield")
    stress, S = (case.bolt.strength.R_m, "R_m") if ultimate else (case.bolt.strength.R_p02, "R_p02")
    chain.add(f"P_{mark}", f"{word} load of the bolt", stress * chain["A_t"], "N", f"P_{mark} = {S} A_t",
              case.bolt.strength.source, inputs={S: stress, "A_t": chain["A_t"]})
    together = limits.rupture_load(chain[f"P_{mark}"], chain["P_p_max"], chain["n_phi"])
    chain.add(f"P_{mark}_1", f"tension at {word} of the bolt while the parts touch", together, "N",
              f"P_{mark}_1 = (P_{mark} - P_p_max) / n_phi", MARGINS, "memory",
              inputs=chain.get(f"P_{mark}", "P_p_max", "n_phi"))
    allowed = limits.least_allowed_tension(chain[f"P_{mark}"], chain["P_p_max"], chain["n_phi"])
    first = chain["P_sep"] < together
    formula = f"P_{mark}_a = P_{mark}" if first else f"P_{mark}_a = min(P_{mark}_1, P_{mark})"
    inputs = chain.get(f"P_{mark}") if first else chain.get(f"P_{mark}_1", f"P_{mark}")
    text = "the parts separate first" if first else "the bolt fails before the parts separate"
    chain.add(f"P_{mark}_a", f"allowed tension, {word}: {text}", allowed, "N", formula, MARGINS, "memory",
              inputs=inputs)
    return f"P_{mark}_a"


def _demands(case: JointCase) -> list[Check]:
    drag = case.tightening.prevailing
    said = drag.high > 0
    return [
        Check("T_run", "running torque is accounted for", drag.nominal if said else None, ">=", None, "N.m",
              True if said else None,
              "" if said else "no running torque is stated: right only for a fastener without prevailing torque",
              MARGINS),
        Check("locking", "locking feature is verified", None, ">=", None, "1", None,
              "verified on the hardware and recorded there, not by a calculation", MARGINS),
    ]


def _notes(space: SpaceInput, drag: Band) -> tuple[str, ...]:
    notes = ["The torque of this sheet is the wrench reading: nominal torque times c_min and c_max, and running torque."
             if drag.high > 0 else "The torque is without running torque.",
             "Nut, tapped hole, bending and shear are not part of these margins.",
             "The document leaves the method of stiffness open; frusta of 30 deg (Shigley) are used here."]
    if not space.separation_critical:
        notes.append("The least preload is a mean of the joint's fasteners; one fastener alone may have less.")
    return tuple(notes)
