"""Bolted flange assembly in the style of ASME PCC-1: target by root area, component limits in order, torque."""

from __future__ import annotations

from evenpull.catalogue.flange import FlangeTorque, flange_torques
from evenpull.joint.case import CaseError, FlangeInput, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.parts.threads import thread
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.flange_gasket import APP_O, Work, areas, judge_gasket, state
from evenpull.joint.rules.stated import unused
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.service.flange import stress_for_gasket, table_torque
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.torque import torque_from_nut_factor
from evenpull.joint.traced import Band

PCC = "ASME PCC-1-2013"
RULE_SET = RuleSet(
    "flange",
    "Flange assembly by root area",
    PCC,
    "of Table 1 the rows with status memory, all of Table 1M, the scaling to other prestresses and the order of the "
    "limits (Appendix O) were recalled and not re-read",
    "pressure-boundary flanges with ring gaskets inside the bolt circle, low-alloy steel bolting; the torque of the "
    "table only for clean, lubricated working surfaces",
)
_USED = (
    "flange", "bolt.thread", "friction.K", "counterpart.kind", "tightening.tool_scatter", "tightening.torque",
    "tightening.method",
)  # fmt: skip


def flange_row(size: ThreadSize, coated: bool) -> FlangeTorque | None:
    """The row of the table of target torques for this thread; None where the table has none for diameter and pitch."""
    for row in flange_torques(size.system, coated):
        d, P = _tabled(size.system, row.size)
        if abs(d - size.d) < 1e-6 and abs(P - size.P) < 1e-6:
            return row
    return None


def _tabled(system: str, size: str) -> tuple[float, float]:
    """Diameter and pitch (m) of a size of the table: up to 1 in coarse, above with 8 threads per inch."""
    if system == "metric":
        d, _, P = size.removeprefix("M").partition("x")
        return float(d) * 1e-3, float(P) * 1e-3 if P else thread(size).P
    found = thread(f"{size} UNC" if size in ("1/2", "5/8", "3/4", "7/8", "1") else f"{size}-8")
    return found.d, found.P


def apply(case: JointCase) -> RuleResult:
    """Bolt stress by the limits in order, load on the root area and torque. CaseError without `flange` in the case,
    without a target, and where neither the table nor a stated nut factor gives a torque.
    """
    refuse_senseless(case)
    stated = case.flange
    if stated is None:
        raise CaseError("flange is not stated: the rule set needs a bolt stress or a gasket stress to aim at")
    _refuse(stated)
    work = Work(case, stated, Chain(case.sources))
    _target(work)
    _limits(work)
    judge_gasket(work)
    torque = _torque(work)
    load = work.chain["F_b"]
    preload = _load_band(work, torque, load)
    return RuleResult(
        RULE_SET, work.chain.groups(), tuple(work.checks), preload, torque, None, unused(case, _USED), _notes(work)
    )


def _refuse(stated: FlangeInput) -> None:
    if stated.S_b_max is not None and stated.S_b_min is not None and stated.S_b_min > stated.S_b_max:
        raise CaseError(f"flange.S_b_min {stated.S_b_min} Pa is above flange.S_b_max {stated.S_b_max} Pa")


def _target(work: Work) -> None:
    chain, stated, size = work.chain, work.stated, work.case.bolt.thread
    chain.group("Target bolt stress")
    chain.add("d", "nominal diameter", size.d, "m", size.designation, "ASME B1.1, ISO 261", "memory")
    chain.add("P", "pitch", size.P, "m", size.designation, "ASME B1.1, ISO 261", "memory")
    if size.system == "inch":
        chain.add(
            "A_b",
            "root area",
            size.A_d3,
            "m2",
            "A_b = pi/4 (d - 1.3 P)^2",
            f"{PCC}, root area",
            inputs=chain.get("d", "P"),
        )
    else:
        chain.add(
            "A_b",
            "root area",
            size.A_d3,
            "m2",
            "A_b = pi/4 (d - 1.226869 P)^2",
            "ISO 724, minor diameter d3",
            inputs=chain.get("d", "P"),
        )
    from_gasket = stated.S_g_target is not None
    if from_gasket == (stated.target_stress is not None):
        raise CaseError(
            "exactly one of flange.target_stress (of the bolt) and flange.S_g_target (of the gasket) is needed"
        )
    if from_gasket:
        if stated.gasket_area is None or stated.bolts is None:
            raise CaseError("flange.S_g_target needs flange.gasket_area and flange.bolts")
        areas(work)
        state(work, "S_gT", "gasket stress aimed at", "Pa", "S_g_target")
        value = stress_for_gasket(chain["S_gT"], chain["A_g"], chain["A_b"], chain["n_b"])
        chain.add(
            "S_1",
            "bolt stress for it",
            value,
            "Pa",
            "S_1 = S_gT A_g / (n_b A_b)",
            APP_O,
            inputs=chain.get("S_gT", "A_g", "n_b", "A_b"),
        )
    else:
        state(work, "S_1", "bolt stress aimed at", "Pa", "target_stress")


_LIMITS = (
    # field, symbol, what, which end
    ("S_b_max", "S_b_max", "most for the bolt", "min"),
    ("S_b_min", "S_b_min", "least for the bolt", "max"),
    ("S_f_max", "S_f_max", "bolt stress at the limit of the flange", "min"),
)


def _limits(work: Work) -> None:
    """Steps of the document: upper bolt limit, lower bolt limit, flange limit; each may move the stress."""
    chain = work.chain
    chain.group("Limits of the components, in order")
    before = "S_1"
    for number, (of, symbol, words, end) in enumerate(_LIMITS, 2):
        if getattr(work.stated, of) is None:
            work.checks.append(
                Check(
                    symbol,
                    words,
                    chain[before],
                    "<=" if end == "min" else ">=",
                    None,
                    "Pa",
                    None,
                    f"flange.{of} is not stated",
                    APP_O,
                )
            )
            continue
        limit = state(work, symbol, words, "Pa", of)
        value = min(chain[before], limit) if end == "min" else max(chain[before], limit)
        now = f"S_{number}"
        chain.add(
            now,
            f"bolt stress after this limit: {words}",
            value,
            "Pa",
            f"{now} = {end}({before}, {symbol})",
            APP_O,
            inputs=chain.get(before, symbol),
        )
        before = now
    chain.add("S_b", "bolt stress at assembly", chain[before], "Pa", f"S_b = {before}", APP_O, inputs=chain.get(before))
    chain.add(
        "F_b",
        "load of one bolt",
        chain["S_b"] * chain["A_b"],
        "N",
        "F_b = S_b A_b",
        APP_O,
        inputs=chain.get("S_b", "A_b"),
    )
    tiny = 1e-9
    for of, symbol, words, end in _LIMITS:
        limit = getattr(work.stated, of)
        if limit is not None:
            upper = end == "min"
            holds = chain["S_b"] <= limit * (1 + tiny) if upper else chain["S_b"] >= limit * (1 - tiny)
            work.checks.append(
                Check(symbol, words, chain["S_b"], "<=" if upper else ">=", limit, "Pa", holds, "", APP_O)
            )


def _torque(work: Work) -> Band | None:
    """Torque from the stated nut factor, else from the table; None for a method without torque."""
    case, chain = work.case, work.chain
    if case.tightening.method not in ("torque", "torque and angle"):
        chain.group("Torque", f"none: the load is put in by {case.tightening.method}")
        return None
    size, K = case.bolt.thread, case.friction.K
    row = flange_row(size, work.stated.coated)
    chain.group("Torque")
    kind = "coated" if work.stated.coated else "non-coated"
    if row is not None:
        chain.add(
            "T_tab",
            f"target torque of the table, {kind} bolt",
            row.torque,
            "N.m",
            f"{row.size}, {kind}",
            row.source,
            row.status,
        )
        chain.add(
            "S_tab", "prestress of the table", row.prestress, "Pa", "heading of the table", row.source, row.status
        )
        chain.add(
            "T_S",
            "torque of the table at this bolt stress",
            table_torque(row.torque, row.prestress, chain["S_b"]),
            "N.m",
            "T_S = T_tab S_b / S_tab",
            f"{PCC}, note to Table 1",
            "memory",
            inputs=chain.get("T_tab", "S_b", "S_tab"),
        )
        chain.add(
            "K_tab",
            "nut factor that the table implies",
            row.torque / (size.d * chain["A_b"] * row.prestress),
            "1",
            "K_tab = T_tab / (d A_b S_tab)",
            "T = K D F",
            inputs=chain.get("T_tab", "d", "A_b", "S_tab"),
        )
    if K is not None:
        if not 0 < K.low <= K.high < 1:
            raise CaseError(f"friction.K lies between 0 and 1: {K.low}, {K.nominal}, {K.high}")
        chain.add("K", "nut factor", K.nominal, "1", "stated", chain.said("friction.K"))
        T = torque_from_nut_factor(chain["F_b"], K.nominal, size.d)
        chain.add("T", "target torque", T, "N.m", "T = K d F_b", f"{PCC}, T = K D F", inputs=chain.get("K", "d", "F_b"))
    elif row is not None:
        T = chain.add("T", "target torque", chain["T_S"], "N.m", "T = T_S", row.source, inputs=chain.get("T_S"))
    else:
        raise CaseError(
            f"friction.K is missing: the table has no target torque for {size.designation}, and without "
            "a nut factor none is computed"
        )
    s = case.tightening.tool_scatter
    if not 0 <= s < 1:
        raise CaseError(f"tightening.tool_scatter is a share from 0 to below 1, not {s}")
    if case.tightening.torque is not None:
        work.checks.append(
            Check(
                "T",
                "stated torque against the target torque",
                case.tightening.torque,
                "<=",
                T,
                "N.m",
                case.tightening.torque <= T * (1 + 1e-9),
                "",
                PCC,
            )
        )
    chain.add("s", "scatter of the tool, share of the torque", s, "1", "stated", chain.said("tightening.tool_scatter"))
    chain.add(
        "T_min",
        "lowest torque",
        T * (1 - s),
        "N.m",
        "T_min = T (1 - s)",
        "corner of the tool",
        inputs=chain.get("T", "s"),
    )
    chain.add(
        "T_max",
        "highest torque",
        T * (1 + s),
        "N.m",
        "T_max = T (1 + s)",
        "corner of the tool",
        inputs=chain.get("T", "s"),
    )
    return Band(chain["T_min"], T, chain["T_max"])


def _load_band(work: Work, torque: Band | None, load: float) -> Band:
    """Loads that the band of the nut factor and the tool leave; the load alone where neither is stated."""
    K, chain = work.case.friction.K, work.chain
    if torque is None or K is None:
        return Band(load, load, load)
    for symbol, words, T, factor in (("F_min", "lowest", "T_min", K.high), ("F_max", "highest", "T_max", K.low)):
        name = f"K_{symbol}"
        chain.add(name, f"nut factor of the {words} load", factor, "1", "stated", chain.said("friction.K"))
        chain.add(
            symbol,
            f"{words} load that nut factor and tool leave",
            chain[T] / (factor * chain["d"]),
            "N",
            f"{symbol} = {T} / ({name} d)",
            "corner case, all at their worst at once",
            inputs=chain.get(T, name, "d"),
        )
    most = chain["F_max"] / chain["A_b"]
    limit = work.stated.S_b_max
    if limit is not None:
        work.checks.append(
            Check(
                "S_b_high",
                "bolt stress at the lowest nut factor and the highest torque",
                most,
                "<=",
                limit,
                "Pa",
                most <= limit * (1 + 1e-9),
                "",
                "corner case, all at their worst at once",
            )
        )
    return Band(min(chain["F_min"], load), load, max(chain["F_max"], load))


def _notes(work: Work) -> tuple[str, ...]:
    notes = [
        "The bolt stress stands on the root area, not on the stress area.",
        "The order of the limits is the document's: upper and lower bolt limit, then the flange; seating, operation, "
        "most gasket stress and rotation are checked at the stress that is left.",
    ]
    if "T_tab" in work.chain:
        notes.append(
            "The torque of the table is for clean, lubricated working surfaces and hardened washers; its "
            "numbers were adjusted from experience, no one nut factor reproduces them."
        )
    if "S_g_left" in work.chain and work.chain["S_g_left"] <= 0:
        notes.append("With this bolt stress nothing is left on the gasket at the largest pressure.")
    return tuple(notes)
