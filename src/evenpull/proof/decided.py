"""What people decided on each flag: by dispositions, and by exceptions from gates that cover it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from evenpull.proof.model import Proof


@dataclass(frozen=True)
class Decided:
    """One decision on a flag. `action`: the disposition, or from which gate it is excepted by which authority."""

    action: str
    by: str
    at: datetime
    reason: str


def decided(proof: Proof) -> dict[str, list[Decided]]:
    """Flag key -> the decisions on it, earliest first. A flag that nobody decided on is not in it."""
    flags = {flag.key for flag in proof.flags}
    given: dict[str, list[Decided]] = defaultdict(list)
    for d in proof.dispositions:
        given[d.flag_key].append(Decided(d.action, d.by, d.at, d.reason))
    for gate in proof.gates:
        for e in gate.excepted:
            if e.key in flags:
                limits = f", limits: {e.limits}" if e.limits else ""
                words = f"exception from the gate {e.gate}, authority: {e.authority}{limits}"
                given[e.key].append(Decided(words, e.by, e.at, e.reason))
    return {key: sorted(found, key=lambda d: d.at) for key, found in given.items()}
