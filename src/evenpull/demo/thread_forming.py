"""The open thread-forming data in the demo: real records, and our verdict beside the station's own, run by run."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from evenpull.demo.decisions import CLERK
from evenpull.demo.open_data.prepare import folder_text
from evenpull.demo.teller import Teller
from evenpull.proof import Comparison, FinalStep, compare_source
from evenpull.proof.compare import MEANING, Level
from evenpull.store import services

JOINT = "TF-STATION-1"
FINAL = FinalStep("last_step", "final")


def real_records(tell: Teller, folder: Path) -> None:
    """Take the open data in, compare every run, write the table."""
    tell.chapter("Real records: 1,500 tightenings of an automatic station")
    tell.say("N. West, J. Deuse, PyScrew (Zenodo, doi 10.5281/zenodo.14729547, CC BY 4.0).")
    services.add_joint(folder_text("joint.toml"), "thread-forming/joint.toml", CLERK)
    mapping = services.add_mapping(folder_text("mapping.toml"), "thread-forming/mapping.toml", CLERK)
    done = services.commit_file("thread-forming.csv", folder_text("records.csv").encode(), mapping.name, CLERK)
    new = f"taken in: {done.new} records, {done.unread} rows unread"
    tell.say("taken in before: nothing changed" if done.already else new)
    view = services.joint(JOINT)
    found = compare_source(view.plan, view.tightenings, view.proof, final_step=FINAL)
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / "thread-forming-comparison.csv"
    table.write_bytes(comparison_csv(found))
    for level in (found.by_torque, found.by_torque_and_end):
        say_level(tell, level)
    tell.line("  every run by reason:")
    for code, count in found.codes:
        tell.say(f"{count:>5}  {code}. {MEANING[code]}", 4, 11)
    tell.say(f"Run by run in {table}")
    judged = sum(cell.verdict != "not judged" for cell in view.proof.cells)
    tell.say(
        f"In the joint's own matrix {judged} of {len(view.proof.cells)} places are judged: the data give no "
        "certificate of the spindle, so its records prove nothing for a release. The comparison above is about torque "
        "and end only."
    )


def say_level(tell: Teller, level: Level) -> None:
    """Where one level and the station agree and differ."""
    tell.say(
        f"by {level.name}: both accept {level.both_accepted}, both do not {level.both_not_accepted}; only the station "
        f"accepts {level.only_source_accepts}, only the rules accept {level.only_we_accept}"
    )
    if level.codes:
        tell.say("why they differ: " + ", ".join(f"{count} {code}" for code, count in level.codes), 4)


def comparison_csv(found: Comparison) -> bytes:
    """Every run on one row, the ones that differ at either level first by their reason."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        ("source row", "use of a housing", "fastener", "torque N.m", "station", "by torque alone",
         "by torque, end cause and final step", "same by torque", "same with end", "reason", "in words")
    )  # fmt: skip
    said = {True: "yes", False: "no", None: "not compared"}
    for row in sorted(found.rows, key=lambda r: (r.code == "same verdict", r.code, r.file_row)):
        writer.writerow(
            (row.file_row, row.unit_id, row.fastener, row.torque, row.source_text, row.by_torque,
             row.by_torque_and_end, said[row.agree_torque], said[row.agree_torque_and_end], row.code, row.text)
        )  # fmt: skip
    return out.getvalue().encode("utf-8-sig")
