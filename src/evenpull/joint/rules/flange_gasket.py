"""The gasket's side of a flange assembly: seating, operation, most gasket stress and rotation at a bolt stress."""

from __future__ import annotations

from dataclasses import dataclass, field

from evenpull.joint.case import FlangeInput, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check
from evenpull.joint.service.flange import gasket_stress, stress_for_operation

APP_O = "ASME PCC-1-2013 Appendix O (from memory)"


@dataclass(slots=True)
class Work:
    """The computation under way: what was limited, and the checks."""

    case: JointCase
    stated: FlangeInput
    chain: Chain
    checks: list[Check] = field(default_factory=list)


def state(work: Work, symbol: str, name: str, unit: str, of: str) -> float:
    return work.chain.add(
        symbol, name, float(getattr(work.stated, of)), unit, "stated", work.chain.said(f"flange.{of}")
    )


def areas(work: Work) -> None:
    if "A_g" not in work.chain:
        state(work, "A_g", "area of the whole gasket", "m2", "gasket_area")
        state(work, "n_b", "bolts", "1", "bolts")


def judge_gasket(work: Work) -> None:
    """Seating, operation, most gasket stress and rotation at the chosen bolt stress."""
    chain, stated, checks = work.chain, work.stated, work.checks
    chain.group(
        "Gasket and rotation at this bolt stress",
        "" if stated.gasket_area else "flange.gasket_area is not stated: the gasket is not judged",
    )
    known = stated.gasket_area is not None and stated.bolts is not None
    if known:
        areas(work)
        chain.add(
            "S_g",
            "gasket stress at assembly",
            gasket_stress(chain["S_b"], chain["A_b"], chain["n_b"], chain["A_g"]),
            "Pa",
            "S_g = S_b A_b n_b / A_g",
            APP_O,
            inputs=chain.get("S_b", "A_b", "n_b", "A_g"),
        )
    for of, symbol, words, sense in (
        ("S_g_seat", "S_g_seat", "least gasket stress at assembly (seating)", ">="),
        ("S_g_max", "S_g_max", "most gasket stress", "<="),
    ):
        limit = getattr(stated, of)
        if limit is None or not known:
            missing = of if limit is None else "gasket_area or flange.bolts"
            checks.append(
                Check(
                    symbol,
                    words,
                    None,
                    ">=" if sense == ">=" else "<=",
                    limit,
                    "Pa",
                    None,
                    f"flange.{missing} is not stated",
                    APP_O,
                )
            )
            continue
        state(work, symbol, words, "Pa", of)
        value = chain["S_g"]
        holds = value >= limit * (1 - 1e-9) if sense == ">=" else value <= limit * (1 + 1e-9)
        checks.append(Check(symbol, words, value, ">=" if sense == ">=" else "<=", limit, "Pa", holds, "", APP_O))
    checks.append(_operation(work, known))
    checks.append(_rotation(work))


def _operation(work: Work, known: bool) -> Check:
    chain, stated = work.chain, work.stated
    words = "bolt stress for the least gasket stress in operation"
    needed = ("S_g_op", "p_max", "pressure_area", "relaxation_share")
    missing = [f"flange.{of}" for of in needed if getattr(stated, of) is None]
    if missing or not known:
        if not known:
            missing.append("flange.gasket_area or flange.bolts")
        return Check("S_b_op", words, chain["S_b"], ">=", None, "Pa", None, f"not stated: {', '.join(missing)}", APP_O)
    state(work, "S_g_op", "least gasket stress in operation", "Pa", "S_g_op")
    state(work, "p_max", "largest internal pressure", "Pa", "p_max")
    state(work, "A_p", "area on which the pressure acts", "m2", "pressure_area")
    state(work, "phi_g", "share of the load that remains after relaxation", "1", "relaxation_share")
    A_b, A_g, n_b, phi_g = chain["A_b"], chain["A_g"], chain["n_b"], chain["phi_g"]
    need = stress_for_operation(chain["S_g_op"], A_g, chain["p_max"], chain["A_p"], phi_g, A_b, n_b)
    names = ("S_g_op", "A_g", "p_max", "A_p", "phi_g", "n_b", "A_b")
    chain.add(
        "S_b_op",
        words,
        need,
        "Pa",
        "S_b_op = (S_g_op A_g + p_max A_p) / (phi_g n_b A_b)",
        APP_O,
        inputs=chain.get(*names),
    )
    left = gasket_stress(chain["S_b"], A_b, n_b, A_g, phi_g, chain["p_max"], chain["A_p"])
    chain.add(
        "S_g_left",
        "gasket stress left in operation",
        left,
        "Pa",
        "S_g_left = (phi_g S_b A_b n_b - p_max A_p) / A_g",
        APP_O,
        inputs=chain.get("phi_g", "S_b", "A_b", "n_b", "p_max", "A_p", "A_g"),
    )
    return Check("S_b_op", words, chain["S_b"], ">=", need, "Pa", chain["S_b"] >= need * (1 - 1e-9), "", APP_O)


def _rotation(work: Work) -> Check:
    chain, stated = work.chain, work.stated
    words = "bolt stress at the largest rotation that the gasket stands"
    missing = [f"flange.{of}" for of in ("rotation_f_max", "rotation_g_max", "S_f_max") if getattr(stated, of) is None]
    if missing:
        return Check("S_b_rot", words, chain["S_b"], "<=", None, "Pa", None, f"not stated: {', '.join(missing)}", APP_O)
    state(work, "theta_f", "flange rotation at its limit", "rad", "rotation_f_max")
    state(work, "theta_g", "largest rotation that the gasket stands", "rad", "rotation_g_max")
    limit = chain["S_f_max"] * chain["theta_g"] / chain["theta_f"]
    chain.add(
        "S_b_rot",
        words,
        limit,
        "Pa",
        "S_b_rot = S_f_max theta_g / theta_f",
        APP_O,
        inputs=chain.get("S_f_max", "theta_g", "theta_f"),
    )
    return Check("S_b_rot", words, chain["S_b"], "<=", limit, "Pa", chain["S_b"] <= limit * (1 + 1e-9), "", APP_O)
