"""From the runs and the steps of the thread-forming data to one row a run, as the mapping takes it in.

    python -m evenpull.demo.open_data.prepare          writes thread_forming/records.csv anew
    python -m evenpull.demo.open_data.prepare --check  compares it with what is there

A run has two to four steps (find, form, pre, final). Its result is the highest torque of its *last* step:
within that step the torque falls to about zero after shut-off, so the last sample is no result, and the highest torque
of the whole run may belong to an earlier step. The name of the last step stays beside what ended it, because a run that
ended in an earlier step never reached its final one, whatever its torque was. Texts are copied, not written anew.
"""

from __future__ import annotations

import csv
import io
import sys
from importlib.resources import files
from pathlib import Path

COLUMNS = (
    "run_id", "started_local", "workpiece", "position", "prior_uses", "station_result", "last_step", "ended_by",
    "torque_Nm", "last_sample_Nm", "highest_of_run_Nm", "angle_at_end_deg", "steps",
)  # fmt: skip


def join(runs: str, steps: str) -> str:
    """CSV text with one row a run, in the order of `runs`. ValueError when runs and steps contradict each other."""
    by_run: dict[str, list[dict[str, str]]] = {}
    for step in csv.DictReader(io.StringIO(steps)):
        by_run.setdefault(step["run_id"], []).append(step)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for run in csv.DictReader(io.StringIO(runs)):
        own = by_run.pop(run["run_id"], [])
        if [step["step"] for step in own] != [str(number) for number in range(1, len(own) + 1)] or not own:
            raise ValueError(f"run {run['run_id']}: its steps are not 1, 2, 3 ...")
        last = own[-1]
        if (last["step"], last["ended_by"]) != (run["last_step"], run["ended_by"]):
            raise ValueError(f"run {run['run_id']}: its last step is not the one the run names")
        writer.writerow((
            run["run_id"], run["started_local"], run["workpiece"], run["position"], run["prior_uses"],
            run["station_result"], last["step_name"], last["ended_by"], last["torque_max_Nm"], last["torque_last_Nm"],
            run["max_torque_Nm"], last["angle_last_deg"], len(own),
        ))  # fmt: skip
    if by_run:
        raise ValueError(f"steps without a run: {', '.join(list(by_run)[:5])}")
    return out.getvalue()


def folder_text(name: str) -> str:
    """Text of one file of the folder, by its path in it: "records.csv", "source/runs.csv"."""
    place = files("evenpull.demo.open_data") / "thread_forming"
    for part in name.split("/"):
        place = place / part
    return place.read_text(encoding="utf-8")


def main(arguments: list[str]) -> int:
    """Write records.csv, or compare it with `--check`; 1 when it differs."""
    made = join(folder_text("source/runs.csv"), folder_text("source/steps.csv"))
    if "--check" in arguments:
        return 0 if made == folder_text("records.csv") else 1
    (Path(__file__).parent / "thread_forming" / "records.csv").write_text(made, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
