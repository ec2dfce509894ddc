"""Records that look untrue: each pattern found on made-up sheets, and how seldom honest ones are flagged."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from evenpull.intake.record import Tightening
from evenpull.plan.model import Plan
from evenpull.proof import prove
from evenpull.proof.doubt_flags import missing_counters, sheet_fingerprint
from evenpull.proof.model import FlagCode, Proof
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import flags, only, plan, unread, work

PATTERNS: tuple[FlagCode, ...] = (
    "repeated values", "no variance", "digit preference", "impossible pace", "near-duplicate",
)  # fmt: skip
BIG = plan(count=24)


def measured(at: Plan, dice: np.random.Generator, sigma: float, step: float, seconds: float = 20.0) -> list[Tightening]:
    """All pulls of the plan as a measuring tool writes them: normal scatter (share), rounded to its step."""
    digits = max(0, round(-np.log10(step)))
    made = []
    for n, one in enumerate(work(at)):
        value = round(one.torque * (1 + sigma * dice.standard_normal()) / step) * step
        text, angle = f"{value:.{digits}f}", f"{20 + 4 * dice.standard_normal():.1f}"
        time = work(at)[0].time + timedelta(seconds=n * seconds + dice.uniform(0, 8))
        made.append(replace(one, torque=float(text), torque_text=text, angle_text=angle, time=time))
    return made


def patterns(proof: Proof) -> set[str]:
    return {flag.code for flag in proof.flags} & set(PATTERNS)


@pytest.mark.slow
def test_honest_sheets_are_hardly_ever_flagged() -> None:
    """1,000 sheets with 12 or 72 pulls, scatter 0.4 to 3 %, steps of 0.01 to 5 N.m: fewer than 1 in 500 is flagged."""
    dice = np.random.default_rng(20261125)
    small = plan(count=4)
    hits = []
    for number in range(1_000):
        at = BIG if number % 10 == 0 else small
        sigma, step = dice.uniform(0.004, 0.03), float(dice.choice([0.01, 0.1, 0.5, 1.0, 2.0, 5.0]))
        found = patterns(prove(at, measured(at, dice, sigma, step)))
        hits += [(number, sigma, step, found)] if found else []
    assert len(hits) <= 2, hits


def test_the_same_value_in_many_rows() -> None:
    records = measured(BIG, np.random.default_rng(1), 0.01, 0.1)
    same = {"torque": 351.3, "torque_text": "351.3", "angle_text": "22.0"}
    faked = [replace(r, **same) if r.pass_number == 3 and 3 <= n % 24 < 11 else r for n, r in enumerate(records)]
    flag = only(prove(BIG, faked), "repeated values")
    assert flag.blocking and "8 of 24 values in a row are 351.3" in flag.text


def test_values_without_scatter() -> None:
    records = measured(BIG, np.random.default_rng(2), 0.00005, 0.01)
    assert flags(prove(BIG, records), "no variance")


def test_digits_made_up() -> None:
    dice = np.random.default_rng(5)
    at = plan(count=28)
    records = measured(at, dice, 0.012, 0.1)
    faked = []
    for r in records:
        text = f"{r.torque_text[:-1]}{dice.choice([0, 5, 0, 5, 0, 5, 2, 8])}"
        faked.append(replace(r, torque=float(text), torque_text=text))
    assert flags(prove(at, faked), "digit preference") and not flags(prove(at, records), "digit preference")


def test_forty_records_in_a_minute() -> None:
    records = measured(BIG, np.random.default_rng(6), 0.01, 0.1)
    fast = [replace(r, time=records[0].time + timedelta(seconds=1.5 * n)) for n, r in enumerate(records)]
    flag = only(prove(BIG, fast), "impossible pace")
    assert flag.blocking and "in 1.5 s" in flag.text


def test_a_pull_received_twice_under_two_names() -> None:
    records = measured(BIG, np.random.default_rng(7), 0.01, 0.1)
    later = records[9].time + timedelta(seconds=1)
    again = replace(records[9], file_sha256="f" * 64, tool="TW-4", counter=9, time=later)
    flag = only(prove(BIG, [*records, again]), "near-duplicate")
    assert flag.blocking and "within 1 s" in flag.text


def test_counters_that_nobody_has() -> None:
    at = plan()
    records = [r for r in work(at) if r.counter not in (103, 104, 107)]
    known = {("TW-1", ""): ((100, 102), (105, 106), (108, 111))}
    flag = only(prove(at, records, around=Surroundings(counters=known)), "records missing")
    assert "3 records missing: TW-1, counters 103–104, 107" in flag.text and flag.blocking
    assert not flags(prove(at, records), "records missing")  # without the dossier nothing is known of the others
    elsewhere = {("TW-1", ""): ((100, 106), (108, 111))}
    lost = replace(unread(at), tool="TW-1", epoch="", counter=107)
    assert not flags(prove(at, records, unread=[lost], around=Surroundings(counters=elsewhere)), "records missing")


def test_ranges_of_counters() -> None:
    assert list(missing_counters([5, 9], [(7, 7)])) == [(6, 6), (8, 8)]
    assert list(missing_counters([5, 9], [(1, 20)])) == [] and list(missing_counters([], [])) == []


def test_a_sheet_that_stands_on_another_joint_too() -> None:
    records = measured(plan(), np.random.default_rng(8), 0.01, 0.1)
    other = [replace(r, joint="KN-XX-002", row=r.row + 40, operator="another") for r in records]
    assert sheet_fingerprint(records) == sheet_fingerprint(other) != ""
    assert sheet_fingerprint(work(plan())) == ""  # nothing was measured
    proof = prove(plan(), records, around=Surroundings(copied={"KN-XX-002": ("x",)}))
    assert "KN-XX-002" in only(proof, "values copied").text


def test_slips_of_writing_are_notes() -> None:
    at = plan()

    def slipped(torque: float, text: str) -> Proof:
        return prove(at, [replace(r, torque=torque, torque_text=text) if (r.fastener, r.pass_number) == (2, 3) else r
                          for r in work(at)])  # fmt: skip

    shift = only(slipped(35.1, "35.1"), "decimal shift suspected")
    swap = only(slipped(530.0, "530"), "digits transposed")
    assert "to the right" in shift.text and "as 350" in swap.text and not shift.blocking and not swap.blocking
