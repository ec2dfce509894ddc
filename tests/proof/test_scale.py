"""Judging grows nearly in step with the number of records."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest

from evenpull.proof import decide
from tests.proof.build import plan, prove, work


def _seconds(at, units):
    records = []
    for unit in range(units):
        records += work(at, unit_id=f"W-{unit:05d}", begin=unit * 12)
    records = [replace(r, torque=400.0) if place % 97 == 0 else r for place, r in enumerate(records)]
    begin = time.perf_counter()
    proof = prove(at, records)
    decide(at, proof)
    return len(records), time.perf_counter() - begin


@pytest.mark.slow
def test_one_hundred_thousand_tightenings():
    """Ten times the records in well under twenty times the time (measured: about ten to twelve)."""
    at = plan(series=True)
    few, short = _seconds(at, 834)
    many, long = _seconds(at, 8340)
    print(f"{few} tightenings in {short:.2f} s, {many} in {long:.2f} s")
    assert many == 10 * few == 100_080
    assert long < 20 * max(short, 0.05)
