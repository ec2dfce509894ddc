"""Fatigue of the textbook joint (Shigley section 8-11) as steps and checks."""

from __future__ import annotations

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check
from evenpull.joint.service import fatigue

SOURCE = fatigue.SOURCE
_NAMES = (
    ("n_fG", "fatigue factor, Goodman"), ("n_fGe", "fatigue factor, Gerber"), ("n_fA", "fatigue factor, ASME-elliptic"),
)


def _not_judged(n_d: float, why: str) -> list[Check]:
    return [Check(symbol, name, None, ">=", n_d, "1", None, why, SOURCE) for symbol, name in _NAMES]


def add_fatigue(chain: Chain, case: JointCase, n_d: float) -> list[Check]:
    """Adds stresses, strengths and factors. Checks are "not judged" where the load has no positive mean, the class has
    no endurance strength in Table 8-17 and none is stated, or the preload alone passes the strength.
    """
    loads = case.loads
    if loads.F_A_max == loads.F_A_min:
        chain.group("Fatigue (8-11)", "the external load does not alternate")
        return []
    if loads.F_A_max + loads.F_A_min <= 0:
        why = "the load has no positive mean: the textbook's load lines do not cover it"
        chain.group("Fatigue (8-11)", why)
        return _not_judged(n_d, why)
    why = _endurance(chain, case)
    if why:
        chain.group("Fatigue (8-11)", why)
        return _not_judged(n_d, why)
    S_e, S_ut, sigma_i = chain["S_e"], case.bolt.strength.R_m, chain["sigma_i"]
    if sigma_i >= S_ut:
        why = "the stress of the preload alone reaches the tensile strength"
        return _not_judged(n_d, why)
    chain.add("S_ut", "tensile strength", S_ut, "Pa", case.bolt.strength.designation, case.bolt.strength.source,
              case.bolt.strength.status)
    _stresses(chain, case)
    found = [_line(chain, n_d, "G", "Goodman", fatigue.goodman(S_e, S_ut, sigma_i, chain["r"]),
                   "S_aG = r S_e (S_ut - sigma_i) / (r S_ut + S_e)", "S_ut")]
    found.append(_line(
        chain, n_d, "Ge", "Gerber", fatigue.gerber(S_e, S_ut, sigma_i, chain["r"]),
        "S_aGe = r (S_ut sqrt(r^2 S_ut^2 + 4 S_e (S_e + r sigma_i)) - r S_ut^2 - 2 sigma_i S_e) / (2 S_e)", "S_ut"))
    name = "fatigue factor, ASME-elliptic"
    if "S_p" not in chain:
        found.append(Check("n_fA", name, None, ">=", n_d, "1", None, "no proof strength is known", SOURCE))
    elif sigma_i >= chain["S_p"]:
        found.append(Check("n_fA", name, None, ">=", n_d, "1", None, "the preload alone reaches the proof strength",
                           SOURCE))
    else:
        found.append(_line(
            chain, n_d, "A", "ASME-elliptic", fatigue.asme_elliptic(S_e, chain["S_p"], sigma_i, chain["r"]),
            "S_aA = r S_e (S_p sqrt(r^2 (S_p^2 - sigma_i^2) + S_e^2) - sigma_i S_e) / (r^2 S_p^2 + S_e^2)", "S_p"))
    return found


def _endurance(chain: Chain, case: JointCase) -> str:
    """Adds S_e in the group of fatigue; the reason why there is none, else an empty text."""
    stated, strength = case.limits.S_e, case.bolt.strength
    if stated is not None:
        chain.group("Fatigue (8-11)")
        chain.add("S_e", "endurance strength", stated, "Pa", "stated", chain.said("limits.S_e"))
        return ""
    try:
        row = fatigue.endurance_strength(strength.designation, case.bolt.thread.d)
    except NotInCatalogue as error:
        return f"no endurance strength: {error}; state limits.S_e"
    chain.group("Fatigue (8-11)")
    chain.add("S_e", "endurance strength, rolled thread", row.S_e, "Pa", f"Table 8-17, {row.designation}", row.source,
              row.status)
    return ""


def _stresses(chain: Chain, case: JointCase) -> None:
    high, low, C, A_t = case.loads.F_A_max, case.loads.F_A_min, chain["C"], chain["A_t"]
    inputs = {**chain.get("C", "A_t"), "P": high, "P_min": low}
    chain.add("P_min", "least external load", low, "N", "stated", chain.said("loads.F_A_min"))
    chain.add("sigma_a", "stress amplitude", fatigue.stress_amplitude(C, high, low, A_t), "Pa",
              "sigma_a = C (P - P_min) / (2 A_t)", f"{SOURCE}, eq. 8-35", inputs=inputs)
    chain.add("sigma_m", "mean stress", fatigue.mean_stress(C, high, low, chain["F_i"], A_t), "Pa",
              "sigma_m = C (P + P_min) / (2 A_t) + F_i / A_t", f"{SOURCE}, eq. 8-36",
              inputs={**inputs, **chain.get("F_i")})
    chain.add("r", "slope of the load line from the preload", fatigue.load_line(high, low), "1",
              "r = (P - P_min) / (P + P_min)", f"{SOURCE}; 1 for a load from zero",
              inputs={"P": high, "P_min": low})


def _line(chain: Chain, n_d: float, mark: str, name: str, S_a: float, formula: str, limit: str) -> Check:
    chain.add(f"S_a{mark}", f"strength amplitude, {name}", S_a, "Pa", formula, f"{SOURCE}, {name}",
              inputs=chain.get("S_e", limit, "sigma_i", "r"))
    factor = fatigue.fatigue_factor(S_a, chain["sigma_a"])
    chain.add(f"n_f{mark}", f"fatigue factor, {name}", factor, "1", f"n_f{mark} = S_a{mark} / sigma_a",
              f"{SOURCE}, eq. 8-37", inputs=chain.get(f"S_a{mark}", "sigma_a"))
    return Check(f"n_f{mark}", f"fatigue factor, {name}", factor, ">=", n_d, "1", factor >= n_d, "", SOURCE)
