"""One module for each published rule set, never mixed. `apply` runs one of them on a joint.

Each module has `RULE_SET` (edition, what was recalled from memory, scope) and `apply(case) -> RuleResult`; it raises
CaseError when the case lacks what the document needs.
"""

from __future__ import annotations

from collections.abc import Callable

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.result import RuleResult, RuleSet
from evenpull.joint.rules import aviation, flange, nasa5020, shigley, structural_eu, structural_us, vdi2230

_MODULES = (vdi2230, shigley, nasa5020, structural_us, structural_eu, flange, aviation)
RULES: dict[str, tuple[RuleSet, Callable[[JointCase], RuleResult]]] = {
    module.RULE_SET.key: (module.RULE_SET, module.apply) for module in _MODULES
}


def rule_sets() -> tuple[RuleSet, ...]:
    """All rule sets there are."""
    return tuple(rule_set for rule_set, _ in RULES.values())


def apply(key: str, case: JointCase) -> RuleResult:
    """The result of one rule set. CaseError for an unknown key, and for a case that lacks what it needs."""
    if key not in RULES:
        raise CaseError(f"rule set {key!r} is not known; known: {', '.join(RULES)}")
    return RULES[key][1](case)
