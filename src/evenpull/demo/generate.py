"""Write the record files of the scenario: python -m evenpull.demo.generate FOLDER.

The files are made, not kept in the repository: the pulls follow from the plans of the joints, the scatter from a
seeded generator, and every byte is the same on each run, so that a second import finds nothing new.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from evenpull.demo import scenario
from evenpull.demo.story import RecordFile, record_files
from evenpull.plan import make_plan, read_specification, read_tools
from evenpull.plan.model import Plan

# The day for which the plans of the generator are made; the pulls depend on order and torque only.
_PLANNED = date(2026, 3, 16)


def scenario_plans() -> Mapping[str, Plan]:
    """Plan of each joint of the scenario by its id."""
    tools = read_tools(scenario.tools_text(), "tools.toml")
    specs = (read_specification(scenario.joint_text(name), f"{name}.toml") for name in scenario.JOINTS)
    return {spec.id: make_plan(spec, tools, _PLANNED) for spec in specs}


def write_records(folder: Path) -> tuple[RecordFile, ...]:
    """Write all record files into `folder` and give them back in the order in which they came in."""
    folder.mkdir(parents=True, exist_ok=True)
    made = record_files(scenario_plans())
    for one in made:
        (folder / one.name).write_bytes(one.data)
    return made


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("one folder is needed: python -m evenpull.demo.generate FOLDER")
    for written in write_records(Path(sys.argv[1])):
        print(f"{written.name}: {len(written.data)} bytes, mapping {written.mapping!r}")
