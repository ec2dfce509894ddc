"""Passes in which each fastener has a setting of its own: what stands in its row of the sheet."""

from __future__ import annotations

from evenpull.plan.model import Pass, Plan, Setting, Tool
from evenpull.quantities.units import unit_named

HOW = ("Each fastener has its own setting: read it in the row, set the tool to it before each pull. Never pull two "
       "fasteners with one setting unless both rows say so.")
IN_ROW = "the setting of each fastener stands in its row"
WORDS = 42.0  # mm, two lines of the longest words


def setting_of(one: Pass, fastener: int, tool: Tool) -> Setting:
    """What this tool is set to for one fastener. KeyError when the pass has no setting for the tool."""
    for setting in one.settings_of(fastener):
        if setting.tool == tool.serial:
            return setting
    raise KeyError(tool.serial)


def dialled(plan: Plan, tool: Tool) -> tuple[str, ...]:
    """All values that this tool is set to in passes with own settings, in the order of pass and fastener."""
    return tuple(s.digits for one in plan.passes if one.own for s in one.every_setting if s.tool == tool.serial)


def in_row(one: Pass, fastener: int, tool: Tool) -> dict[str, str]:
    """Digits and words of the setting for a row, the words without the unit, which the head of the column names."""
    setting = setting_of(one, fastener, tool)
    return {"set": setting.digits, "words": setting.words.removesuffix(unit_named(setting.unit)[1].many).strip()}


def for_the_pass(one: Pass, tool: Tool) -> Setting:
    """One setting that speaks for the pass: the largest, with every reason that speaks against the tool, each once."""
    found = [s for s in one.every_setting if s.tool == tool.serial]
    problems = tuple(dict.fromkeys(text for s in found for text in s.problems))
    largest = max(found, key=lambda s: s.value)
    return Setting(one.number, tool.serial, largest.value, largest.unit, "", IN_ROW, (), largest.hand_sensitivity,
                   problems)


def row_widths(digits: int) -> tuple[float, float]:
    """Widths (mm) of the digits, at 19 point, and of the words."""
    return 4.4 * digits + 4.0, WORDS
