"""Plan against records: what is proven, what a person has to look at, and whether the joint is released.

Plan + Tightening... + Disposition... --prove--> Proof --decide--> Decision
"""

from evenpull.proof.compare import MEANING, Comparison, ComparisonRow, FinalStep, Level, compare_source
from evenpull.proof.decide import decide
from evenpull.proof.dispositions import DispositionError, check_disposition
from evenpull.proof.model import RULES_VERSION, Cell, Decision, Disposition, Flag, PassSummary, Proof
from evenpull.proof.plain_json import to_json
from evenpull.proof.proving import prove
from evenpull.proof.rules import ACTION_MEANING, ACTIONS, RULES, FlagRule, refusal, table_rows

__all__ = [
    "ACTIONS", "ACTION_MEANING", "MEANING", "RULES", "RULES_VERSION", "Cell", "Comparison", "ComparisonRow", "Decision",
    "Disposition", "DispositionError", "FinalStep", "Flag", "FlagRule", "Level", "PassSummary", "Proof",
    "check_disposition", "compare_source", "decide", "prove", "refusal", "table_rows", "to_json",
]
