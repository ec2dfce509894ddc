"""Honest records in any number, from a seed: a works with thousands of tools, people and joints. All of it invented.

Joints are alike in kind and differ in size, torque and class; each has ten planned tightenings (five fasteners, two
passes). A tool counts through its pulls; its scatter, bias and clock are its own; a small share of pulls is repeated,
outside its window or missing, as in real work.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

TOOLS, PEOPLE, PULLS = 3_000, 2_000, 10  # pulls of a joint: 5 fasteners in 2 passes
BEGIN = datetime(2025, 1, 6, 6, 0)
SIZES = (("M10", 45, 900), ("M12", 75, 900), ("M16", 180, 900), ("M20", 350, 900), ("M24", 600, 1400))

JOINT = """form = "evenpull joint 1"
[joint]
id = "{id}"
name = "Cover {number}"
place = "Kestrel Narrows / hall {hall}"
kind = "general assembly"
class = "{joint_class}"
viewed_from = "the front"
first_fastener = "on top"
numbering = "clockwise"
[source]
document = "KN-SPEC-{document}"
revision = "A"
place = "table 1"
approved_by = "M. Okonjo-Reyes"
in_force_from = 2025-01-01
[fasteners]
count = 5
thread = "{thread}"
class = "8.8"
length = "90 mm"
head = "hexagon"
counterpart = "nut"
nut_class = "8"
washer_under_head = true
washer_under_nut = true
hole = "medium"
turned = "nut"
condition = "new"
lot = "KL-{lot}"
circle = "{circle} mm"
[[clamped]]
part = "plate"
material = "steel"
thickness = "{thickness} mm"
[friction]
lubricant = "oil film"
[target]
method = "torque"
rule = "friction"
torque = "{torque} N.m"
tolerance = "8 %"
[procedure]
order = "circular"
passes = [50, 100]
[tools]
allowed = [{tools}]
"""
TOOL = """[[tool]]
serial = "{serial}"
name = "Indicating torque wrench"
kind = "indicating"
unit = "N.m"
range = ["10 N.m", "1000 N.m"]
resolution = "0.1 N.m"
uncertainty = "2.5 %"
certificate = "KNC-{number:05d}"
certificate_from = 2024-12-01
certificate_until = 2028-12-31
"""
MAPPING = """form = "evenpull mapping 1"
name = "works"
[file]
kind = "csv"
encoding = "utf-8"
delimiter = ";"
header_rows = [1]
[time]
column = "when"
format = "%Y-%m-%d %H:%M:%S"
zone = "UTC"
[columns]
joint = "joint"
fastener = "bolt"
pass = "pass"
tool = "tool"
counter = "no"
operator = "who"
direction = "turned"
end_cause = "end"
[torque]
column = "torque"
unit = "N.m"
[angle]
column = "angle"
unit = "deg"
[meaning]
direction.tighten = ["R"]
end_cause.reached = ["reached"]
"""
HEADER = "no;when;joint;bolt;pass;torque;angle;turned;end;who;tool"


@dataclass(frozen=True)
class Works:
    """`joints` texts of joint files; `tools` one register; `files` paths of CSV files with `rows` records in all."""

    joints: list[str]
    tools: str
    files: list[Path]
    rows: int


def make(
    folder: Path, tightenings: int, *, rows_a_file: int = 100_000, seed: int = 20261125, tools: int | None = None,
) -> Works:
    """A works with so many tightenings, its files written to `folder`. The same seed gives the same bytes. `tools`: how
    many share the work; None for as many as such a works has."""
    dice = np.random.default_rng(seed)
    count = max(1, tightenings // PULLS)
    tools = min(TOOLS, max(3, count // 30)) if tools is None else tools
    people = min(PEOPLE, max(2, count // 50))
    sizes = dice.integers(0, len(SIZES), count)
    sets = (np.arange(count) * 7) % (tools - tools % 3 or 3)  # three tools may work on a joint
    joints = [_joint(n, int(sizes[n]), _serials(int(sets[n]), tools), dice) for n in range(count)]
    register = 'form = "evenpull tools 1"\n' + "".join(
        TOOL.format(serial=f"TW-{n:05d}", number=n) for n in range(tools)
    )
    files, lines, number = [], [HEADER], 0
    for line in _lines(count, sizes, sets, tools, people, dice):
        lines.append(line)
        number += 1
        if len(lines) > rows_a_file:
            files.append(_file(folder, len(files), lines))
            lines = [HEADER]
    if len(lines) > 1:
        files.append(_file(folder, len(files), lines))
    return Works(joints, register, files, number)


def _file(folder: Path, number: int, lines: list[str]) -> Path:
    path = folder / f"works-{number:03d}.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _serials(first: int, tools: int) -> list[str]:
    return [f"TW-{(first + k) % tools:05d}" for k in range(min(3, tools))]


def joint_id(number: int) -> str:
    return f"KN-L-{number:06d}"


def _joint(number: int, size: int, serials: list[str], dice: np.random.Generator) -> str:
    thread, torque, circle = SIZES[size]
    return JOINT.format(
        id=joint_id(number), number=number, hall=number % 40, joint_class="ABC"[number % 3], document=number % 5000,
        thread=thread, torque=torque, circle=circle, lot=number % 1000, thickness=int(dice.integers(12, 18)),
        tools=", ".join(f'"{serial}"' for serial in serials),
    )  # fmt: skip


def _lines(
    count: int, sizes: np.ndarray, sets: np.ndarray, tools: int, people: int, dice: np.random.Generator
) -> Iterator[str]:
    """One line a tightening, joint after joint; every tool counts through its own."""
    counters = [100] * tools
    bias = dice.normal(0, 0.008, tools)
    when = BEGIN
    for number in range(count):
        torque = SIZES[int(sizes[number])][1]
        tool = (int(sets[number]) + number % 3) % tools
        who = f"Fitter {(number * 13) % people:04d}"
        scatter = dice.normal(0, 0.015, PULLS)
        angles = dice.normal(24, 4, PULLS)
        fate = dice.random(PULLS)
        when += timedelta(seconds=40)
        at = when
        for place in range(PULLS):
            one, bolt = divmod(place, 5)
            value = torque * (0.5 if one == 0 else 1.0) * (1 + bias[tool] + scatter[place])
            if fate[place] < 0.002:
                value *= 1.12  # too much
            counters[tool] += 1
            at += timedelta(seconds=12)
            yield (
                f"{counters[tool]};{at:%Y-%m-%d %H:%M:%S};{joint_id(number)};{bolt + 1};{one + 1};{value:.1f};"
                f"{angles[place]:.1f};R;reached;{who};TW-{tool:05d}"
            )
