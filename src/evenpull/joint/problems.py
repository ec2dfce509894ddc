"""What must be said about a target before anyone works: too much, too little, or no answer at all."""

from __future__ import annotations

from evenpull.joint.target import FastenerCase, TargetProblem
from evenpull.joint.traced import Band
from evenpull.quantities import show


def _kN(value: float) -> str:
    return show(value, "kN", 4)


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"


def problems_of(
    case: FastenerCase, load: Band, nu: Band, proof: float | None, least: float | None, within: float, largest: float
) -> tuple[TargetProblem, ...]:
    """Problems of a target, worst first.

    Torques (N.m) of the worst corners: `least` keeps the required preload, `within` the utilisation limit, `largest`
    the yield strength.
    """
    found: list[TargetProblem] = []
    found += _overload(case, nu, within, largest)
    found += _too_little(case, load, least)
    found += _proof(load, proof)
    if least is not None and least > largest:
        found.append(TargetProblem(
            "no torque satisfies", "warning",
            f"With this friction and tool no torque does both: {show(least, 'N.m')} is the least that surely keeps "
            f"the required preload, {show(largest, 'N.m')} the most that surely stays below yield. Narrow the friction "
            "band by a test, use a tool with less scatter, or measure the load or elongation instead of the torque.",
        ))
    if proof is None:
        found.append(TargetProblem(
            "no proof stress", "note",
            f"{case.strength.source} gives no proof stress for {case.strength.designation}; the proof load is not "
            "judged, only the yield strength is.",
        ))
    order = {"stop": 0, "warning": 1, "note": 2}
    return tuple(sorted(found, key=lambda problem: order[problem.severity]))


def _overload(case: FastenerCase, nu: Band, within: float, largest: float) -> list[TargetProblem]:
    """Above the limit at nominal friction: stop. At the highest load: a warning, sharper above yield.

    VDI 2230-1 asks F_Mmax <= F_Mzul, that is, the limit holds at the lowest friction too (from memory, not re-read).
    """
    limit = case.utilisation_limit
    if nu.nominal > limit * (1 + 1e-9):
        return [TargetProblem(
            "overload", "stop",
            f"The target overloads the fastener: at nominal friction tension and torsion use {_percent(nu.nominal)} of "
            f"the yield strength, the limit is {_percent(limit)}. Do not tighten to it; have the specification checked "
            f"(unit, size, class, lubricant).",
        )]
    if nu.high > 1 + 1e-9:
        return [TargetProblem(
            "overload possible", "warning",
            f"At the lowest friction and the highest torque the tool may give, the fastener would be at "
            f"{_percent(nu.high)} of its yield strength. A target up to {show(largest, 'N.m')} would surely stay "
            "below.",
        )]
    if nu.high > limit * (1 + 1e-9):
        return [TargetProblem(
            "overload possible", "warning",
            f"At the lowest friction and the highest torque the tool may give, tension and torsion would use "
            f"{_percent(nu.high)} of the yield strength, the limit is {_percent(limit)} (VDI 2230-1: F_Mmax <= F_Mzul, "
            f"from memory, not re-read). A target up to {show(within, 'N.m')} would surely stay within it.",
        )]
    return []


def _too_little(case: FastenerCase, load: Band, least: float | None) -> list[TargetProblem]:
    need = case.required_preload
    if need is None:
        return []
    advice = "" if least is None else f" A target from {show(least, 'N.m')} up would surely keep it."
    if load.nominal < need * (1 - 1e-9):
        return [TargetProblem(
            "too little load", "stop",
            f"The target leaves too little load: {_kN(load.nominal)} at nominal friction, {_kN(need)} is required."
            f"{advice}",
        )]
    if load.low < need * (1 - 1e-9):
        return [TargetProblem(
            "too little load possible", "warning",
            f"At the highest friction and the lowest torque the tool may give, only {_kN(load.low)} is left of the "
            f"required {_kN(need)}.{advice}",
        )]
    return []


def _proof(load: Band, proof: float | None) -> list[TargetProblem]:
    if proof is None or load.high <= proof * (1 + 1e-9):
        return []
    if load.nominal > proof * (1 + 1e-9):
        return [TargetProblem(
            "above proof load", "stop",
            f"The nominal preload {_kN(load.nominal)} is above the proof load {_kN(proof)}.",
        )]
    return [TargetProblem(
        "above proof load", "warning",
        f"At the lowest friction and the highest torque the preload would be {_kN(load.high)}, above the proof load "
        f"{_kN(proof)}.",
    )]
