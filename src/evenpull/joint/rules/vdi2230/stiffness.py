"""R3: resilience of bolt and parts with their pieces, and the load factor."""

from __future__ import annotations

from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.service.clamping import F_PA, F_SA
from evenpull.joint.springs.cones import THROUGH
from evenpull.joint.springs.eccentric import Eccentric, eccentric_model
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience, load_factor

R3 = "VDI 2230-1 R3"


def add_stiffness(chain: Chain, case: JointCase) -> tuple[tuple[str, ...], Eccentric | None]:
    """R3 with delta_S, delta_P, Phi, F_SA and F_PA; gives the notes, and the beam model of an eccentric joint."""
    chain.group("R3 load factor")
    bolt, clamped = bolt_resilience(case), clamped_resilience(case)
    for part in bolt.parts:
        chain.add(part.symbol, part.name, part.value, "m/N", part.formula, "VDI 2230-1 section 5.1.1",
                  inputs=part.inputs)
    symbols = [part.symbol for part in bolt.parts]
    chain.add("delta_S", "resilience of the bolt", bolt.total, "m/N", f"delta_S = {' + '.join(symbols)}", R3,
              inputs=chain.get(*symbols))
    chain.add("l_K", "clamped length", clamped.l_K, "m", "sum of the layers", chain.said("layers"))
    cone = {"d_w": clamped.d_w, "D_A": clamped.D_A, **chain.get("l_K")}
    formula = ("tan_phi = 0.362 + 0.032 ln(l_K / d_w / 2) + 0.153 ln(D_A / d_w)" if clamped.w == THROUGH else
               "tan_phi = 0.348 + 0.013 ln(l_K / d_w) + 0.193 ln(D_A / d_w)")
    chain.add("tan_phi", "tangent of the cone angle", clamped.tan_phi, "1", formula, "VDI 2230-1 section 5.1.2",
              inputs=cone)
    chain.add("D_A_Gr", "width from which the cone is complete", clamped.D_A_Gr, "m", "D_A_Gr = d_w + w l_K tan_phi",
              "VDI 2230-1 section 5.1.2", inputs={"d_w": clamped.d_w, "w": clamped.w, **chain.get("l_K", "tan_phi")})
    for piece in clamped.parts:
        chain.add(piece.symbol, f"{piece.name}, {clamped.kind}", piece.value, "m/N", piece.formula,
                  "VDI 2230-1 section 5.1.2", inputs=piece.inputs)
    symbols = [piece.symbol for piece in clamped.parts]
    if symbols != ["delta_P"]:
        chain.add("delta_P", "resilience of the clamped parts", clamped.total, "m/N",
                  f"delta_P = {' + '.join(symbols)}", R3, inputs=chain.get(*symbols))
    notes, model = clamped.notes, None
    n = case.loads.n
    if case.eccentricity is None:
        chain.add("Phi", "load factor", load_factor(n, clamped.total, bolt.total), "1",
                  "Phi = n delta_P / (delta_S + delta_P)", R3, inputs={"n": n, **chain.get("delta_P", "delta_S")})
    else:
        model = eccentric_model(case, bolt, clamped)
        ecc = case.eccentricity
        bending = {"l_K": clamped.l_K, "E_P": model.E_P, "I_Bers": ecc.I_Bers, "s_sym": ecc.s_sym}
        chain.add("delta_P_star", "resilience, eccentrically clamped", model.delta_P_star, "m/N",
                  "delta_P_star = delta_P + s_sym^2 l_K / (E_P I_Bers)", "VDI 2230-1 section 5.1.3",
                  inputs={**chain.get("delta_P"), **bending})
        chain.add("delta_P_star2", "resilience, eccentrically clamped and loaded", model.delta_P_star2, "m/N",
                  "delta_P_star2 = delta_P + a s_sym l_K / (E_P I_Bers)", "VDI 2230-1 section 5.1.3",
                  inputs={**chain.get("delta_P"), **bending, "a": ecc.a})
        chain.add("Phi", "load factor, eccentrically clamped and loaded", model.Phi_en, "1",
                  "Phi = n delta_P_star2 / (delta_S + delta_P_star)", R3,
                  inputs={"n": n, **chain.get("delta_P_star2", "delta_S", "delta_P_star")})
        notes = (*notes, *model.notes)
    return (*notes, *_shares(chain, case)), model


def _shares(chain: Chain, case: JointCase) -> tuple[str, ...]:
    """Greatest additional load of the bolt and greatest relief of the parts. With a load factor below 0 or above 1 (one
    side of an eccentric joint) the working load helps one of them, and is not counted on: it may also be absent.
    """
    Phi, high, low = chain["Phi"], case.loads.F_A_max, case.loads.F_A_min
    inputs = {"Phi": Phi, "F_A_max": high}
    if 0 <= Phi <= 1:
        chain.add("F_SA_max", "additional load of the bolt", F_SA(Phi, high), "N", "F_SA_max = Phi F_A_max", R3,
                  inputs=inputs)
        chain.add("F_PA_max", "relief of the clamped parts", F_PA(Phi, high), "N", "F_PA_max = (1 - Phi) F_A_max", R3,
                  inputs=inputs)
        return ()
    inputs["F_A_min"] = low
    chain.add("F_SA_max", "greatest additional load of the bolt", max(F_SA(Phi, high), F_SA(Phi, low), 0.0), "N",
              "F_SA_max = max(Phi F_A_max, Phi F_A_min, 0)", f"{R3}, safe side", inputs=inputs)
    chain.add("F_PA_max", "greatest relief of the clamped parts", max(F_PA(Phi, high), F_PA(Phi, low), 0.0), "N",
              "F_PA_max = max((1 - Phi) F_A_max, (1 - Phi) F_A_min, 0)", f"{R3}, safe side", inputs=inputs)
    return (f"the load factor {Phi:.3g} lies outside 0 to 1: the working load may be absent, and where it would help "
            "it is not counted on",)
