"""Plan against records: what is proven, what a person has to look at, and whether the joint is released.

Plan + Tightening... + Disposition... --prove--> Proof --decide--> Decision
"""

from evenpull.proof.actions import ACTION_MEANING, ACTIONS
from evenpull.proof.compare import MEANING, Comparison, ComparisonRow, FinalStep, Level, compare_source
from evenpull.proof.decide import decide
from evenpull.proof.dispositions import DispositionError, check_disposition, check_together
from evenpull.proof.follow_up import may_be_asked, standing_of_follow_ups
from evenpull.proof.model import RULES_VERSION, Cell, Decision, Disposition, Flag, PassSummary, Proof
from evenpull.proof.plain_json import to_json
from evenpull.proof.proving import prove
from evenpull.proof.rules import RULES, FlagRule, refusal, table_rows
from evenpull.proof.surroundings import NOTHING_ELSE, Surroundings

__all__ = [
    "ACTIONS",
    "ACTION_MEANING",
    "MEANING",
    "NOTHING_ELSE",
    "RULES",
    "RULES_VERSION",
    "Cell",
    "Comparison",
    "ComparisonRow",
    "Decision",
    "Disposition",
    "DispositionError",
    "FinalStep",
    "Flag",
    "FlagRule",
    "Level",
    "PassSummary",
    "Proof",
    "Surroundings",
    "check_disposition",
    "check_together",
    "compare_source",
    "decide",
    "may_be_asked",
    "prove",
    "refusal",
    "standing_of_follow_ups",
    "table_rows",
    "to_json",
]
