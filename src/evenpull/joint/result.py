"""What a rule set says about a joint: its steps in groups, its checks, its preload and torque, and what it left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenpull.joint.traced import Band, Traced


@dataclass(frozen=True, slots=True)
class RuleSet:
    """`memory` says what of it was recalled and not re-read; `scope` where it holds."""

    key: str  # "vdi2230"
    title: str
    edition: str
    memory: str
    scope: str


@dataclass(frozen=True, slots=True)
class StepGroup:
    """A step of the document, e.g. "R4 preload changes"; `note` says why a step has nothing to compute."""

    title: str
    steps: tuple[Traced, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """One demand of the document: `value` against `limit` in the direction of `sense`. `holds` None: not judged, and
    `text` says why.
    """

    symbol: str
    name: str
    value: float | None
    sense: Literal[">=", "<="]
    limit: float | None
    unit: str
    holds: bool | None
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class RuleResult:
    """`preload` is the load at assembly: least required, target, most allowed or reached; `torque` and `angle` likewise
    the window that the rule set gives. None where the rule set gives none.
    """

    rule_set: RuleSet
    groups: tuple[StepGroup, ...]
    checks: tuple[Check, ...]
    preload: Band | None
    torque: Band | None
    angle: Band | None = None
    unused: tuple[str, ...] = ()  # inputs stated that this rule set does not use
    notes: tuple[str, ...] = ()

    @property
    def steps(self) -> tuple[Traced, ...]:
        return tuple(step for group in self.groups for step in group.steps)

    def by_symbol(self, symbol: str) -> Traced:
        for step in self.steps:
            if step.symbol == symbol:
                return step
        raise KeyError(symbol)

    @property
    def failed(self) -> tuple[Check, ...]:
        return tuple(check for check in self.checks if check.holds is False)

    @property
    def not_judged(self) -> tuple[Check, ...]:
        return tuple(check for check in self.checks if check.holds is None)
