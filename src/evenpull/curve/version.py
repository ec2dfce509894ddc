"""The version of the rules that judge curves. Nothing heavy is loaded here: whoever only asks for it waits for nothing.

The name holds a number that is raised by hand with every change of the code that may change an answer (features, rules,
expectation), and the beginning of the digest of `thresholds.toml`, so that no threshold changes without another name.
"""

from __future__ import annotations

import hashlib
from importlib.resources import files

CODE = 4
# 2: a tightening that starts from a tight fastener is not judged as one that starts loose
# 3: yield by bend and end slope together; a torque that still falls after shut-off is no zero that is off
# 4: sums and medians in vector registers: features as before but for the last digits (one part in 10^10; uncertainty of
#    the yield ratio one in 10^4 where a curve has hardly any noise)
THRESHOLDS_TEXT = files("evenpull.curve").joinpath("thresholds.toml").read_text("utf-8")


def version_of(code: int, thresholds: str) -> str:
    """Name of the rules: "curve-2-1f0c33ab9d21"."""
    return f"curve-{code}-{hashlib.sha256(thresholds.encode()).hexdigest()[:12]}"


RULES_VERSION = version_of(CODE, THRESHOLDS_TEXT)
