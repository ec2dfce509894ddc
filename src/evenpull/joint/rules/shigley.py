"""Textbook joint in tension with fatigue: Shigley, Mechanical Engineering Design, sections 8-4 to 8-11."""

from __future__ import annotations

import math
from dataclasses import replace

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.parts.strengths import proof_load
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.frusta_steps import BOOK, add_stiffness
from evenpull.joint.rules.shigley_fatigue import add_fatigue
from evenpull.joint.rules.stated import unused
from evenpull.joint.sane import positive, refuse_senseless
from evenpull.joint.service import tension
from evenpull.joint.traced import Band

RULE_SET = RuleSet(
    "shigley",
    "Textbook joint in tension with fatigue",
    "Shigley's Mechanical Engineering Design, 9th ed. (2010), chapter 8",
    "eq. 8-26 and the rows of Table 8-17 for grades 7 and 8 and class 10.9 were recalled and not re-read; equation "
    "numbers differ between editions",
    "central tension, round frusta of 30 deg, rolled threads, no bending, shear, embedding or thermal change",
)

SEPARATED = "the members separate under the external load, so that the bolt carries all of it; C does not hold any more"
_USED = (
    "bolt.thread", "bolt.strength", "bolt.material", "bolt.sections", "counterpart.kind", "counterpart.material",
    "counterpart.engagement", "layers", "gasket", "friction", "tightening.method", "tightening.torque",
    "tightening.preload", "tightening.reused", "tightening.source", "loads.F_A_max", "loads.F_A_min", "limits.S_e",
    "limits.n_d", "limits.required_preload", "limits.largest_preload",
)


def apply(case: JointCase) -> RuleResult:
    """Stiffness, preload, torque, static factors and fatigue. CaseError names the field at fault; without a proof
    strength the preload has to be stated, and what needs the proof strength is not judged.
    """
    refuse_senseless(case)
    n_d = 1.0 if case.limits.n_d is None else case.limits.n_d
    chain = Chain(case.sources)
    try:
        chain.group("Stiffness (8-4, 8-5)")
        add_stiffness(chain, case)
        _preload(chain, case)
        checks = _static(chain, case, n_d)
        found = add_fatigue(chain, case, n_d)
        if "n_0" in chain and chain["n_0"] < 1:  # what fails stays so: the true loads are larger still
            found = [replace(one, value=None, holds=None, text=SEPARATED) if one.holds else one for one in found]
        checks += found
    except (CaseError, NotInCatalogue):
        raise
    except ValueError as error:
        raise CaseError(f"{BOOK}: {error}") from error
    preload, torque = _window(chain, case, n_d)
    return RuleResult(
        RULE_SET, chain.groups(), tuple(checks), preload, torque,
        unused=unused(case, _USED), notes=_notes(chain, case),
    )


def _preload(chain: Chain, case: JointCase) -> None:
    strength, tightening, thread = case.bolt.strength, case.tightening, case.bolt.thread
    chain.group("Torque (8-8)")
    _torque_coefficient(chain, case)
    chain.group("Preload (8-9)")
    F_p = proof_load(thread, strength)
    if F_p is not None and strength.S_p is not None:
        chain.add("S_p", "proof strength", strength.S_p, "Pa", strength.designation,
                  strength.source, strength.status)
        chain.add("F_p", "proof load", F_p, "N", "F_p = A_t S_p", f"{BOOK} eq. 8-32", inputs=chain.get("A_t", "S_p"))
    if tightening.preload is not None and tightening.torque is not None:
        raise CaseError("tightening.torque and tightening.preload are both stated: state the one that is wanted")
    if tightening.preload is not None:
        chain.add("F_i", "preload", tightening.preload, "N", "stated",
                  chain.said("tightening.preload"))
    elif tightening.torque is not None:
        chain.add("T", "tightening torque", tightening.torque, "N.m", "stated",
                  chain.said("tightening.torque"))
        chain.add("F_i", "preload of the stated torque", chain["T"] / (chain["K"] * thread.d), "N", "F_i = T / (K d)",
                  f"{BOOK} eq. 8-27", inputs=chain.get("T", "K", "d"))
    elif strength.S_p is None:
        raise CaseError(
            f"bolt.strength: no proof strength of {strength.designation} is known ({strength.source}), and none is "
            "invented: state tightening.preload or tightening.torque"
        )
    else:
        share = tension.preload_share(tightening.reused)
        text = "reused" if tightening.reused else "permanent"
        chain.add("share", f"share of the proof load, {text} connection", share, "1", f"{text} connection",
                  f"{BOOK} eq. 8-31", "read")
        chain.add("F_i", "recommended preload",
                  tension.recommended_preload(strength.S_p, thread.A_s, tightening.reused), "N",
                  "F_i = share F_p", f"{BOOK} eq. 8-31", inputs=chain.get("share", "F_p"))
    if "T" not in chain:
        chain.add("T", "tightening torque", chain["K"] * thread.d * chain["F_i"], "N.m", "T = K d F_i",
                  f"{BOOK} eq. 8-27", inputs=chain.get("K", "d", "F_i"))
    chain.add("sigma_i", "stress of the preload", chain["F_i"] / thread.A_s, "Pa", "sigma_i = F_i / A_t",
              f"{BOOK} section 8-9", inputs=chain.get("F_i", "A_t"))


def _torque_coefficient(chain: Chain, case: JointCase) -> None:
    friction, thread = case.friction, case.bolt.thread
    if friction.K is not None:
        chain.add("K", "torque coefficient", positive(friction.K.nominal, "friction.K"), "1", "stated",
                  chain.said("friction.K"))
        return
    f, f_c = friction.mu_G.nominal, friction.mu_K.nominal
    chain.add("f", "friction in the thread", positive(f, "friction.mu_G"), "1", "stated", chain.said("friction.mu_G"))
    chain.add("f_c", "friction at the collar", positive(f_c, "friction.mu_K"), "1", "stated",
              chain.said("friction.mu_K"))
    d_r = math.sqrt(4 * thread.A_d3 / math.pi)
    chain.add("d_m", "mean of major and minor diameter", tension.mean_thread_diameter(thread), "m",
              "d_m = (d + d_r) / 2", f"{BOOK} eq. 8-26", inputs={"d": thread.d, "d_r": d_r})
    chain.add(
        "K", "torque coefficient, collar diameter 1.25 d", tension.torque_coefficient(thread, f, f_c), "1",
        "K = d_m / (2 d) (tan_lam + f / cos(alpha)) / (1 - f tan_lam / cos(alpha)) + 0.625 f_c",
        f"{BOOK} eq. 8-26 (from memory)", "memory",
        inputs={**chain.get("d_m", "d", "f", "f_c"), "tan_lam": thread.P / (math.pi * chain["d_m"]),
                "alpha": math.pi / 6},
    )


def _static(chain: Chain, case: JointCase, n_d: float) -> list[Check]:
    P = case.loads.F_A_max
    checks = []
    if "F_p" in chain:
        checks.append(Check("F_i", "preload below the proof load", chain["F_i"], "<=", chain["F_p"], "N",
                            chain["F_i"] <= chain["F_p"], "", f"{BOOK} section 8-9"))
    for field, sense in (("required_preload", ">="), ("largest_preload", "<=")):
        limit = getattr(case.limits, field)
        if limit is not None:
            holds = chain["F_i"] >= limit if sense == ">=" else chain["F_i"] <= limit
            checks.append(Check(f"F_i_{field.split('_')[0]}", f"preload against limits.{field}", chain["F_i"],
                                ">=" if sense == ">=" else "<=", limit, "N", holds, "", chain.said(f"limits.{field}")))
    if P == 0:
        chain.group("Load, yield and separation (8-9)", "no external load is stated")
        return checks
    chain.group("Load, yield and separation (8-9)")
    chain.add("P", "external load of one bolt", P, "N", "stated", chain.said("loads.F_A_max"))
    F_i, C, A_t = chain["F_i"], chain["C"], chain["A_t"]
    chain.add("F_b", "greatest load of the bolt", tension.bolt_load(F_i, C, P), "N", "F_b = F_i + C P",
              f"{BOOK} eq. 8-24", inputs=chain.get("F_i", "C", "P"))
    chain.add("F_m", "load of the members (compression negative)", tension.member_load(F_i, C, P), "N",
              "F_m = (1 - C) P - F_i", f"{BOOK} eq. 8-25", inputs=chain.get("F_i", "C", "P"))
    factors: list[tuple[str, str, float, str, str, tuple[str, ...]]]
    factors = [("n_0", "factor against separation", tension.separation_factor(F_i, C, P), "n_0 = F_i / (P (1 - C))",
                "8-30", ("F_i", "P", "C"))]
    if "S_p" in chain:
        S_p = chain["S_p"]
        factors += [
            ("n_p", "yielding factor", tension.yielding_factor(S_p, A_t, C, P, F_i), "n_p = S_p A_t / (C P + F_i)",
             "8-28", ("S_p", "A_t", "C", "P", "F_i")),
            ("n_L", "load factor", tension.overload_factor(S_p, A_t, C, P, F_i), "n_L = (S_p A_t - F_i) / (C P)",
             "8-29", ("S_p", "A_t", "C", "P", "F_i")),
        ]
    else:
        text = f"{case.bolt.strength.source} gives no proof strength, and none is invented"
        checks += [Check(symbol, name, None, ">=", n_d, "1", None, text, f"{BOOK} eq. {number}")
                   for symbol, name, number in (("n_p", "yielding factor", "8-28"), ("n_L", "load factor", "8-29"))]
    for symbol, name, value, formula, number, inputs in factors:
        chain.add(symbol, name, value, "1", formula, f"{BOOK} eq. {number}", inputs=chain.get(*inputs))
        limit = 1.0 if symbol == "n_p" else n_d  # the preload alone uses most of n_p: the design factor is on the load
        if symbol != "n_0" and value >= limit and chain["n_0"] < 1:
            checks.append(Check(symbol, name, None, ">=", limit, "1", None, SEPARATED, f"{BOOK} eq. {number}"))
            continue
        checks.append(Check(symbol, name, value, ">=", limit, "1", value >= limit, "", f"{BOOK} eq. {number}"))
    return checks


def _window(chain: Chain, case: JointCase, n_d: float) -> tuple[Band, Band]:
    """Preload between separation and overload with the design factor, and its torque; the preload alone where it does
    not lie between, or no end is known.
    """
    F_i, lever = chain["F_i"], chain["K"] * chain["d"]
    low = high = F_i
    chain.group("Window of preload and torque")
    if "P" in chain and "F_p" in chain:
        chain.add("n_d", "design factor", n_d, "1", "stated" if case.limits.n_d else "1 where none is stated",
                  chain.said("limits.n_d"), "stated")
        low = chain.add("F_i_1", "preload at which the members separate", n_d * chain["P"] * (1 - chain["C"]), "N",
                        "F_i_1 = n_d P (1 - C)", f"{BOOK} eq. 8-30", inputs=chain.get("n_d", "P", "C"))
        high = chain.add("F_i_2", "preload at which the proof load is reached",
                         chain["F_p"] - n_d * chain["C"] * chain["P"], "N", "F_i_2 = F_p - n_d C P",
                         f"{BOOK} eq. 8-29", inputs=chain.get("F_p", "n_d", "C", "P"))
    if (required := case.limits.required_preload) is not None:
        low = max(low, required) if "F_i_1" in chain else min(required, F_i)
    if case.limits.largest_preload is not None:
        high = min(high, case.limits.largest_preload)
    if not 0 <= low <= F_i <= high:
        low = high = F_i
    for symbol, name, load in (("T_1", "least", low), ("T_2", "greatest", high)):
        chain.add(symbol, f"{name} torque of the window", lever * load, "N.m", f"{symbol} = K d F_{symbol}",
                  f"{BOOK} eq. 8-27", inputs={**chain.get("K", "d"), f"F_{symbol}": load})
    return Band(low, F_i, high), Band(chain["T_1"], lever * F_i, chain["T_2"])


def _notes(chain: Chain, case: JointCase) -> tuple[str, ...]:
    notes = ["The cones start at 1.5 d, the washer face of the textbook, whatever d_w is."]
    if case.limits.n_d is None and case.loads.F_A_max:
        notes.append("No design factor is stated (limits.n_d): the factors are judged against 1.")
    if "F_p" not in chain:
        notes.append(
            "Without a proof strength the greatest preload is not known. The textbook's stopgap 0.85 S_y is not used."
        )
    if case.friction.K is not None:
        notes.append("The torque uses the stated nut factor; mu_G and mu_K play no part.")
    if case.tightening.method != "torque":
        notes.append(f"The method {case.tightening.method!r} is not the textbook's; the torque only compares.")
    return tuple(notes)
