"""Which tools a card is for. One unit per card: two units in one value column is how a unit slip begins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenpull.card.own_settings import dialled
from evenpull.plan.model import Pass, Plan, Setting, Tool


class CardRefused(Exception):  # noqa: N818  (a refusal by rule, not a fault)
    """The plan may not go to a crew. `reasons` are whole sentences, worst first."""

    def __init__(self, joint: str, reasons: Sequence[str]) -> None:
        self.joint, self.reasons = joint, tuple(reasons)
        super().__init__(f"no job card for {joint}: " + "; ".join(self.reasons))


@dataclass(frozen=True, slots=True)
class ToolChoice:
    """`left_out` names each other tool of the plan with the reason; digits and decimals size the value cells."""

    tools: tuple[Tool, ...]
    unit: str
    left_out: tuple[tuple[str, str], ...]
    whole_digits: int
    decimals: int
    unfit: tuple[str, ...]  # for a pass that none of the tools can do


def attached(tool: Tool) -> str:
    """What sits on a tool, for which alone its setting holds: parts of a chain, adapter, multiplier; "" for none."""
    parts = []
    if tool.adapter or tool.adapter_length is not None:
        parts.append(f"with adapter {tool.adapter}".rstrip() + f" {tool.adapter_length or ''}".rstrip())
        if tool.adapter_angle is not None:
            parts.append(f"at {tool.adapter_angle}")
    if tool.multiplier_ratio != 1:
        parts.append(f"with multiplier {tool.multiplier_ratio:g} to 1")
    if tool.parts:  # each part is taken by its serial: another multiplier has another ratio
        parts.insert(0, " + ".join(tool.parts))
    return ", ".join(parts)


def choose_tools(
    plan: Plan, wanted: Sequence[str] | None, not_fit: Mapping[str, str] | None = None, at_hand: Sequence[str] = (),
) -> ToolChoice:
    """The tools named, or (None) all of the first unit whose tools can do every pass.

    `not_fit`: serial -> why a tool may stand on no card; `at_hand`: sentences that name the fit ones. Raises
    CardRefused when a named tool is not fit or not of this plan, when the named tools have different units, when no
    tool is left, or when the plan has no tool at all.
    """
    barred = not_fit or {}
    named = [serial for serial in dict.fromkeys(wanted or barred) if serial in barred]
    if named and (wanted is not None or all(tool.serial in barred for tool in plan.tools)):
        reasons = [f"{serial} is not fit for {plan.spec.id}: {barred[serial]}" for serial in named]
        raise CardRefused(plan.spec.id, [*reasons, *at_hand])
    by_serial = {tool.serial: tool for tool in plan.tools}
    if not by_serial:
        raise CardRefused(
            plan.spec.id,
            ["the plan has no tool, so there is no setting to print; add the allowed tools to the tool register"],
        )
    left_out: list[tuple[str, str]] = []
    if wanted is not None:
        unknown = [serial for serial in wanted if serial not in by_serial]
        if unknown or not wanted:
            raise CardRefused(
                plan.spec.id,
                [
                    f"tool {', '.join(unknown) or '(none named)'} is not in the plan of this "
                    f"joint; allowed: {', '.join(by_serial)}"
                ],
            )
        tools = [by_serial[serial] for serial in dict.fromkeys(wanted)]
        units = {_unit(plan, tool) for tool in tools}
        if len(units) > 1:
            raise CardRefused(
                plan.spec.id,
                [
                    "the tools are set in different units ("
                    + ", ".join(f"{t.serial} in {_unit(plan, t)}" for t in tools)
                    + "); print one card for each unit"
                ],
            )
        if len({dialled(plan, tool) for tool in tools}) > 1:
            raise CardRefused(
                plan.spec.id,
                [
                    f"fasteners have settings of their own, and {', '.join(t.serial for t in tools)} are set to "
                    "different values for the same fastener; print one card for each tool"
                ],
            )
    else:
        able = [tool for tool in plan.tools if tool.serial not in barred]
        by_unit: dict[str, list[Tool]] = {}
        for tool in able:
            by_unit.setdefault(_unit(plan, tool), []).append(tool)
        whole = (unit for unit, group in by_unit.items() if not _gaps(plan, group))
        unit = next(whole, next(iter(by_unit)))
        tools = by_unit[unit]
        left_out = [
            (tool.serial, f"it is set in {_unit(plan, tool)}") for tool in able if _unit(plan, tool) != unit
        ]
        first = next((tool for tool in tools if not _gaps(plan, [tool])), tools[0])
        other = [tool for tool in tools if dialled(plan, tool) != dialled(plan, first)]
        left_out += [(tool.serial, "it is set to other values, its own card shows them") for tool in other]
        left_out += [(serial, f"not fit: {why}") for serial, why in barred.items() if serial in by_serial]
        tools = [tool for tool in tools if tool not in other]
    settings = [s for tool in tools for s in _settings(plan, tool)]
    unfit = [
        f"no tool of this card can do {one.name} ("
        + "; ".join(dict.fromkeys(f"{s.tool}: {', '.join(s.problems)}" for s in settings
                                  if s.pass_number == one.number and (s.problems or not one.own)))
        + ")"
        for one in _gaps(plan, tools)
    ]
    digits = max(len(str(int(1.2 * s.value))) for s in settings)
    decimals = max(len(s.digits.partition(".")[2]) for s in settings)
    return ToolChoice(tuple(tools), _unit(plan, tools[0]), tuple(left_out), digits, decimals, tuple(unfit))


def _settings(plan: Plan, tool: Tool) -> list[Setting]:
    return [s for one in plan.passes for s in one.every_setting if s.tool == tool.serial]


def _gaps(plan: Plan, tools: Sequence[Tool]) -> list[Pass]:
    """The passes that none of these tools can do."""
    return [p for p in plan.passes if not any(_does(p, tool) for tool in tools)]


def _does(one: Pass, tool: Tool) -> bool:
    """The tool can do the pass on every fastener."""
    found = [s for s in one.every_setting if s.tool == tool.serial]
    return bool(found) and not any(s.problems for s in found)


def _unit(plan: Plan, tool: Tool) -> str:
    settings = _settings(plan, tool)
    if {s.pass_number for s in settings} != {one.number for one in plan.passes}:
        raise CardRefused(plan.spec.id, [f"tool {tool.serial} has no setting for each pass of the plan"])
    return settings[0].unit
