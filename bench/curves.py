"""Judging curves from Parquet against only reading that Parquet; linear cost and bounded memory at more of them.

    BENCH_CURVES=200000 (default) python -m bench.curves     2000000 for the large one (several GB of disk)

The bound is pyarrow reading the same four columns of the same files, row group by row group with its own threads (one a
processor), doing nothing with them: once with the checksums of the pages verified, as the judge reads, once without.
Judging has as many threads as processors, each of which reads and judges a group. All three take turns, three times
each (once above 500,000 curves), and the median of each is told.
"""

from __future__ import annotations

import os
import resource
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from statistics import median

import numpy as np
import pyarrow.parquet as pq

from evenpull.curve.columns import Curves, curves_of
from evenpull.curve.parquet import curve_files, write_curves
from evenpull.curve.simulate import FAULTS, simulate
from evenpull.curve.simulated_joints import SimulatedJoint, random_joint
from evenpull.curve.spread import JudgedPart, Part, judge_part, judged

JOINT = "KN-BENCH-1"
POINTS = 700
PER_FILE = 20_000
COLUMNS = ["time_s", "angle_deg", "torque_Nm", "step"]


def column(seed: int, n: int) -> Curves:
    """n curves of one joint, 700 points each: a few hundred simulated ones, read off between their points as a tool
    that samples otherwise would record them, repeated with fresh noise so that no file packs better than a real one."""
    dice, joint = np.random.default_rng(seed), bench_joint()
    made = simulate(seed, [("none", *FAULTS[1:])[i % len(FAULTS)] if i % 10 == 0 else "none" for i in range(280)],
                    joint=joint)
    own = made.curves
    first, last = own.offsets[:-1, None], own.offsets[1:, None] - 1
    at = (first + (last - first) * np.linspace(0, 1, POINTS)).ravel()
    points = np.arange(len(own.time))
    time, angle, torque = (np.interp(at, points, values).astype(np.float32)
                           for values in (own.time, own.angle, own.torque))
    many = np.tile(np.arange(len(at)), -(-n // len(own)))[:n * POINTS]
    noise = dice.normal(0, 0.002 * joint.target, len(many)).astype(np.float32)
    return curves_of(time[many], angle[many], torque[many] + noise, own.step[at.astype(int)][many],
                     np.arange(n + 1) * POINTS)


def bench_joint() -> SimulatedJoint:
    """One joint with a gasket, so that every fault can be simulated on it."""
    dice = np.random.default_rng(1)
    joint = random_joint(dice)
    while joint.case.gasket is None:
        joint = random_joint(dice)
    return joint


def accepted_in(folder: Path) -> int:
    """Judges all curves; how many were accepted."""
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        parts = judged(pool, curve_files(folder), {JOINT: bench_joint().expectation})
        return sum(accepted(part) for part in parts)


def accepted(part: JudgedPart) -> int:
    assert part.judged is not None, part.error
    return int((part.judged.mechanics.answer == 0).sum())


def only_read(folder: Path, *, checked: bool) -> int:
    total = 0
    for _, path in curve_files(folder):
        with pq.ParquetFile(path, memory_map=True, page_checksum_verification=checked) as file:
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
            write_curves(folder, JOINT, [str(first + i) for i in range(count)], curves)
        size = sum(path.stat().st_size for _, path in curve_files(folder))
        accepted(judge_part(Part(JOINT, curve_files(folder)[0][1], 0), bench_joint().expectation))  # now it is compiled
        ways: dict[str, Callable[[], int]] = {
            "read, checksums verified": lambda: only_read(folder, checked=True),
            "read, not verified": lambda: only_read(folder, checked=False),
            "read and judged": lambda: accepted_in(folder),
        }
        only_read(folder, checked=True)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        taken: dict[str, list[tuple[float, float]]] = {name: [] for name in ways}
        for _ in range(3 if n <= 500_000 else 1):
            for name, way in ways.items():
                start, used = time.perf_counter(), time.process_time()
                found = way()
                taken[name].append((time.perf_counter() - start, time.process_time() - used))
                assert found == n or name == "read and judged"
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(f"{n:,} curves of {POINTS} points, {size / 1e9:.2f} GB of Parquet; {found:,} accepted; most memory "
              f"{peak:.2f} GB, {before:.2f} GB before judging")
        wall, processor = ({name: median(one[at] for one in times) for name, times in taken.items()} for at in (0, 1))
        for name in ways:
            print(f"  {name:<24} {wall[name]:6.2f} s, {wall[name] / n * 1e6:5.1f} us a curve; on the processors "
                  f"{processor[name]:6.2f} s; judged is {wall['read and judged'] / wall[name]:.2f} x by the clock, "
                  f"{processor['read and judged'] / processor[name]:.2f} x on the processors")


if __name__ == "__main__":
    run()
