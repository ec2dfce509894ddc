"""Judging curves from Parquet against only reading that Parquet; linear cost and bounded memory at more of them.

    BENCH_CURVES=200000 (default) python -m bench.curves     2000000 for the large one (several GB of disk)

The bound is pyarrow reading the same four columns of the same files, row group by row group, doing nothing with them.
"""

from __future__ import annotations

import os
import resource
import tempfile
import time
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from evenpull.curve.columns import Curves, curves_of
from evenpull.curve.expectation import Expectation
from evenpull.curve.judge import judge
from evenpull.curve.parquet import curve_files, read_parts, write_curves
from evenpull.curve.simulate import FAULTS, simulate
from evenpull.curve.simulated_joints import SimulatedJoint, random_joint

POINTS = 700
PER_FILE = 20_000
COLUMNS = ["time_s", "angle_deg", "torque_Nm", "step"]


def column(seed: int, n: int) -> Curves:
    """n curves of one joint, 700 points each: a few hundred simulated ones, repeated with fresh noise so that no file
    packs better than a real one."""
    dice, joint = np.random.default_rng(seed), bench_joint()
    made = simulate(seed, [("none", *FAULTS[1:])[i % len(FAULTS)] if i % 10 == 0 else "none" for i in range(280)],
                    joint=joint)
    own = made.curves
    rows = [np.linspace(own.offsets[c], own.offsets[c + 1] - 1, POINTS).astype(int) for c in range(len(own))]
    base = np.concatenate(rows)
    many = np.tile(base, -(-n // len(own)))[:n * POINTS]
    noise = dice.normal(0, 0.002 * joint.target, len(many)).astype(np.float32)
    curves = curves_of(own.time[many], own.angle[many], own.torque[many] + noise, own.step[many],
                       np.arange(n + 1) * POINTS)
    return curves


def bench_joint() -> SimulatedJoint:
    """One joint with a gasket, so that every fault can be simulated on it."""
    dice = np.random.default_rng(1)
    joint = random_joint(dice)
    while joint.case.gasket is None:
        joint = random_joint(dice)
    return joint


def judged(folder: Path) -> Iterator[int]:
    own = bench_joint().expectation
    for _, path in curve_files(folder):
        for runs, curves in read_parts(path):
            expectation = Expectation(**{field.name: np.repeat(getattr(own, field.name), len(runs))
                                         for field in fields(Expectation)})
            yield int((judge(curves, expectation).mechanics.answer == 0).sum())


def only_read(folder: Path) -> int:
    total = 0
    for _, path in curve_files(folder):
        with pq.ParquetFile(path, memory_map=True) as file:
            for group in range(file.num_row_groups):
                total += file.read_row_group(group, columns=COLUMNS).num_rows
    return total


def run(many: int | None = None) -> None:
    n = int(os.environ.get("BENCH_CURVES", "200000")) if many is None else many
    with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_FOLDER")) as name:
        folder = Path(name)
        for first in range(0, n, PER_FILE):
            count = min(PER_FILE, n - first)
            curves = column(first // PER_FILE % 3, count)
            write_curves(folder, "KN-BENCH-1", [str(first + i) for i in range(count)], curves)
        size = sum(path.stat().st_size for _, path in curve_files(folder))
        sum(judged(folder)) if n <= PER_FILE else next(judged(folder))  # compiled, or taken from the store
        only_read(folder)
        start = time.perf_counter()
        rows = only_read(folder)
        bound = time.perf_counter() - start
        start = time.perf_counter()
        accepted = sum(judged(folder))
        spent = time.perf_counter() - start
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        assert rows == n
        print(f"{n:,} curves of {POINTS} points, {size / 1e9:.2f} GB of Parquet: read {bound:.2f} s, read and judged "
              f"{spent:.2f} s ({spent / n * 1e6:.1f} us each), {spent / bound:.1f} x reading; {accepted:,} accepted; "
              f"most memory {peak:.2f} GB")


if __name__ == "__main__":
    run()
