"""Files of curves made to order: simulated on a joint of the scenario, as the long CSV of an invented tool."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from evenpull.curve.columns import Curves
from evenpull.curve.simulate import simulate
from evenpull.curve.simulated_joints import stated_joint
from evenpull.demo import scenario
from evenpull.plan import make_plan, read_specification
from evenpull.plan.curve_expectation import joint_case

JOINT, TOOL, MEMORY = "KN-CW-008", "TW-0207", "A"  # of tests.store.samples: its records can be there as well
STEEL_JOINT = "KN-GB-006"  # without a gasket: its plan gives slope and elastic angle
NAME = "gallery traces, long"
MAPPING_TEXT = f"""form = "evenpull curve mapping 1"
name = "{NAME}"

[file]
kind = "long"
delimiter = ";"
decimal = ","

[columns]
run = "Trace"
time = "Time s"
angle = "Angle deg"
torque = "Torque Nm"
step = "Step"

[units]
torque = "Nm"

[record]
run_form = "{{tool}}/{{epoch}}/{{counter}}"
columns = {{ fastener = "Bolt", pass = "Round" }}
"""
HEAD = "Trace;Time s;Angle deg;Torque Nm;Step;Bolt;Round"


def simulated(faults: Sequence[str], *, joint: str = "kn-gb-006", seed: int = 7, coarse: int = 6) -> Curves:
    """Curves of pass 1 of a joint of the scenario, every so many-th point of what the simulator draws."""
    spec = read_specification(scenario.joint_text(joint), joint)
    plan = make_plan(spec, (), date(2026, 3, 17))
    made = simulate(seed, faults, joint=stated_joint(joint_case(spec)[0], plan.passes[0].torque)).curves
    keep = np.zeros(len(made.torque), bool)
    keep[::coarse] = True
    ends = np.concatenate([[0], np.cumsum(keep)])[made.offsets]
    return Curves(made.time[keep], made.angle[keep], made.torque[keep], made.step[keep], ends.astype(np.int64))


def rows(curves: Curves, counters: Sequence[int], *, tool: str = TOOL, number: str = "1") -> list[str]:
    """The lines of curves with these counters; fasteners from 1 on."""
    made = []
    for c, counter in enumerate(counters):
        for i in range(int(curves.offsets[c]), int(curves.offsets[c + 1])):
            values = (f"{x:.4f}".replace(".", ",") for x in (curves.time[i], curves.angle[i], curves.torque[i]))
            made.append(f"{tool}/{MEMORY}/{counter};{';'.join(values)};{curves.step[i]};{c % 8 + 1};{number}")
    return made


def csv_of(curves: Curves, counters: Sequence[int], **how: str) -> bytes:
    return ("\n".join([HEAD, *rows(curves, counters, **how)]) + "\n").encode()
