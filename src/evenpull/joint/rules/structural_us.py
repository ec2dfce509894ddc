"""US structural bolting (RCSC, AISC 360): least pretension, turn of the nut, verification before installation, slip."""

from __future__ import annotations

import re

from evenpull.catalogue.structural import Pretension, pretension, slip_us, turn_of_nut, verification
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import CaseError, JointCase, StructuralInput
from evenpull.joint.chain import Chain
from evenpull.joint.parts.threads import nominal_stress_area
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.stated import unused
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.service.structural import slip_resistance_us, structural_pretension, turn_size
from evenpull.joint.traced import Band
from evenpull.quantities import from_si, show, to_si

AISC, RCSC = "AISC 360 J3", "RCSC Specification"
RULE_SET = RuleSet(
    "structural_us",
    "US structural bolting",
    "AISC 360 Table J3.1 (2005 and 2016 texts) and RCSC Specification (2014, 2020)",
    "pretensions of A325 above 1 in after 2010 and of F3148, tolerances of the turn, Section 7 and slip (J3.8, J3.9) "
    "were recalled and not re-read",
    "pretensioned and slip-critical joints with A325, A490, F3148 (1/2 to 1-1/2 in) and A325M, A490M (M16 to M36) "
    "bolts, coarse threads, nut turned; direct tension indicators and twist-off bolts are not covered",
)
SNUG = (
    "Snug first: all plies drawn into firm contact, by a few impacts of an impact wrench or the full effort of a "
    "person with an ordinary spud wrench, from the stiffest part outwards (RCSC 8.1, from memory)."
)
_USED = (
    "structural.bolt",
    "structural.edition",
    "structural.faces",
    "structural.method",
    "structural.hole",
    "bolt.thread",
    "bolt.length",
    "layers",
    "counterpart.kind",
    "counterpart.engagement",
    "loads.F_A_max",
    "loads.F_Q",
    "loads.q_F",
    "loads.mu_T",
    "tightening.torque",
)


def bolt_name(text: str) -> str:
    """ "ASTM F3125 Grade A325", "a325" -> "A325": the bolt as the tables name it."""
    return re.sub(r"^(?:ASTM\s+)?(?:F3125M?[\s/,-]*)?(?:GRADE\s+|GR\.?\s*)?", "", text.strip().upper())


def _pretension(case: JointCase, stated: StructuralInput) -> Pretension:
    try:
        return pretension(
            bolt_name(stated.bolt or case.bolt.strength.designation), turn_size(case.bolt.thread), stated.edition
        )
    except NotInCatalogue as error:
        field = "structural.edition" if "edition" in error.what else "structural.bolt"
        raise CaseError(f"{field}: {error}") from error
    except ValueError as error:
        raise CaseError(f"bolt.thread: {error}") from error


def apply(case: JointCase) -> RuleResult:
    """Least pretension, turn of the nut or verification load, slip. CaseError without `structural` in the case and for
    bolts, sizes, lengths and methods that the documents do not have.
    """
    refuse_senseless(case)
    stated = case.structural
    if stated is None:
        raise CaseError("structural is not stated: the rule set needs the bolt (A325, A490, ...), faces and method")
    if case.counterpart.kind != "nut":
        raise CaseError("counterpart.kind: the documents treat bolts with nuts, not tapped holes")
    if stated.method == "combined":
        raise CaseError("structural.method 'combined' belongs to EN 1090-2; here: torque or turn of nut")
    row = _pretension(case, stated)
    chain = Chain(case.sources)
    _loads(chain, case, row)
    angle = None
    if stated.method == "turn of nut":
        angle = _turn(chain, case, stated)
    else:
        chain.group(
            "Method: calibrated wrench",
            "no torque is computed: it is found each day on three assemblies of "
            "the lot in a bolt tension calibrator and holds for that day, lot, lubrication and wrench",
        )
        if (torque := case.tightening.torque) is not None:
            chain.add("T", "torque stated", torque, "N.m", "stated", chain.said("tightening.torque"))
            chain.add(
                "d",
                "nominal diameter",
                case.bolt.thread.d,
                "m",
                case.bolt.thread.designation,
                "ASME B1.1, ISO 261",
                "memory",
            )
            chain.add(
                "K_T",
                "nut factor at which it would give the least pretension",
                torque / (row.value * chain["d"]),
                "1",
                "K_T = T / (T_b d)",
                "T = K d F, short form",
                inputs=chain.get("T", "T_b", "d"),
            )
    _verification(chain, row)
    checks = [*_length(case), *_torque_check(case, stated), *_slip(chain, case, stated)]
    preload = Band(row.value, max(row.value, chain["T_v"]), max(chain["F_m"], chain["T_v"]))
    return RuleResult(
        RULE_SET, chain.groups(), tuple(checks), preload, None, angle, unused(case, _USED), _notes(stated)
    )


def _loads(chain: Chain, case: JointCase, row: Pretension) -> None:
    thread = case.bolt.thread
    add = chain.add
    chain.group("Least pretension")
    name = f"{row.bolt} {row.size}" + ("" if row.edition == "any" else f", edition {row.edition}")
    add("F_u", "tensile strength", row.F_u, "Pa", name, row.source, row.status)
    area = nominal_stress_area(thread) if thread.system == "metric" else thread.A_s
    if thread.system == "metric":
        add("A_t", "stress area, rounded to three figures", area, "m2", thread.designation, "ISO 898-1", "memory")
    else:
        add("d_n", "nominal diameter", thread.d, "m", thread.designation, "ASME B1.1", "memory")
        add("P", "pitch", thread.P, "m", thread.designation, "ASME B1.1", "memory")
        add(
            "A_t",
            "tensile stress area",
            area,
            "m2",
            "A_t = pi/4 (d_n - 0.9743 P)^2",
            "ASME B1.1",
            inputs=chain.get("d_n", "P"),
        )
    add(
        "T_0",
        "pretension before rounding",
        structural_pretension(row.F_u, area),
        "N",
        "T_0 = 0.70 F_u A_t",
        f"{AISC}, note to Table J3.1",
        inputs=chain.get("F_u", "A_t"),
    )
    add("T_b", "least pretension", row.value, "N", name, row.source, row.status)
    add(
        "F_m",
        "tensile load of the bolt; no upper limit of the pretension is stated",
        row.F_u * area,
        "N",
        "F_m = F_u A_t",
        AISC,
        inputs=chain.get("F_u", "A_t"),
    )


def _turn(chain: Chain, case: JointCase, stated: StructuralInput) -> Band:
    length, thread = case.bolt.length, case.bolt.thread
    if length is None:
        raise CaseError(
            "bolt.length is missing: the turn goes by the length from the underside of the head to the "
            "end, not by the clamped thickness"
        )
    try:
        turn = turn_of_nut(length / thread.d, stated.faces, stated.edition or "2014")
    except NotInCatalogue as error:
        raise CaseError(f"bolt.length or structural.edition: {error}") from error
    chain.group(
        "Method: turn of the nut from snug",
        f"tolerances of the {stated.edition or '2014'} text" + ("" if stated.edition else ", no edition being stated"),
    )
    chain.add("L", "length from the underside of the head to the end", length, "m", "stated", chain.said("bolt.length"))
    chain.add("d", "nominal diameter", thread.d, "m", thread.designation, "ASME B1.1, ISO 261", "memory")
    chain.add(
        "L_d", "length in diameters", length / thread.d, "1", "L_d = L / d", turn.source, inputs=chain.get("L", "d")
    )
    chain.add("theta", "turn from snug", turn.angle, "rad", f"faces {stated.faces}", turn.source, turn.status)
    chain.add(
        "theta_m",
        "tolerance below",
        turn.below,
        "rad",
        "note to the table",
        turn.tolerance_source,
        turn.tolerance_status,
    )
    chain.add(
        "theta_p",
        "tolerance above",
        turn.above,
        "rad",
        "note to the table",
        turn.tolerance_source,
        turn.tolerance_status,
    )
    chain.add(
        "theta_1",
        "least turn",
        turn.angle - turn.below,
        "rad",
        "theta_1 = theta - theta_m",
        turn.tolerance_source,
        inputs=chain.get("theta", "theta_m"),
    )
    chain.add(
        "theta_2",
        "greatest turn",
        turn.angle + turn.above,
        "rad",
        "theta_2 = theta + theta_p",
        turn.tolerance_source,
        inputs=chain.get("theta", "theta_p"),
    )
    return Band(chain["theta_1"], turn.angle, chain["theta_2"])


def _verification(chain: Chain, row: Pretension) -> None:
    data = verification()
    chain.group(
        "Verification before installation",
        f"{data['assemblies']} complete assemblies of each lot, diameter, length and grade in a bolt tension "
        "calibrator, tightened by the method of the job",
    )
    chain.add(
        "T_v0",
        "load to be reached, before rounding",
        data["factor"] * row.value,
        "N",
        "T_v0 = 1.05 T_b",
        data["source"],
        data["status"],
        inputs=chain.get("T_b"),
    )
    whole = float(int(from_si(chain["T_v0"], row.unit) + 0.5))
    chain.add(
        "T_v",
        f"load to be reached, rounded to the whole {row.unit}",
        to_si(whole, row.unit, "force"),
        "N",
        "rounded as the table prints it",
        data["source"],
        data["status"],
    )


def _torque_check(case: JointCase, stated: StructuralInput) -> tuple[Check, ...]:
    if case.tightening.torque is None or stated.method != "torque":
        return ()
    return (
        Check(
            "T",
            "stated torque",
            case.tightening.torque,
            ">=",
            None,
            "N.m",
            None,
            "a torque from a table or a formula is not accepted without the daily verification on the lot",
            f"{RCSC} 8.2.2",
        ),
    )


def _length(case: JointCase) -> tuple[Check, ...]:
    length, nut = case.bolt.length, case.counterpart.engagement
    name = "bolt length against clamped parts and nut: the end stands at least flush with the nut"
    if length is None or nut is None:
        missing = "bolt.length" if length is None else "counterpart.engagement (nut height)"
        return (Check("L", name, length, ">=", None, "m", None, f"{missing} is not stated", f"{RCSC} 2 (from memory)"),)
    need = case.l_K + nut
    return (
        Check(
            "L",
            name,
            length,
            ">=",
            need,
            "m",
            length >= need * (1 - 1e-9),
            f"clamped {show(case.l_K, 'mm')}, nut {show(nut, 'mm')}",
            f"{RCSC} 2 (from memory)",
        ),
    )


def _slip(chain: Chain, case: JointCase, stated: StructuralInput) -> tuple[Check, ...]:
    loads, data = case.loads, slip_us()
    if not loads.F_Q:
        return ()
    name = "slip resistance of one bolt"
    if loads.mu_T is None:
        return (
            Check(
                "phi_R_n",
                name,
                None,
                ">=",
                loads.F_Q,
                "N",
                None,
                "loads.mu_T, the slip coefficient of the faces, is not stated",
                AISC,
            ),
        )
    if not 0 < loads.mu_T < 1 or loads.q_F < 1:
        raise CaseError(
            f"loads.mu_T (between 0 and 1) or loads.q_F (1 or more) is senseless: {loads.mu_T}, {loads.q_F}"
        )
    source, status = data["source"], data["status"]
    chain.group("Slip", "strength level; one bolt, no fillers")
    chain.add("mu_s", "slip coefficient of the faces", loads.mu_T, "1", "stated", chain.said("loads.mu_T"))
    chain.add("n_s", "slip planes", float(loads.q_F), "1", "stated", chain.said("loads.q_F"))
    chain.add("T_u", "tension on the bolt", loads.F_A_max, "N", "stated", chain.said("loads.F_A_max"))
    chain.add("D_u", "mean installed over least pretension", data["D_u"], "1", "AISC 360 J3.8", source, status)
    chain.add(
        "phi", f"resistance factor, hole: {stated.hole}", data["phi"][stated.hole], "1", "AISC 360 J3.8", source, status
    )
    if loads.F_A_max >= data["D_u"] * chain["T_b"]:
        return (Check("phi_R_n", name, 0.0, ">=", loads.F_Q, "N", False, "the tension leaves no clamp load", source),)
    chain.add(
        "k_sc",
        "share of the clamp load that the tension leaves",
        1 - loads.F_A_max / (data["D_u"] * chain["T_b"]),
        "1",
        "k_sc = 1 - T_u / (D_u T_b)",
        source,
        status,
        inputs=chain.get("T_u", "D_u", "T_b"),
    )
    resistance = slip_resistance_us(chain["T_b"], loads.mu_T, loads.q_F, chain["phi"], loads.F_A_max, data["D_u"])
    chain.add(
        "phi_R_n",
        name,
        resistance,
        "N",
        "phi_R_n = phi mu_s D_u T_b n_s k_sc",
        source,
        status,
        inputs=chain.get("phi", "mu_s", "D_u", "T_b", "n_s", "k_sc"),
    )
    return (Check("phi_R_n", name, resistance, ">=", loads.F_Q, "N", resistance >= loads.F_Q * (1 - 1e-9), "", source),)


def _notes(stated: StructuralInput) -> tuple[str, ...]:
    notes = [
        SNUG,
        "The documents state a least pretension and no greatest one; the upper end of the preload shown is the tensile "
        "load of the bolt.",
        "Without the verification before installation the pretension is not shown, whatever the method.",
    ]
    if stated.method == "turn of nut":
        notes.append(
            "The turn is the rotation of the nut against the bolt, head held; mark both after snug, before the turn."
        )
    if stated.faces != "both normal":
        notes.append("Sloped faces: not steeper than 1:20 and without bevelled washers.")
    return tuple(notes)
