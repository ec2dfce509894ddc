"""European structural bolting (EN 1993-1-8, EN 1090-2): preload, torque and combined method, k-classes, slip."""

from __future__ import annotations

from evenpull.catalogue.structural import (
    K_CLASSES,
    combined_rotation,
    en,
    en_national_preload,
    en_strength,
    k_limits,
)
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import CaseError, JointCase, StructuralInput
from evenpull.joint.chain import Chain
from evenpull.joint.parts.threads import nominal_stress_area
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.stated import unused
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.service.structural import (
    load_share_kept,
    reference_torque,
    slip_resistance_eu,
    structural_pretension,
    torque_steps,
)
from evenpull.joint.traced import Band
from evenpull.quantities import show

EC3, EN1090 = "EN 1993-1-8", "EN 1090-2"
NATIONAL = "F_p,C*"  # structural.edition: the reduced preload of the German national annex
RULE_SET = RuleSet(
    "structural_eu",
    "European structural bolting",
    "EN 1993-1-8:2005 and EN 1090-2:2008+A1, with the German F_p,C* where asked for",
    "k-classes, methods by k-class, slip resistance, the reference 0.125 of class K1 and the lengths of thread were "
    "recalled and not re-read",
    "assemblies for preloading, classes 8.8 and 10.9, M12 to M36, coarse thread, nut turned; shear-off ends and direct "
    "tension indicators are not covered",
)
_USED = (
    "structural.bolt", "structural.edition", "structural.k_class", "structural.k_m", "structural.V_k",
    "structural.method", "structural.hole", "structural.gamma_M3", "bolt.thread", "bolt.sections", "bolt.length",
    "layers", "counterpart.kind", "counterpart.engagement", "loads.F_A_max", "loads.F_Q", "loads.q_F", "loads.mu_T",
    "tightening.torque", "tightening.tool_scatter",
)  # fmt: skip


def apply(case: JointCase) -> RuleResult:
    """Preload, torques of the steps, further rotation, slip. CaseError without `structural` in the case and for
    classes, sizes, thicknesses and methods that the documents do not have.
    """
    refuse_senseless(case)
    stated = case.structural
    if stated is None:
        raise CaseError("structural is not stated: the rule set needs the class, the method and the k-class")
    if case.counterpart.kind != "nut":
        raise CaseError("counterpart.kind: assemblies for preloading have nuts, not tapped holes")
    if stated.method == "turn of nut":
        raise CaseError("structural.method 'turn of nut' belongs to the US rules; here: torque or combined")
    if stated.edition not in ("", NATIONAL):
        raise CaseError(f"structural.edition {stated.edition!r}: leave it empty for F_p,C or write {NATIONAL!r}")
    chain = Chain(case.sources)
    _preload(chain, case, stated)
    symbol = "F_pC_nat" if stated.edition == NATIONAL else "F_pC"
    checks = [*_k_checks(stated)]
    angle = None
    torque = _torques(chain, case, stated, symbol)
    if stated.method == "combined":
        angle = _rotation(chain, case)
    checks += [*_wrench(case, stated), *_stated_torque(case, torque), *_lengths(case), *_slip(chain, case, symbol)]
    return RuleResult(
        RULE_SET, chain.groups(), tuple(checks), _load_band(chain, stated, symbol), torque, angle,
        unused(case, _USED), _notes(stated),
    )  # fmt: skip


def _preload(chain: Chain, case: JointCase, stated: StructuralInput) -> None:
    name, thread, data = stated.bolt or case.bolt.strength.designation, case.bolt.thread, en()
    if thread.designation not in data["sizes"]:
        raise CaseError(
            f"bolt.thread {thread.designation}: assemblies for preloading are {', '.join(data['sizes'])}, coarse thread"
        )
    try:
        f_ub, f_yb = en_strength(name)
    except NotInCatalogue as error:
        raise CaseError(f"structural.bolt: {error}") from error
    source, status = data["source"], data["status"]
    chain.group("Preload")
    chain.add("f_ub", "nominal tensile strength (not the lowest of ISO 898-1)", f_ub, "Pa", f"class {name}", source,
              status)
    area = nominal_stress_area(thread)
    chain.add("A_s", "stress area, rounded to three figures", area, "m2", thread.designation, "ISO 898-1", "memory")
    chain.add("F_pC", "preload F_p,C", structural_pretension(f_ub, area), "N", "F_pC = 0.7 f_ub A_s",
              f"{EC3} 3.6.1 (2)", inputs=chain.get("f_ub", "A_s"))
    chain.add("F_u", "tensile load; no upper limit of the preload is stated", f_ub * area, "N", "F_u = f_ub A_s", EC3,
              inputs=chain.get("f_ub", "A_s"))
    if stated.edition == NATIONAL:
        national = data["national"]
        try:
            rounded = en_national_preload(name, thread.designation)
        except NotInCatalogue as error:
            raise CaseError(f"structural.edition {NATIONAL}: {error}") from error
        chain.add("f_yb", "nominal yield strength", f_yb, "Pa", f"class {name}", source, status)
        chain.add("F_nat_0", "F_p,C* before rounding", structural_pretension(f_yb, area), "N", "F_nat_0 = 0.7 f_yb A_s",
                  national["source"], inputs=chain.get("f_yb", "A_s"))
        chain.add("F_pC_nat", "preload F_p,C*", rounded, "N", f"{name} {thread.designation}, rounded",
                  national["source"], national["status"])


def _torques(chain: Chain, case: JointCase, stated: StructuralInput, symbol: str) -> Band:
    data, d = en(), case.bolt.thread.d
    chain.group(f"{stated.method} method")
    chain.add("d", "nominal diameter", d, "m", case.bolt.thread.designation, "ISO 261", "memory")
    if stated.k_m is not None:
        if not 0 < stated.k_m < 1:
            raise CaseError(f"structural.k_m lies between 0 and 1, not {stated.k_m}")
        k = chain.add("k", "mean k of the lot", stated.k_m, "1", "stated", chain.said("structural.k_m"))
    elif stated.k_class == "K1":
        k = chain.add("k", "k of the torque reference value, class K1", data["k_reference_K1"], "1", "class K1",
                      f"{EN1090} 8.5.2", data["k_reference_status"])
    else:
        raise CaseError("structural.k_m, the mean k on the label of the lot, is missing: without it (or k-class K1) "
                        "there is no torque reference value")
    M_r = reference_torque(k, d, chain[symbol])
    chain.add("M_r", "torque reference value", M_r, "N.m", f"M_r = k d {symbol}", f"{EN1090} 8.5.2",
              inputs=chain.get("k", "d", symbol))
    first, second = torque_steps(M_r)
    chain.add("M_1", "torque of the first step", first, "N.m", "M_1 = 0.75 M_r", f"{EN1090} 8.5.3, 8.5.4",
              inputs=chain.get("M_r"))
    if stated.method == "combined":
        share = data["wrench_first"]
        chain.add("w", "largest deviation of the wrench, first step", share, "1", "combined method", f"{EN1090} 8.5.1",
                  data["wrench_first_status"])
        return _window(chain, "M_1", first, share)
    chain.add("M_2", "torque of the second step", second, "N.m", "M_2 = 1.10 M_r", f"{EN1090} 8.5.3",
              inputs=chain.get("M_r"))
    share = data["wrench_torque"]
    chain.add("w", "largest deviation of the wrench", share, "1", "torque method", f"{EN1090} 8.5.1", data["status"])
    if stated.V_k is not None and stated.k_class == "K2":
        if not 0 <= stated.V_k < 0.6:
            raise CaseError(f"structural.V_k is a coefficient of variation from 0 to below 0.6, not {stated.V_k}")
        chain.add("V_k", "coefficient of variation of k", stated.V_k, "1", "stated", chain.said("structural.V_k"))
        chain.add("F_95", "load that 95 % of the bolts of the lot exceed", load_share_kept(stated.V_k) * chain[symbol],
                  "N", f"F_95 = 1.10 {symbol} (1 - 1.65 V_k)", f"{EN1090} 8.5.3, note", "memory",
                  inputs=chain.get(symbol, "V_k"))
    return _window(chain, "M_2", second, share)


def _window(chain: Chain, symbol: str, torque: float, share: float) -> Band:
    for end, words, sign, value in (
        ("min", "lower", "-", torque * (1 - share)),
        ("max", "upper", "+", torque * (1 + share)),
    ):
        name = f"{symbol}_{end}"
        chain.add(name, f"torque with the wrench at its {words} limit", value, "N.m", f"{name} = {symbol} (1 {sign} w)",
                  f"{EN1090} 8.5.1", inputs=chain.get(symbol, "w"))
    return Band(chain[f"{symbol}_min"], torque, chain[f"{symbol}_max"])


def _rotation(chain: Chain, case: JointCase) -> Band:
    source, status = en()["combined"]["source"], en()["combined"]["status"]
    d = case.bolt.thread.d
    chain.group("Further rotation after the first step", "part against nut, from the mark made after the first step")
    chain.add("t", "clamped thickness with washers and packs", case.l_K, "m", "stated", chain.said("layers"))
    chain.add("t_d", "thickness in diameters", case.l_K / d, "1", "t_d = t / d", source, inputs=chain.get("t", "d"))
    try:
        angle = combined_rotation(case.l_K / d)
    except NotInCatalogue as error:
        raise CaseError(f"layers: {error}") from error
    chain.add("theta", "further rotation", angle, "rad", "by the thickness in diameters", source, status)
    return Band(angle, angle, angle)


def _load_band(chain: Chain, stated: StructuralInput, symbol: str) -> Band:
    least = chain[symbol]
    target = 1.10 * least if stated.method == "torque" else least
    return Band(least, target, max(target, chain["F_u"]))


def _k_checks(stated: StructuralInput) -> list[Check]:
    data = en()
    source = f"{data['k_classes']['source']} (from memory)"
    allowed = data["method_class"][stated.method]
    by = f"{data['method_class']['source']} (from memory)"
    if stated.k_class is None:
        return [Check("k_class", "k-class for the method", None, ">=", None, "1", None,
                      f"structural.k_class is not stated; known: {', '.join(K_CLASSES)}", by)]
    found = [Check("k_class", "k-class for the method", None, ">=", None, "1", stated.k_class in allowed,
                   f"{stated.k_class}; the {stated.method} method needs {' or '.join(allowed)}", by)]
    for symbol, name, value, what, of in (
        ("k_m", "mean k of the lot", stated.k_m, "mean", "K2"),
        ("V_k", "coefficient of variation of k", stated.V_k, "variation", "K2"),
        ("k_i", "k stated for the lot, inside the limits of the single k", stated.k_m, "individual", "K1"),
    ):
        if stated.k_class != of or (of == "K1" and value is None):
            continue
        low, high = k_limits(of, what)
        if value is None:
            found.append(Check(symbol, name, None, "<=", high, "1", None, f"structural.{symbol} is not stated", source))
            continue
        if low > 0:
            holds = value >= low * (1 - 1e-9)
            found.append(Check(symbol, f"{name}, not below", value, ">=", low, "1", holds, "", source))
        holds = value <= high * (1 + 1e-9)
        found.append(Check(symbol, f"{name}, not above", value, "<=", high, "1", holds, "", source))
    return found


def _wrench(case: JointCase, stated: StructuralInput) -> list[Check]:
    limit = en()["wrench_torque" if stated.method == "torque" else "wrench_first"]
    scatter = case.tightening.tool_scatter
    said = scatter > 0
    return [Check("w", "deviation of the wrench", scatter if said else None, "<=", limit, "1",
                  scatter <= limit * (1 + 1e-9) if said else None,
                  "" if said else "tightening.tool_scatter is not stated", f"{EN1090} 8.5.1")]


def _stated_torque(case: JointCase, torque: Band) -> list[Check]:
    stated = case.tightening.torque
    if stated is None:
        return []
    return [
        Check("T", "stated torque, not below", stated, ">=", torque.low, "N.m", stated >= torque.low * (1 - 1e-9), "",
              EN1090),
        Check("T", "stated torque, not above", stated, "<=", torque.high, "N.m", stated <= torque.high * (1 + 1e-9), "",
              EN1090),
    ]


def _lengths(case: JointCase) -> list[Check]:
    P, bolt = case.bolt.thread.P, case.bolt
    source = f"{EN1090} 8.2.2 (from memory)"
    shank = sum(section.length for section in bolt.sections)
    free = case.l_K - shank
    found = [Check("l_f", "full threads between nut and shank: four pitches", free, ">=", 4 * P, "m",
                   free >= 4 * P * (1 - 1e-9) if bolt.sections else None,
                   "" if bolt.sections else "bolt.sections (the shank) is not stated", source)]
    nut = case.counterpart.engagement
    if bolt.length is None or nut is None:
        missing = "bolt.length" if bolt.length is None else "counterpart.engagement (nut height)"
        return [*found, Check("L", "bolt end past the nut by one pitch", bolt.length, ">=", None, "m", None,
                              f"{missing} is not stated", source)]
    need = case.l_K + nut + P
    return [*found, Check("L", "bolt end past the nut by one pitch", bolt.length, ">=", need, "m",
                          bolt.length >= need * (1 - 1e-9), f"clamped {show(case.l_K, 'mm')}, nut {show(nut, 'mm')}",
                          source)]


def _slip(chain: Chain, case: JointCase, symbol: str) -> list[Check]:
    stated, loads, data = case.structural, case.loads, en()["slip"]
    assert stated is not None  # apply
    if not loads.F_Q:
        return []
    name, source, status = "slip resistance of one bolt", data["source"], data["status"]
    if loads.mu_T is None:
        return [Check("F_sRd", name, None, ">=", loads.F_Q, "N", None,
                      "loads.mu_T, the slip factor of the faces, is not stated", source)]
    gamma = data["gamma_M3"] if stated.gamma_M3 is None else stated.gamma_M3
    if not 0 < loads.mu_T < 1 or loads.q_F < 1 or not 1 <= gamma < 10:
        raise CaseError(
            f"slip needs loads.mu_T between 0 and 1, loads.q_F from 1 and structural.gamma_M3 from 1: {loads.mu_T}, "
            f"{loads.q_F}, {gamma}"
        )
    chain.group("Slip", "one bolt")
    chain.add("mu_s", "slip factor of the faces", loads.mu_T, "1", "stated", chain.said("loads.mu_T"))
    chain.add("n_s", "friction faces", float(loads.q_F), "1", "stated", chain.said("loads.q_F"))
    chain.add("F_t", "tension on the bolt", loads.F_A_max, "N", "stated", chain.said("loads.F_A_max"))
    chain.add("k_s", f"factor of the hole: {stated.hole}", data["k_s"][stated.hole], "1", f"hole {stated.hole}", source,
              status)
    if stated.gamma_M3 is None:
        chain.add("gamma_M3", "partial factor, recommended value", gamma, "1", "recommended", source, status)
    else:
        chain.add("gamma_M3", "partial factor", gamma, "1", "stated", chain.said("structural.gamma_M3"))
    if data["tension_share"] * loads.F_A_max >= chain[symbol]:
        return [Check("F_sRd", name, 0.0, ">=", loads.F_Q, "N", False, "the tension leaves no clamp load", source)]
    found = slip_resistance_eu(chain[symbol], loads.mu_T, loads.q_F, chain["k_s"], gamma, loads.F_A_max)
    chain.add("F_sRd", name, found, "N", f"F_sRd = k_s n_s mu_s ({symbol} - 0.8 F_t) / gamma_M3", source, status,
              inputs=chain.get("k_s", "n_s", "mu_s", symbol, "F_t", "gamma_M3"))
    return [Check("F_sRd", name, found, ">=", loads.F_Q, "N", found >= loads.F_Q * (1 - 1e-9), "", source)]


def _notes(stated: StructuralInput) -> tuple[str, ...]:
    notes = [
        "All bolts of the joint get the first step before any gets the second; from the stiffest part outwards.",
        "The preload is a least value; the document states no greatest one, the upper end shown is the tensile load.",
        "The k of a lot holds for assemblies as delivered: lubricate or store them otherwise and it no longer does.",
    ]
    if stated.method == "combined":
        notes.append("The combined method goes by the clamped thickness, not by the length of the bolt; faces that are "
                     "not square to the bolt need a test.")
        notes.append("The further rotation carries no tolerance here: none was found in what could be read.")
    return tuple(notes)
