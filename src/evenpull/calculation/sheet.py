"""The calculation sheet: every step of every rule set with its formula, its numbers put in, unit, source and status.

What is assembled here is plain text and numbers; pages and PDF only set it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenpull.calculation.expression import put_in
from evenpull.calculation.figures import coherent, figure, printed
from evenpull.calculation.model import NOT_STATED, WITH_DRAG, Calculation
from evenpull.calculation.scatter import Scatter, scatter_of
from evenpull.joint.case import CaseError
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules import RULES, apply
from evenpull.joint.traced import Band, Traced
from evenpull.quantities import show

Verdict = Literal["accepted", "not accepted", "not judged"]
_STATUS = {
    "read": "", "computed": "", "stated": "", "memory": "from memory, not re-read",
    "common practice": "common practice, no source",
}

_SPOKEN = {"N": (1e-3, "kN"), "N.m": (1.0, "N·m")}  # nobody checks a demand with a calculator: it is read


@dataclass(frozen=True, slots=True)
class Line:
    """One step. `numbers` is the right-hand side with the printed numbers, "" for what is stated or from a table;
    `system` is "SI" where the numbers of the line are not N-mm-MPa; `checked` as in `figures.Printed`.
    """

    symbol: str
    name: str
    formula: str
    numbers: str
    value: str
    unit: str
    aside: str
    source: str
    status: str
    system: str
    checked: bool | None


@dataclass(frozen=True, slots=True)
class Section:
    title: str
    note: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class CheckLine:
    symbol: str
    name: str
    value: str
    sense: str
    limit: str
    unit: str
    verdict: Verdict
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class RulePart:
    """What one rule set says. `problem`: why it cannot be applied to this case, then everything else is empty."""

    rule_set: RuleSet
    result: RuleResult | None
    sections: tuple[Section, ...]
    checks: tuple[CheckLine, ...]
    facts: tuple[tuple[str, str], ...]  # preload, torque, angle in words
    problem: str

    @property
    def verdict(self) -> Verdict:
        """Of all its demands: one that fails decides; without any, or with one open, it is not judged."""
        said = {check.verdict for check in self.checks}
        if "not accepted" in said:
            return "not accepted"
        return "accepted" if said == {"accepted"} else "not judged"

    @property
    def checked(self) -> tuple[int, int]:
        """(lines computed again and found right, lines with a formula)."""
        lines = [line for section in self.sections for line in section.lines if line.checked is not None]
        return sum(bool(line.checked) for line in lines), len(lines)


@dataclass(frozen=True, slots=True)
class Sheet:
    calculation: Calculation
    parts: tuple[RulePart, ...]
    scatter: Scatter


def make_sheet(calculation: Calculation) -> Sheet:
    """The sheet of a calculation: each of its rule sets applied by itself, and the scatter of the load."""
    parts = tuple(_part(key, calculation) for key in calculation.rules)
    return Sheet(calculation, parts, scatter_of(calculation.case))


def _part(key: str, calculation: Calculation) -> RulePart:
    rule_set = RULES[key][0]
    try:
        result = apply(key, calculation.case)
    except CaseError as error:
        return RulePart(rule_set, None, (), (), (), str(error))
    units = {step.symbol: step.unit for step in result.steps}
    sections = tuple(
        Section(group.title, group.note, tuple(line(step, units) for step in group.steps)) for group in result.groups
    )
    facts = tuple(_facts(result, calculation.case.tightening.prevailing))
    return RulePart(rule_set, result, sections, tuple(map(_check, result.checks)), facts, "")


def line(step: Traced, units: dict[str, str]) -> Line:
    """One step as it is printed."""
    shown = printed(step, units)
    numbers = put_in(step.formula, shown.inputs) if shown.checked is not None else ""
    formula = "taken" if step.formula == "stated" and step.source.startswith(NOT_STATED) else step.formula
    return Line(
        step.symbol, step.name, formula, numbers, shown.value, shown.unit, shown.aside, step.source,
        _STATUS.get(step.status, step.status), shown.system, shown.checked,
    )


def _check(check: Check) -> CheckLine:
    factor, unit = _SPOKEN.get(check.unit) or coherent(check.unit)

    def number(value: float | None) -> str:
        return "–" if value is None else figure(value * factor, 4)

    verdict: Verdict = "not judged" if check.holds is None else "accepted" if check.holds else "not accepted"
    sense = {">=": "≥", "<=": "≤"}[check.sense]
    return CheckLine(check.symbol, check.name, number(check.value), sense, number(check.limit), unit, verdict,
                     check.text, check.source)


def _facts(result: RuleResult, prevailing: Band) -> list[tuple[str, str]]:
    rows = []
    for name, band, unit in (("Preload at assembly", result.preload, "kN"), ("Torque", result.torque, "N.m"),
                             ("Angle", result.angle, "deg")):
        if band is not None:
            rows.append((name, band_words(band, unit) + (drag_words(result, prevailing) if name == "Torque" else "")))
    return rows


def drag_words(result: RuleResult, prevailing: Band) -> str:
    """Whether the torque of a rule set holds the drag of a self-locking nut, and what the drag of the case adds."""
    if result.rule_set.key in WITH_DRAG:
        return "; with drag, as the wrench reads"
    if prevailing.high == 0:
        return "; without drag (none is stated)"
    drag = (show(prevailing.nominal, "N.m") if prevailing.low == prevailing.high
            else f"{show(prevailing.low, 'N.m')} to {show(prevailing.high, 'N.m')}")
    return f"; without drag, which adds {drag} at the wrench"


def band_words(band: Band, unit: str) -> str:
    """"95 kN to 180 kN, aimed at 140 kN"; one value where all three are the same."""
    if band.low == band.high:
        return show(band.nominal, unit)
    return f"{show(band.low, unit)} to {show(band.high, unit)}, aimed at {show(band.nominal, unit)}"
