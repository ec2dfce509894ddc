"""General aviation: torque by FAA AC 43.13-1B Table 7-1 with the friction drag of the nut. No load follows from it."""

from __future__ import annotations

from evenpull.catalogue.aviation import AviationTorque
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import AviationInput, CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.stated import unused
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.service.aviation import (
    aviation_torque,
    castellated_window,
    least_drag,
    middle_of_range,
    torque_with_drag,
)
from evenpull.joint.traced import Band
from evenpull.quantities import show, to_si

DOCUMENT = "FAA AC 43.13-1B (1998)"
DRAG = f"{DOCUMENT} par. 7-40 d"
_STRESS = {"tension": 90.0, "shear": 54.0}  # ksi, headings of the columns of the most allowed torque

RULE_SET = RuleSet(
    "aviation",
    "General aviation torque table with friction drag",
    DOCUMENT,
    "of Tables 7-1 and 7-2 the rows with status memory, and the wording of par. 7-40, were recalled and not re-read",
    "standard steel bolts with unified threads #8 to 1-1/4 in, threads oil-free and cadmium-plated, where the maker "
    "states no torque; looked up, no load follows",
)

_USED = (
    "aviation", "bolt.thread", "bolt.strength", "counterpart.kind", "tightening.torque", "tightening.prevailing",
    "tightening.reused", "tightening.source",
)


def _drag(case: JointCase, stated: AviationInput) -> tuple[float, str]:
    """Drag in N.m and the field it stands in. CaseError when the two statements of it contradict each other."""
    band, drag = case.tightening.prevailing, stated.drag
    if not 0 <= band.low <= band.high < float("inf"):
        raise CaseError(f"tightening.prevailing has to be finite and not negative: {band.low} to {band.high} N.m")
    if drag is None:
        return band.nominal, "tightening.prevailing"
    if not 0 <= drag < float("inf"):
        raise CaseError(f"aviation.drag has to be finite and not negative: {drag} N.m")
    if band.high > 0 and not band.low <= drag <= band.high:
        raise CaseError(
            f"aviation.drag = {show(drag, 'N.m')} lies outside tightening.prevailing, {show(band.low, 'N.m')} to "
            f"{show(band.high, 'N.m')}: state the measured drag once"
        )
    return drag, "aviation.drag"


def apply(case: JointCase) -> RuleResult:
    """Torque window, with the drag, from the table. CaseError without `aviation` in the case, and for a thread, type
    of nut or method of tightening that the document does not have.
    """
    refuse_senseless(case)
    stated = case.aviation
    if stated is None:
        raise CaseError("aviation is not stated: the rule set needs the type of nut (tension or shear)")
    if case.tightening.method != "torque":
        raise CaseError(f"tightening.method {case.tightening.method!r}: {DOCUMENT} Table 7-1 knows torque alone")
    if case.counterpart.kind != "nut":
        raise CaseError("counterpart.kind: the table is made for bolts with nuts, not for a tapped hole")
    try:
        row = aviation_torque(case.bolt.thread, stated.nut)
    except NotInCatalogue as error:
        raise CaseError(f"bolt.thread: {error}") from error
    drag, field = _drag(case, stated)
    chain = Chain(case.sources)
    chain.group("Recommended torque")
    name = f"Table 7-1, {row.thread}, {row.nut} nut"
    chain.add("T_low", "recommended torque, low", row.low, "N.m", name, row.source, row.status)
    chain.add("T_high", "recommended torque, high", row.high, "N.m", name, row.source, row.status)
    chain.add("T_most", "most allowed torque", row.most, "N.m", name, row.source, row.status)
    chain.group("Friction drag", "" if drag else "no drag is stated: right only for a nut that runs down freely")
    chain.add("T_d", "friction drag of the run-down nut", drag, "N.m", "stated", chain.said(field))
    chain.group("Torque at the fastener, drag included")
    for symbol, title, base in (("T_1", "least", "T_low"), ("T_2", "greatest", "T_high")):
        chain.add(
            symbol, f"{title} final torque", torque_with_drag(chain[base], drag), "N.m", f"{symbol} = {base} + T_d",
            DRAG, inputs=chain.get(base, "T_d"),
        )
    chain.add(
        "T_lim", "torque never to be passed", torque_with_drag(row.most, drag), "N.m", "T_lim = T_most + T_d", DRAG,
        inputs=chain.get("T_most", "T_d"),
    )
    if stated.castellated:
        window = castellated_window(row, drag)
        chain.add(
            "T_aim", "torque at which alignment of slot and hole begins", window.nominal, "N.m", "T_aim = T_low + T_d",
            f"{DOCUMENT} par. 7-40, castellated nuts (from memory)", inputs=chain.get("T_low", "T_d"),
        )
    else:
        middle = middle_of_range(chain["T_1"], chain["T_2"])
        chain.add(
            "T_aim", "middle of the range", middle, "N.m", "T_aim = (T_1 + T_2) / 2",
            "middle of the range, common practice, no source", "common practice", inputs=chain.get("T_1", "T_2"),
        )
        window = Band(chain["T_1"], middle, chain["T_2"])
    return RuleResult(
        RULE_SET, chain.groups(), _checks(case, stated, row, drag), None, window,
        unused=unused(case, _USED), notes=_notes(stated, row),
    )


def _checks(case: JointCase, stated: AviationInput, row: AviationTorque, drag: float) -> tuple[Check, ...]:
    found = []
    dry = True if stated.oil_free_cadmium else None
    found.append(
        Check(
            "finish", "threads oil-free and cadmium-plated", None, ">=", None, "1", dry,
            "" if dry else f"the table holds for {row.condition} alone; for others the maker's torque is needed",
            row.source,
        )
    )
    stress = to_si(_STRESS[row.nut], "ksi", "stress")
    R = case.bolt.strength.R_p02
    found.append(
        Check(
            "R_p02", "yield strength of the bolt against the stress of the most allowed torque", R, ">=", stress, "Pa",
            bool(stress <= R), f"the column of most allowed torque is headed {_STRESS[row.nut]:g} ksi in the bolt",
            row.source,
        )
    )
    if (torque := case.tightening.torque) is not None:
        found += [
            Check("T_A", "stated torque (without drag) not below the range", torque, ">=", row.low, "N.m",
                  torque >= row.low * (1 - 1e-9), "", row.source),
            Check("T_A_high", "stated torque (without drag) not above the range", torque, "<=", row.high, "N.m",
                  torque <= row.high * (1 + 1e-9), "", row.source),
        ]
    if case.tightening.reused:
        found.append(_reused(case, drag))
    return tuple(found)


def _reused(case: JointCase, drag: float) -> Check:
    name = "drag of the reused self-locking nut against the least prevailing torque"
    try:
        least = least_drag(case.bolt.thread, "prevailing")
    except NotInCatalogue as error:
        return Check("T_d", name, drag, ">=", None, "N.m", None, str(error), f"{DOCUMENT} Table 7-2")
    if drag == 0:
        text = "no drag is stated: a self-locking nut is checked on run-down before it is used again"
        return Check("T_d", name, None, ">=", least.torque, "N.m", None, text, least.source)
    return Check("T_d", name, drag, ">=", least.torque, "N.m", drag >= least.torque * (1 - 1e-9), "", least.source)


def _notes(stated: AviationInput, row: AviationTorque) -> tuple[str, ...]:
    notes = [
        "The maker's torque goes first where there is one; the table serves only without it.",
        "The torque includes the drag; the highest value may be exceeded by the drag alone.",
        "No load follows from this table: no one nut factor reproduces it.",
    ]
    if row.estimated:
        notes.append(f"The shear-nut values of {row.thread} are estimates of the document itself.")
    if stated.castellated:
        notes.append(
            "Castellated nut: begin at the low value; if no slot meets the hole before the high value, change washers."
        )
    return tuple(notes)
