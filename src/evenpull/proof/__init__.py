"""Plan against records: what is proven, what a person has to look at, and whether the joint is released.

Plan + Tightening... + Disposition... --prove--> Proof --decide--> Decision
"""

from evenpull.proof.decide import decide
from evenpull.proof.dispositions import DispositionError, check_disposition
from evenpull.proof.plain_json import to_json
from evenpull.proof.proving import prove

__all__ = ["DispositionError", "check_disposition", "decide", "prove", "to_json"]
