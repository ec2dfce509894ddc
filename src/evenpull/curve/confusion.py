"""How often each simulated fault is found, and how often a good curve is called faulty.

    python -m evenpull.curve.confusion SEED CURVES     prints the table of docs/curves.md
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np
from scipy import stats

from evenpull.curve.judge import judge
from evenpull.curve.simulate import FAULTS, simulate
from evenpull.curve.verdicts import VERDICTS

# What a simulated fault has to be called.
CALLED = {
    "re-hit": "re-hit", "drag": "seized or drag high", "slip": "slip or stripping",
    "cross-thread": "cross-thread or early seating", "bottomed": "bottomed", "missing part": "missing part",
    "extra part": "extra part", "soft gasket": "soft or lost gasket", "lost gasket": "soft or lost gasket",
    "yield": "yield suspected", "step order": "step order", "stopped": "stopped by the user", "sensor": "sensor fault",
}  # fmt: skip
PER_JOINT = 4
FIXED_ON = 20  # seeds up to this one set the thresholds; what is reported comes from higher ones


@dataclass(frozen=True, slots=True)
class Row:
    """One fault: curves, those that got its verdict, those that got any, and what is named first. For "none", `found`
    counts the false alarms."""

    fault: str
    n: int
    found: int
    any: int
    first: dict[str, int]

    def limits(self) -> tuple[float, float]:
        """95 % limits of the share found (Clopper and Pearson; from memory)."""
        low = float(stats.beta.ppf(0.025, self.found, self.n - self.found + 1)) if self.found else 0.0
        high = float(stats.beta.ppf(0.975, self.found + 1, self.n - self.found)) if self.found < self.n else 1.0
        return low, high


def confusion(seed: int, curves: int, *, good: int | None = None) -> list[Row]:
    """`curves` of each fault and `good` (ten times as many where not stated) without one, on random joints."""
    rows = []
    for place, fault in enumerate(FAULTS):
        n = (10 * curves if good is None else good) if fault == "none" else curves
        made = simulate(seed * 1000 + place, [fault] * n, per_joint=PER_JOINT)
        verdicts = judge(made.curves, made.expectation).mechanics
        some = verdicts.found.any(axis=1)
        own = some if fault == "none" else verdicts.of(CALLED[fault])
        rows.append(Row(fault, n, int(np.sum(own)), int(np.sum(some)), dict(Counter(verdicts.first()))))
    return rows


def as_page(rows: list[Row]) -> str:
    """The table in Markdown: what was built in, share found with its limits, what was named first."""
    names = ["none", *VERDICTS]
    lines = ["| built in | curves | found, % (95 % limits) | named first |", "| --- | --- | --- | --- |"]
    for row in rows:
        low, high = row.limits()
        named = ", ".join(f"{name} {row.first[name]}" for name in names if row.first.get(name))
        what = "none (false alarms)" if row.fault == "none" else row.fault
        lines.append(f"| {what} | {row.n} | {100 * row.found / row.n:.1f} ({math.floor(1000 * low) / 10:.1f} to "
                     f"{math.ceil(1000 * high) / 10:.1f}) | {named} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(as_page(confusion(int(sys.argv[1]), int(sys.argv[2]))))
