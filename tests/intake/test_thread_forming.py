"""The open thread-forming data as real records; numbers of the station are those of its documentation.

Source: N. West, J. Deuse, PyScrew, Zenodo, DOI 10.5281/zenodo.14729547, CC BY 4.0; arXiv:2505.11925.
"""

from __future__ import annotations

import csv
import io
from collections import Counter

import pytest

from evenpull.demo.open_data.prepare import folder_text, join
from evenpull.intake import Reading, read_bytes, read_mapping


@pytest.fixture(scope="module")
def found() -> Reading:
    mapping = read_mapping(folder_text("mapping.toml"), "mapping.toml")
    return read_bytes(folder_text("records.csv").encode(), mapping, "records.csv")


def test_the_records_are_what_runs_and_steps_say() -> None:
    assert join(folder_text("source/runs.csv"), folder_text("source/steps.csv")) == folder_text("records.csv")


def test_runs_and_steps_that_contradict_each_other_are_refused() -> None:
    runs, steps = folder_text("source/runs.csv"), folder_text("source/steps.csv")
    with pytest.raises(ValueError, match="last step is not the one"):
        join(runs, steps.replace("1596388,4,final,40,OK,torque_target", "1596388,4,final,40,OK,angle_target"))
    with pytest.raises(ValueError, match="run 9: its steps are not"):
        join(runs.replace("1596388,", "9,"), steps + "9,4,final,40,OK,torque_target,1,0,0,0,0,0,0,\n")
    with pytest.raises(ValueError, match="steps without a run: 9"):
        join(runs, steps + "9,1,find,150,OK,angle_target,1,0,0,0,0,0,0,\n")


def test_every_run_is_read(found: Reading) -> None:
    assert (len(found.tightenings), len(found.unread), len(found.set_aside), found.notes) == (1500, 0, 1, ())
    units = Counter(one.unit_id for one in found.tightenings)
    assert len(units) == 750 and set(units.values()) == {2}
    assert {one.fastener for one in found.tightenings} == {1, 2}
    assert len({one.key for one in found.tightenings}) == 1500
    assert Counter(one.source_verdict for one in found.tightenings) == {"accepted": 1247, "not accepted": 253}
    assert all(one.time is not None and one.time_doubt == "" for one in found.tightenings)


def test_the_result_is_the_highest_torque_of_the_last_step_and_not_the_last_sample(found: Reading) -> None:
    steps = list(csv.DictReader(io.StringIO(folder_text("source/steps.csv"))))
    last = {step["run_id"]: step for step in steps}
    for one in found.tightenings:
        step = last[one.received_cells["run_id"]]
        assert one.torque_text == step["torque_max_Nm"]
        assert one.torque == float(step["torque_max_Nm"])
    low = [one for one in found.tightenings if float(one.received_cells["last_sample_Nm"]) < 1.2]
    assert len(low) > 1000, "by the last sample most runs would look far too low"


def test_only_the_final_step_can_reach_the_end(found: Reading) -> None:
    for one in found.tightenings:
        ended_well = (one.received_cells["last_step"], one.received_cells["ended_by"]) == ("final", "torque_target")
        assert (one.end_cause == "reached") == ended_well
    assert Counter(one.end_cause for one in found.tightenings) == {"reached": 1253, "limit": 224, "error": 23}


def test_torque_in_the_window_alone_would_accept_runs_that_never_ended(found: Reading) -> None:
    inside = [one for one in found.tightenings if one.torque is not None and 1.2 <= one.torque <= 1.6]
    assert sum(one.source_verdict == "not accepted" for one in inside) == 231
    proven = [one for one in inside if one.end_cause == "reached"]
    assert Counter(one.source_verdict for one in proven) == {"accepted": 1247}
