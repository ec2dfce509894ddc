"""Our verdicts beside the station's own, on 1,500 real tightenings.

Source: N. West, J. Deuse, PyScrew, scenario "thread degradation", Zenodo, concept DOI 10.5281/zenodo.14729547,
CC BY 4.0. The counts below were taken from the tables of the data set with a few lines of csv, not from the program.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from evenpull.proof import FinalStep, compare_source, prove
from tests.proof.build import changed, plan, record, work

DATA = Path(__file__).parents[2] / "src" / "evenpull" / "demo" / "open_data" / "thread_forming"


def test_levels_and_codes_of_a_small_joint():
    at = plan()
    records = work(at)
    for fastener, changes in (
        (1, {"source_verdict": "accepted"}),
        (2, {"source_verdict": "not accepted", "end_cause": "limit"}),
        (3, {"source_verdict": "accepted", "torque": 400.0}),
        (4, {"source_verdict": "not accepted", "end_cause": "unknown"}),
    ):
        records = changed(records, fastener, 3, **changes)
    records.append(record(at, 9, 3, 50, source_verdict="accepted"))
    found = compare_source(at, records, prove(at, records))
    rows = {(r.fastener, r.pass_number): r for r in found.rows}
    assert len(found.rows) == len(records)
    assert rows[1, 3].code == "same verdict"
    assert (rows[2, 3].agree_torque, rows[2, 3].agree_torque_and_end) == (False, True)
    assert rows[2, 3].code == "ended at a limit"
    assert rows[3, 3].code == "torque above the window" and "400 N·m is above 367.5 N·m" in rows[3, 3].text
    assert rows[4, 3].code == "end not stated" and rows[4, 3].agree_torque_and_end is False
    assert rows[1, 1].code == "source gives no result" and rows[1, 1].agree_torque is None
    assert rows[9, None].code == "on no planned place"
    level = found.by_torque
    assert (level.both_accepted, level.only_we_accept, level.only_source_accepts, level.not_compared) == (1, 2, 1, 9)
    level = found.by_torque_and_end
    assert (level.both_accepted, level.both_not_accepted) == (1, 1)
    assert (level.only_we_accept, level.only_source_accepts) == (1, 1)


def test_a_step_that_is_not_the_last_is_not_the_end():
    at = plan(count=1, passes="[100]")
    one = record(at, 1, 1, 0, source_verdict="not accepted", received_cells={"step": "2"})
    proof = prove(at, [one])
    assert compare_source(at, [one], proof).rows[0].code == "no reason in the record"
    row = compare_source(at, [one], proof, final_step=FinalStep("step", "4")).rows[0]
    assert (row.code, row.by_torque, row.by_torque_and_end) == ("final step not reached", "accepted", "not accepted")
    row = compare_source(at, [one], proof, final_step=FinalStep("stage", "4")).rows[0]
    assert row.code == "final step not reached" and "does not say" in row.text


@pytest.fixture(scope="module")
def real():
    intake = pytest.importorskip("evenpull.intake")
    mapping = intake.read_mapping((DATA / "mapping.toml").read_text(encoding="utf-8"), "mapping.toml")
    reading = intake.read_file(DATA / "records.csv", mapping)
    assert len(reading.tightenings) == 1500
    at = plan(series=True, count=2, passes="[100]")  # only fasteners, passes and window matter here
    one = replace(at.passes[0], torque=1.4, lower=1.2, upper=1.6)
    spec = replace(at.spec, id=reading.tightenings[0].joint)
    return replace(at, spec=spec, passes=(one,)), reading.tightenings


def test_thread_forming_station(real):
    at, records = real
    found = compare_source(at, records, prove(at, records), final_step=FinalStep("last_step", "final"))
    assert len(found.rows) == 1500
    assert dict(found.codes) == {"same verdict": 1269, "ended at a limit": 214, "final step not reached": 17}
    torque, end = found.by_torque, found.by_torque_and_end
    # by the torque alone 231 of the station's 253 rejected runs lie inside the window
    assert (torque.both_accepted, torque.both_not_accepted) == (1247, 22)
    assert (torque.only_we_accept, torque.only_source_accepts, torque.not_compared) == (231, 0, 0)
    assert dict(torque.codes) == {"ended at a limit": 214, "final step not reached": 17}
    # with the end of the run every verdict is the station's
    assert (end.both_accepted, end.both_not_accepted, end.differ, end.not_compared) == (1247, 253, 0, 0)
    assert all(row.text for row in found.rows)
    assert Counter(row.code for row in found.rows) == dict(found.codes)


def test_certificate_of_the_station_is_unknown_and_that_is_said(real):
    at, records = real
    assert any(f.code in ("wrong tool", "tool not known") for f in prove(at, records).flags)
