"""The review of a tool found out: which tightenings rest on it, what they really got, and what follows.

Found + Holdings --suspects--> Suspect...;  Suspect... + Touched --examine--> Outcome --lots--> samples proposed
"""

from evenpull.review.codes import CLASSES, JointState, Other, Reason
from evenpull.review.found import FOUND_KINDS, MEANING, Found, FoundKind, FoundPoint
from evenpull.review.outcome import MODELS, NOT_ASKED, Outcome, examine
from evenpull.review.sampling import Lot, SamplePlan, lots
from evenpull.review.suspects import ReviewError, Suspect, suspects
from evenpull.review.touched import JointBasis, Touched

__all__ = [
    "CLASSES", "FOUND_KINDS", "MEANING", "MODELS", "NOT_ASKED", "Found", "FoundKind", "FoundPoint", "JointBasis",
    "JointState", "Lot", "Other", "Outcome", "Reason", "ReviewError", "SamplePlan", "Suspect", "Touched", "examine",
    "lots", "suspects",
]
