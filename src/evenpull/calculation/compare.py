"""Two rule sets on one joint beside each other: same quantities matched, and where and why they differ.

A difference has one of three reasons that can be seen in the steps themselves: other numbers went in, another formula
or coefficient was used, or one of the two has no such quantity. The demands (checks) are set beside each other as they
are: documents demand different things, so they are not matched by force.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from evenpull.calculation.expression import computable, symbols
from evenpull.calculation.figures import coherent, figure
from evenpull.calculation.sheet import CheckLine, RulePart
from evenpull.joint.result import RuleResult
from evenpull.joint.traced import Band, Traced

Kind = Literal["same", "close", "differs", "only first", "only second"]
CLOSE = 0.005  # relative: rounding of tables and of coefficients in print
# One quantity under the symbols that documents give it; "1/x" is the reciprocal of x. A row is matched once, by the
# first symbol found on each side.
QUANTITIES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("nominal diameter", ("d", "D")), ("pitch", ("P",)), ("pitch diameter", ("d_2", "d2")),
    ("stress area", ("A_s", "A_S", "A_t", "A_0")), ("root area", ("A_b", "A_r", "A_d3")),
    ("tensile strength", ("R_m", "S_ut", "f_ub", "F_u", "S_u")),
    ("yield strength", ("R_p02", "R_p02min", "S_y", "f_yb")),
    ("proof stress", ("S_p",)), ("proof load", ("F_p", "F_0p")),
    ("stiffness of the bolt", ("k_b", "1/delta_S")),
    ("stiffness of the parts", ("k_m", "1/delta_P")),
    ("share of the working load in the bolt", ("Phi", "Phi_n", "Phi_e", "C")),
    ("least preload required", ("F_Mmin", "F_M_min", "F_C", "F_pC", "T_b", "P_pi_min")),
    ("largest preload at assembly", ("F_Mmax", "F_M_max", "P_pi_max")),
    ("preload at assembly", ("F_M", "F_i", "F_b", "P_pi_nom", "F_pC_star")),
    ("preload permitted", ("F_Mzul", "F_M_zul", "F_i_max")),
    ("preload loss by embedding", ("F_Z",)), ("bolt load in service", ("F_Smax", "F_S_max", "F_b_max")),
    ("residual clamp load", ("F_KRmin", "F_KR_min", "F_KR")),
    ("alternating stress", ("sigma_a",)),
    ("endurance strength", ("sigma_A", "sigma_AZ", "sigma_AS", "sigma_ASV", "sigma_ASG", "S_e")),
    ("coefficient of friction, thread", ("mu_G", "mu_Gmin", "mu_G_min")), ("nut factor", ("K", "K_tab", "k_m")),
    ("tightening torque", ("M_A", "T", "M_r", "T_nom")),
)
_PLAIN = re.compile(r"[\s()]")


@dataclass(frozen=True, slots=True)
class Side:
    """One quantity in one rule set."""

    symbol: str
    value: float
    shown: str
    formula: str
    source: str


@dataclass(frozen=True, slots=True)
class Pair:
    """`ratio` is second over first. `reason` says in a sentence where a difference comes from."""

    quantity: str
    unit: str
    first: Side | None
    second: Side | None
    kind: Kind
    ratio: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """`outcome`: preload and torque of the two; `demands`: the checks of each, as they are."""

    first: RulePart
    second: RulePart
    outcome: tuple[Pair, ...]
    pairs: tuple[Pair, ...]
    demands: tuple[tuple[CheckLine, ...], tuple[CheckLine, ...]]
    only: tuple[tuple[str, ...], tuple[str, ...]]  # inputs of the case that only the one, only the other uses

    @property
    def both(self) -> tuple[Pair, ...]:
        """Quantities that stand in both."""
        return tuple(pair for pair in self.pairs if pair.first is not None and pair.second is not None)

    def lone(self, kind: Kind) -> tuple[Pair, ...]:
        """Quantities that stand only in the first, or only in the second."""
        return tuple(pair for pair in self.pairs if pair.kind == kind)


def compare(first: RulePart, second: RulePart) -> Comparison:
    """The comparison of two parts of one sheet. ValueError when one of them could not be applied."""
    a, b = first.result, second.result
    if a is None or b is None:
        broken = first if a is None else second
        raise ValueError(f"{broken.rule_set.title} cannot be applied to this joint: {broken.problem}")
    left, right = _by_symbol(a), _by_symbol(b)
    found: list[Pair] = []
    taken: set[str] = set()
    for quantity, names in QUANTITIES:
        one, two = _find(names, left), _find(names, right)
        if one is not None and two is not None and one.unit != two.unit:
            continue  # the same letter for two things
        if one is None and two is None:
            continue
        taken.update(name.removeprefix("1/") for name in names)
        found.append(_pair(quantity, one, two, left, right))
    for symbol in left:
        if symbol in right and symbol not in taken and left[symbol].unit == right[symbol].unit:
            found.append(_pair(left[symbol].name, left[symbol], right[symbol], left, right))
    return Comparison(
        first, second, tuple(_outcome(a, b)), tuple(found), (first.checks, second.checks),
        (tuple(sorted(set(b.unused) - set(a.unused))), tuple(sorted(set(a.unused) - set(b.unused)))),
    )


def _by_symbol(result: RuleResult) -> dict[str, Traced]:
    return {step.symbol: step for step in result.steps}


def _find(names: tuple[str, ...], steps: Mapping[str, Traced]) -> Traced | None:
    for name in names:
        base = name.removeprefix("1/")
        if base not in steps:
            continue
        if base == name:
            return steps[name]
        step = steps[base]  # a resilience, in m/N: zero is refused by the rule sets
        return Traced(name, f"stiffness, from {step.name}", 1 / step.value, "N/m", f"k = 1 / {base}", step.source,
                      step.status, {base: step.value})
    return None


def _side(step: Traced) -> Side:
    factor, _ = coherent(step.unit)
    return Side(step.symbol, step.value, figure(step.value * factor), step.formula, step.source)


def _pair(
    quantity: str, one: Traced | None, two: Traced | None, left: Mapping[str, Traced], right: Mapping[str, Traced]
) -> Pair:
    present = one or two
    assert present is not None
    unit = coherent(present.unit)[1]
    if one is None or two is None:
        kind: Kind = "only second" if one is None else "only first"
        return Pair(quantity, unit, _side(one) if one else None, _side(two) if two else None, kind, None, "")
    ratio = two.value / one.value if one.value else None
    if one.value == two.value or (ratio is not None and abs(ratio - 1) < 1e-9):
        return Pair(quantity, unit, _side(one), _side(two), "same", ratio, "")
    kind = "close" if ratio is not None and abs(ratio - 1) <= CLOSE else "differs"
    return Pair(quantity, unit, _side(one), _side(two), kind, ratio, _reason(one, two, left, right))


def _reason(one: Traced, two: Traced, left: Mapping[str, Traced], right: Mapping[str, Traced]) -> str:
    """Why two values of one quantity differ, as far as the two steps show it."""
    if not computable(one.formula) and not computable(two.formula):
        return f"each takes its own value: {_of(one)} here, {_of(two)} there"
    if not computable(one.formula) or not computable(two.formula):
        fixed, made, here = (one, two, "first") if not computable(one.formula) else (two, one, "second")
        return f"the {here} takes it as given ({_of(fixed)}), the other computes it: {made.formula}"
    if _shape(one.formula) == _shape(two.formula):
        both = [name for name in one.inputs if name in two.inputs]
        differing = [name for name in both if not _same(one.inputs[name], two.inputs[name])]
        return f"same formula, other numbers for {', '.join(differing)}" if differing else "same formula, rounding"
    shared = [name for name in symbols(one.formula) if name in two.inputs and name in one.inputs]
    apart = [name for name in shared if not _same(one.inputs[name], two.inputs[name])]
    text = f"another formula: {one.formula} against {two.formula}"
    return text + (f"; also other numbers for {', '.join(apart)}" if apart else "")


def _of(step: Traced) -> str:
    return step.formula if step.formula and step.formula != "stated" else step.source


def _same(a: float, b: float) -> bool:
    return a == b or (a != 0 and abs(b / a - 1) < 1e-9)


def _shape(formula: str) -> str:
    return _PLAIN.sub("", formula.partition("=")[2])


def _outcome(a: RuleResult, b: RuleResult) -> list[Pair]:
    rows = []
    for name, one, two, unit, factor in (
        ("preload at assembly", a.preload, b.preload, "kN", 1e-3), ("torque", a.torque, b.torque, "N·m", 1.0),
        ("angle", a.angle, b.angle, "°", 57.29577951308232),
    ):
        if one is None and two is None:
            continue
        for place in ("low", "nominal", "high"):
            words = {"low": "least", "nominal": "aimed at", "high": "most"}[place]
            row = _of_bands(f"{name}, {words}", one, two, place, unit, factor)
            if name == "torque" and place == "nominal" and row.kind == "differs":
                row = replace(row, reason=_torque_reason(a, b))
            rows.append(row)
    return rows


def _torque_reason(a: RuleResult, b: RuleResult) -> str:
    """How much of the ratio of two torques is the load aimed at, and how much the torque that one load is given."""
    if None in (a.torque, b.torque, a.preload, b.preload):
        return "one of the two gives no load to its torque"
    assert a.torque and b.torque and a.preload and b.preload
    load = b.preload.nominal / a.preload.nominal
    lever = b.torque.nominal / a.torque.nominal / load
    return f"{load:.3f} by the load aimed at, {lever:.3f} by the torque per load (friction or nut factor)"


def _of_bands(name: str, one: Band | None, two: Band | None, place: str, unit: str, factor: float) -> Pair:
    sides = []
    for band in (one, two):
        value = None if band is None else float(getattr(band, place))
        sides.append(None if value is None else Side("", value, figure(value * factor, 4), "", ""))
    first, second = sides
    if first is None or second is None:
        return Pair(name, unit, first, second, "only second" if first is None else "only first", None, "")
    ratio = second.value / first.value if first.value else None
    kind: Kind = "same" if first.value == second.value else (
        "close" if ratio is not None and abs(ratio - 1) <= CLOSE else "differs")
    return Pair(name, unit, first, second, kind, ratio, "")
