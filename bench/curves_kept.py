"""Curves in a dossier on the embedded database: taking in, finding, judging, judging again, with the memory they need.

    BENCH_KEPT=100000 (default) BENCH_POINTS=100 python -m bench.curves_kept      1000000 for the large one

Times beside that of only reading the same Parquet, group by group. Nothing is asserted.
"""

from __future__ import annotations

import os
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from evenpull.curve.columns import Curves, curves_of
from evenpull.curve.keyed import KeyedWriter, Keys, read_keyed

AT_ONCE = 20_000
JOINT = "KN-GB-006"


def curves(seed: int, n: int, points: int) -> Curves:
    """n curves of the first pass of a joint of the scenario: simulated ones, repeated with fresh noise."""
    from tests.store.curve_files import simulated

    own = simulated(["none"] * 190 + ["re-hit", "slip", "drag", "yield"] * 2 + ["none"] * 2, seed=3, coarse=1)
    rows = [np.linspace(own.offsets[c], own.offsets[c + 1] - 1, points).astype(int) for c in range(len(own))]
    many = np.tile(np.concatenate(rows), -(-n // len(own)))[: n * points]
    noise = np.random.default_rng(seed).normal(0, 0.05, len(many)).astype(np.float32)
    return curves_of(own.time[many], own.angle[many], own.torque[many] + noise, own.step[many],
                     np.arange(n + 1) * points)


def timed(name: str, act: Callable[[], Any]) -> Any:
    start, used = time.perf_counter(), time.process_time()
    found = act()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    print(f"{name:<44} {time.perf_counter() - start:8.1f} s  {time.process_time() - used:8.1f} s of processor  "
          f"peak {peak:5.2f} GB", flush=True)
    return found


def pages() -> None:
    """The pages on these curves, each asked for twice; what they hold in memory after the first is the findings."""
    from django.test import Client

    client = Client(HTTP_HOST="127.0.0.1")
    for name in ("", "ring/", "over-time/", "?fastener=5", "?page=3"):
        for turn in ("first", "again"):
            answer = timed(f"page curves/{name} {turn}", lambda at=name: client.get(f"/joints/{JOINT}/curves/{at}"))
            assert answer.status_code == 200, answer.status_code
    print(f"{len(answer.content) / 1e3:,.0f} kB of page", flush=True)


def main() -> None:
    n, points = int(os.environ.get("BENCH_KEPT", "100000")), int(os.environ.get("BENCH_POINTS", "100"))
    with tempfile.TemporaryDirectory() as folder:
        os.environ["EVENPULL_HOME"], os.environ["DJANGO_SETTINGS_MODULE"] = f"{folder}/home", "evenpull.store.settings"
        import django

        django.setup()
        from evenpull.store import services
        from evenpull.store.services import curves_judging as judging
        from evenpull.store.services import curves_matching as matching
        from evenpull.store.services import curves_rejudging as rejudging
        from evenpull.store.services import curves_taking as taking
        from evenpull.store.services import index_check
        from tests.store.samples import AUTHOR, furnish

        services.prepare()
        furnish("kn-gb-006")
        with KeyedWriter(Path(folder), JOINT) as out:
            for first in range(0, n, AT_ONCE):
                m = min(AT_ONCE, n - first)
                counter = np.arange(first, first + m)
                keys = Keys(["SP-1"] * m, ["A"] * m, [""] * m, counter, counter % 8 + 1, np.ones(m, np.int64),
                            np.full(m, 1773738000.0))
                out.add([f"SP-1/A/{c}" for c in counter], curves(first, m, points), keys)
            path = out.finish().path
        print(f"{n:,} curves of {points} points, {path.stat().st_size / 1e6:,.0f} MB of Parquet", flush=True)
        timed("only reading", lambda: sum(len(part[2]) for part in read_keyed(path)))
        row = timed("taken in (read, written, indexed)", lambda: taking.take("many.parquet", path, JOINT, AUTHOR)).row
        found = timed("judged, findings written", lambda: judging.judged(row))
        print(judging.counts(found), f"{found.stat().st_size / 1e6:,.0f} MB of findings", flush=True)
        timed("summary of the joint", lambda: matching.summary(JOINT))
        timed("one curve by its number", lambda: judging.kept.one_curve(row, n // 2))
        pages()
        timed("first report (nothing changed)", lambda: rejudging.rejudge(AUTHOR))
        judging.RULES_VERSION = rejudging.RULES_VERSION = "curve-bench"
        judging.THRESHOLDS_TEXT = judging.THRESHOLDS_TEXT.replace("fallen = 0.85", "fallen = 1.01")
        report = timed("judged again by another threshold", lambda: rejudging.rejudge(AUTHOR))
        print(f"{report.changed:,} changed; {report.causes[:2]}", flush=True)
        timed("index compared with the facts", lambda: print(index_check.differences()))


if __name__ == "__main__":
    main()
