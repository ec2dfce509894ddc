"""The chapter of the torque-angle curves: 48 bolts of a casing, three of them not as they should be.

The curves are drawn by `evenpull.curve.simulate` from the mechanics of the joint and say so; nobody measured them. The
records beside them tell of torques alone, and all of these are in their window.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

from evenpull.curve.simulate import Simulated, simulate
from evenpull.curve.simulated_joints import stated_joint
from evenpull.demo.decisions import CLERK, LEAD
from evenpull.demo.teller import Teller
from evenpull.plan import make_plan, read_specification
from evenpull.plan.curve_expectation import joint_case
from evenpull.proof.texts import counted
from evenpull.store import services

JOINT, SPINDLE, MEMORY, COUNT, SEED = "KN-GC-048", "SP-0310", "A", 48, 12
FAULTS = {11: "re-hit", 23: "drag", 37: "yield"}  # fastener -> what is built in
STARTED = datetime(2026, 4, 14, 9, 0, 0)
RECORDS, TRACES = "casing-rig-2026-04-14.csv", "casing-rig-traces-2026-04-14.csv"


def text_of(name: str) -> str:
    """One of the texts of this chapter, by its name."""
    return (files("evenpull.demo") / "kestrel_narrows" / "curves" / name).read_text(encoding="utf-8")


def drawn() -> Simulated:
    """The simulated curves of the casing, by fastener."""
    spec = read_specification(text_of("kn-gc-048.toml"), "kn-gc-048.toml")
    target = make_plan(spec, (), date(2026, 4, 14)).passes[0].torque
    faults = [FAULTS.get(n, "none") for n in range(1, COUNT + 1)]
    return simulate(SEED, faults, joint=stated_joint(joint_case(spec)[0], target))


def traces(made: Simulated) -> str:
    """The curves as the rig would write them."""
    lines = ["Reading;Time s;Turn deg;Moment Nm;Step;Bolt"]
    own = made.curves
    for c in range(len(own)):
        head = f"{SPINDLE}/{MEMORY}/{c + 1}"
        for i in range(int(own.offsets[c]), int(own.offsets[c + 1])):
            values = ";".join(f"{x:.4f}".replace(".", ",") for x in (own.time[i], own.angle[i], own.torque[i]))
            lines.append(f"{head};{values};{own.step[i]};{c + 1}")
    return "\n".join(lines) + "\n"


def records(made: Simulated) -> str:
    """The records as the receiver of the rig writes them: the highest torque of each curve."""
    lines = ["Reading no;Wrench;Memory;Day;Clock;Tag;Bolt;Round;Moment;Unit;Turn deg;Hand;Stopped;By"]
    for c in range(COUNT):
        at, one = STARTED + timedelta(seconds=40 * c), made.curves[c : c + 1]
        moment = f"{float(one.torque.max()):.1f}".replace(".", ",")
        turn = f"{float(one.angle.max() - one.angle[0]):.1f}".replace(".", ",")
        lines.append(f"{c + 1};{SPINDLE};{MEMORY};{at:%d.%m.%Y};{at:%H:%M:%S};{JOINT};{c + 1};1;{moment};Nm;{turn};"
                     "right;at setting;I. Brannoch")
    return "\n".join(lines) + "\n"


def curves(tell: Teller, exports: Path) -> None:
    """Take in records and curves of the casing, and show what only the curves say."""
    from evenpull.store.services import curves_judging, curves_kept, curves_matching, curves_taking

    tell.chapter("Torque-angle curves: what a torque in its window does not tell")
    services.add_tools(text_of("spindle.toml"), "spindle.toml", LEAD)
    services.add_joint(text_of("kn-gc-048.toml"), "kn-gc-048.toml", LEAD)
    mapping = curves_kept.add_mapping(text_of("rig-traces.toml"), "rig-traces.toml", CLERK)
    for name, write in ((TRACES, traces), (RECORDS, records)):
        if not (exports / name).exists():
            (exports / name).write_text(write(drawn()), encoding="utf-8")
    tell.say(f"{COUNT} simulated curves, drawn from the mechanics of {JOINT} with three faults built in; nobody "
             "measured them. The curves come first, their records after.")  # fmt: skip
    done = curves_taking.take(TRACES, exports / TRACES, JOINT, CLERK, mapping=mapping.name)
    row = done.row
    new = f"taken in: {counted(row.curves, 'curve')}, {row.points:,} points, kept raw and as Parquet"
    tell.say("taken in before: nothing changed" if done.already else new, 4)
    services.commit_file(RECORDS, exports / RECORDS, "store log, semicolons", CLERK)
    found = curves_matching.summary(JOINT)
    tell.say(f"{found.matched} of {found.curves} curves have their record, {found.bare} records have no curve", 4)
    path = curves_judging.judged(row)
    counts = curves_judging.counts(path)
    tell.say(f"judged by {curves_judging.head_of(path).rules}: "
             + ", ".join(f"{n} {words}" for words, n in counts.items()), 4, 6)  # fmt: skip
    _open_items(tell)


def _open_items(tell: Teller) -> None:
    view: Any = services.joint(JOINT)
    torques = sum(cell.verdict == "accepted" for cell in view.proof.cells)
    tell.say(f"by their torques {torques} of {len(view.proof.cells)} are accepted; open because of their curves:", 4)
    for flag in view.proof.open_flags:
        if flag.code.startswith("curve"):
            tell.say(flag.text.split(" (")[0] + flag.text[flag.text.index(") says") + 1 :], 6, 8)
