"""A small joint and a store of tools for it, whose fitness several tests ask for. All of it is invented."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from typing import Any

from evenpull.equipment import Holdings
from evenpull.ledger.entry import Entry
from evenpull.plan import Plan, make_plan, read_specification, read_tools
from tests.equipment.files import DAY, entry, on, store
from tests.plan.files import JOINT, changed

# entries of the simple register: no class, no points
SIMPLE = """form = "evenpull tools 1"
[[tool]]
serial = "TW-0207"
name = "Setting torque wrench"
kind = "setting"
unit = "N.m"
range = ["40 N.m", "200 N.m"]
resolution = "1 N.m"
uncertainty = "{uncertainty}"
certificate = "KNC-26-0311"
certificate_from = 2026-02-10
certificate_until = 2027-02-09
"""
COUNTED = {"TW-0301": (entry("use count", on(4, 1), counter="1300"),)}


def simple(uncertainty: str = "2.4 %") -> Holdings:
    return Holdings.from_tools(read_tools(SIMPLE.format(uncertainty=uncertainty), "tools.toml"))


def held(entries: dict[str, tuple[Entry, ...]] | None = None, **item: Any) -> Holdings:
    """The store with the simple register beside it and the counter of TW-0301 read; `item` changes TW-0301."""
    whole = store().joined(read_tools(SIMPLE.format(uncertainty="2.4 %"), "tools.toml"))
    if item:
        whole = replace(whole, items={**whole.items, "TW-0301": replace(whole.items["TW-0301"], **item)})
    return whole.with_entries(COUNTED if entries is None else {**COUNTED, **entries})


@lru_cache(maxsize=32)
def plan(
    allowed: tuple[str, ...] = ("TW-0301", "TW-0207"), joint_class: str = "B", passes: str = "[40, 70, 100]",
    torque: str = "150 N.m", settings: str = "", tolerance: str = "5 %",
) -> Plan:
    """M16 to 150 N.m within 5 % in 60, 105 and 150 N.m and a check pass, unless said otherwise."""
    own = f"passes = {passes}\nsettings = {settings}\nsettings_limit = 120" if settings else f"passes = {passes}"
    text = changed(
        JOINT, ('class = "B"', f'class = "{joint_class}"'), ('thread = "M24"', 'thread = "M16"'),
        ('torque = "520 N.m"', f'torque = "{torque}"'), ('required_preload = "95 kN"\n', ""),
        ('tolerance = "5 %"', f'tolerance = "{tolerance}"'),
        ("passes = [30, 70, 100]", own), ('allowed = ["TW-0219", "TW-0252"]', f"allowed = {json.dumps(allowed)}"),
    )
    held_now = held()
    tools = [tool for serial in allowed for tool in held_now.as_tools(serial)]
    made = make_plan(read_specification(text, "joint.toml"), tools, DAY)
    return replace(made, problems=())
