"""How often honest sheets are flagged, and made-up ones found: `python -m tests.proof.measure_doubts 10000 2026`."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from evenpull.intake.record import Tightening
from evenpull.proof import prove
from evenpull.proof.surroundings import Surroundings
from tests.proof.sheets import Case, constant, fond_of_0_and_5, hardly_varied, honest_case, plan_of, sheet, typed

PATTERNS = frozenset((
    "repeated values", "no variance", "digit preference", "impossible pace", "near-duplicate", "values copied",
    "records missing",
))  # fmt: skip
SHEET = Case(24, "indicating", 0.1, 0.01, "N.m", True, 0.0, 1, 1)  # of which the made-up ones are made


def honest(joints: int, seed: int) -> tuple[int, Counter[str], list[str]]:
    """Joints that were flagged, how often by which code, and what was said."""
    dice = np.random.default_rng(seed)
    flagged, codes, said = 0, Counter[str](), []
    for _ in range(joints):
        case = honest_case(dice)
        records = sheet(case, dice)
        streams: dict[str, list[int]] = {}
        for record in records:
            streams.setdefault(record.tool, []).append(record.counter or 0)
        # what each tool did in between was done on other joints of the dossier
        known = {(tool, ""): ((min(own), max(own)),) for tool, own in streams.items()}
        found = prove(plan_of(case), records, around=Surroundings(counters=known)).flags
        hits = [f for f in found if f.code in PATTERNS]
        flagged += bool(hits)
        codes.update({f.code for f in hits})
        said += [f"{case}: {f.text}" for f in hits]
    return flagged, codes, said


def found(
    faked: Callable[[list[Tightening], np.random.Generator], list[Tightening]], sheets: int, seed: int,
    case: Case = SHEET,
) -> Counter[str]:
    """In how many of the sheets each code was found; "any" for at least one of them."""
    dice = np.random.default_rng(seed)
    codes = Counter[str]()
    for _ in range(sheets):
        records = faked(sheet(case, dice), dice)
        hits = {f.code for f in prove(plan_of(case), records).flags} & PATTERNS
        codes.update(hits)
        codes["any"] += bool(hits)
    return codes


def main() -> None:
    joints, seed = int(sys.argv[1]), int(sys.argv[2])
    flagged, codes, said = honest(joints, seed)
    print(f"honest: {flagged} of {joints} joints flagged; {dict(codes)}")
    for text in said[:20]:
        print("  " + text)
    for step, count, sigma in ((0.1, 24, 0.01), (1.0, 24, 0.01), (1.0, 12, 0.01), (0.1, 12, 0.01), (0.1, 32, 0.005)):
        case = replace(SHEET, step=step, count=count, sigma=sigma, places=1 if step < 1 else 0)
        for faked in (constant, hardly_varied, fond_of_0_and_5, typed):
            print(f"{faked.__name__}, {case}: {dict(found(faked, 200, seed, case))}")


if __name__ == "__main__":
    main()
