"""A small joint with its records, written pull by pull, for the tests of the judgement. All of it is invented."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from hashlib import sha256
from typing import Any

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan import Plan, make_plan, read_specification, read_tools
from evenpull.proof import prove
from evenpull.proof.model import Disposition, Flag, FlagCode, Proof

START = datetime(2026, 3, 18, 9, 0, tzinfo=UTC)
FILE = sha256(b"a file").hexdigest()

TOOLS = """form = "evenpull tools 1"
[[tool]]
serial = "TW-1"
name = "Setting torque wrench"
kind = "setting"
unit = "N.m"
range = ["1 N.m", "2000 N.m"]
resolution = "0.1 N.m"
uncertainty = "2.8 %"
certificate = "KNC-26-0001"
certificate_from = 2026-02-12
certificate_until = 2027-02-11
[[tool]]
serial = "TW-2"
name = "Setting torque wrench, certificate out of date"
kind = "setting"
unit = "N.m"
range = ["1 N.m", "2000 N.m"]
resolution = "0.1 N.m"
uncertainty = "3.0 %"
certificate = "KNC-25-0002"
certificate_from = 2025-03-18
certificate_until = 2026-03-17
[[tool]]
serial = "TW-4"
name = "Second setting torque wrench"
kind = "setting"
unit = "N.m"
range = ["1 N.m", "2000 N.m"]
resolution = "0.1 N.m"
uncertainty = "3.0 %"
certificate = "KNC-26-0004"
certificate_from = 2026-02-12
certificate_until = 2027-02-11
"""

JOINT = """form = "evenpull joint 1"
[joint]
id = "KN-XX-001"
name = "Cover"
place = "Kestrel Narrows / unit 2"
kind = "{kind}"
class = "{joint_class}"
viewed_from = "outside"
first_fastener = "at the top"
numbering = "clockwise"
[source]
document = "KN-SPEC-0001"
revision = "A"
place = "page 1"
approved_by = "M. Okonjo-Reyes"
in_force_from = 2026-02-02
[fasteners]
count = {count}
thread = "M24"
class = "{strength}"
length = "110 mm"
head = "hexagon"
counterpart = "nut"
nut_class = "12"
washer_under_head = true
washer_under_nut = true
hole = "medium"
turned = "nut"
condition = "new"
lot = "KL-1"
circle = "410 mm"
[[clamped]]
part = "cover"
material = "steel"
thickness = "60 mm"
[friction]
lubricant = "molybdenum disulfide paste"
mu_G = [0.10, 0.12, 0.14]
mu_K = [0.10, 0.12, 0.14]
basis = "test KN-T-001 of lot KL-1, method of ISO 16047"
[target]
method = "{method}"
rule = "friction"
torque = "{torque}"
tolerance = "5 %"
{angle}
[procedure]
order = "circular"
passes = {passes}
check_passes = {checks}
tools_at_once = 1
{limit}
strict_passes = {strict_passes}
strict_order = {strict_order}
[tools]
allowed = ["TW-1", "TW-2", "TW-4", "TW-9"]
{series}
[notes]
text = "none"
cautions = {cautions}
"""


@lru_cache(maxsize=64)
def plan(
    *, kind: str = "general assembly", joint_class: str = "B", count: int = 4, strength: str = "8.8",
    torque: str = "350 N.m", passes: str = "[30, 70, 100]", checks: int = 0, limit: str = "",
    strict_passes: bool = True, strict_order: bool = False, window: str = "", series: bool = False,
    cautions: str = "[]", settings: str = "",
) -> Plan:
    """350 N.m on M24 in three passes unless said otherwise; window of the last pass 332.5 to 367.5 N.m."""
    text = JOINT.format(
        kind=kind, joint_class=joint_class, count=count, strength=strength, torque=torque, passes=passes, checks=checks,
        method="torque and angle" if window else "torque",
        angle=f'angle = "30 deg"\nangle_window = {window}' if window else "",
        limit=(f'movement_limit = "{limit}"\n' if limit else "")
        + (f"settings = {settings}\nsettings_limit = 150\n" if settings else ""),
        strict_passes=str(strict_passes).lower(),
        strict_order=str(strict_order).lower(), series='[series]\nunit_name = "workpiece"' if series else "",
        cautions=cautions,
    )  # fmt: skip
    made = make_plan(read_specification(text, "joint.toml"), read_tools(TOOLS, "tools.toml"), date(2026, 3, 18))
    # what the plan itself says about the joint is tested elsewhere; here only the problems a test puts in
    return replace(made, problems=())


def record(at: Plan, fastener: int, pass_number: int | None, place: int, **changes: Any) -> Tightening:
    """One pull as planned. `place` gives counter and time (30 s apart); `changes` replace fields."""
    one = None if pass_number is None else at.pass_by_number(pass_number)
    fields: dict[str, Any] = {
        "file_sha256": FILE, "row": place + 2, "joint": at.spec.id, "unit_id": "", "fastener": fastener,
        "pass_number": pass_number, "event": "check pass" if one is not None and one.check else "unstated",
        "torque": at.target.torque if one is None else one.torque_of(fastener), "torque_text": "", "torque_unit": "N.m",
        "angle": math.radians(1.0) if one is not None and one.check else None, "angle_text": "", "direction": "tighten",
        "end_cause": "reached", "result_text": "", "source_verdict": "none", "tool": "TW-1", "counter": 100 + place,
        "epoch": "", "operator": "R. Fjeldgaard", "time_basis": "UTC", "time_doubt": "",
        "time": START + timedelta(seconds=30 * place), "received_cells": {}, "remarks": (),
    }  # fmt: skip
    fields.update(changes)
    if not fields["torque_text"] and fields["torque"] is not None:
        fields["torque_text"] = f"{fields['torque']:g}"
    fields.setdefault("time_text", fields["time"].isoformat() if fields["time"] else "")
    raw = repr(sorted((k, v) for k, v in fields.items() if k not in ("file_sha256", "row")))
    return Tightening(raw_sha256=sha256(raw.encode()).hexdigest(), **fields)


def work(at: Plan, *, unit_id: str = "", begin: int = 0) -> list[Tightening]:
    """All pulls of the plan in the planned order, each as planned."""
    steps = [(fastener, one.number) for one in at.passes for group in one.order for fastener in group]
    return [record(at, n, number, begin + place, unit_id=unit_id) for place, (n, number) in enumerate(steps)]


def changed(records: Iterable[Tightening], fastener: int, pass_number: int, /, **changes: Any) -> list[Tightening]:
    """The records with the one of that fastener and pass changed; its raw hash follows."""
    made = []
    for item in records:
        if (item.fastener, item.pass_number) == (fastener, pass_number):
            digest = sha256((item.raw_sha256 + repr(sorted(changes.items(), key=str))).encode()).hexdigest()
            item = replace(item, **{"raw_sha256": digest, **changes})
        made.append(item)
    assert made != list(records), "the test changes nothing"
    return made


def without(records: Iterable[Tightening], fastener: int, pass_number: int) -> list[Tightening]:
    return [r for r in records if (r.fastener, r.pass_number) != (fastener, pass_number)]


def unread(at: Plan, row: int = 9) -> UnreadRow:
    return UnreadRow(FILE, row, "17;see card", "torque", "torque: 'see card' is no number",
                     sha256(b"17;see card").hexdigest(), at.spec.id)


def disposed(flag: Flag | str, action: str, /, *, hours: float = 24.0, **changes: Any) -> Disposition:
    fields: dict[str, Any] = {
        "flag_key": flag if isinstance(flag, str) else flag.key, "action": action, "reason": "seen at the joint",
        "by": "S. Quillfeather", "at": START + timedelta(hours=hours), **changes,
    }  # fmt: skip
    return Disposition(**fields)


def flags(proof: Proof, code: FlagCode) -> list[Flag]:
    return [flag for flag in proof.flags if flag.code == code]


def only(proof: Proof, code: FlagCode) -> Flag:
    """The one flag of that code."""
    found = flags(proof, code)
    assert len(found) == 1, [f"{f.key}: {f.text}" for f in proof.flags]
    return found[0]


def verdict(proof: Proof, fastener: int, pass_number: int, unit: str = "") -> str:
    return next(
        c.verdict for c in proof.cells if (c.unit_id, c.fastener, c.pass_number) == (unit, fastener, pass_number)
    )


__all__ = [
    "START", "changed", "disposed", "flags", "only", "plan", "prove", "record", "unread", "verdict", "without", "work",
]
