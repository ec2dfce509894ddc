"""The fitness gate where a card is issued: what stands against each tool, told to the plan that the card is made from.

A tool is refused for the card where something holds against it for every pull, or where it is fit in no pass. One that
is fit in some passes only may go with others on one card: its line in the other passes then says why it is not to be
used there, and a pass that no tool of the card can do refuses the card (docs/decisions/0024).
"""

from __future__ import annotations

from dataclasses import replace

from evenpull.equipment.gate import Judged, Place, Table
from evenpull.plan.model import Pass, Plan, Setting

NAMED = 5  # tools at hand that a refusal names


def not_fit(table: Table) -> dict[str, str]:
    """Serial -> why it may stand on no card for this plan, of the allowed tools."""
    return {one.serial: why for one in table.refused if (why := _why(one))}


def _why(one: Judged) -> str:
    if one.whole:
        return "; ".join(one.whole)
    return "" if one.passes_fit else "; ".join(one.refusals)


def at_hand(table: Table) -> tuple[str, ...]:
    """Sentences that name the fit tools in their order, and apart from them those that would be fit."""
    if table.fit:
        said = [f"Fit for every pull and at hand, in the order in which to take them ({table.rule}): "
                f"{_list(table.fit)}"]
    else:
        said = ["No allowed tool is fit for every pull: have one calibrated, settle what stands against it, or have "
                "the specification allow one that is fit"]
    if table.not_allowed:
        said.append("Would be fit, but the specification does not allow it, and only a new revision of it can: "
                    f"{_list(table.not_allowed)}")
    return tuple(said)


def _list(places: tuple[Place, ...]) -> str:
    words = [
        f"{one.place}. {one.judged.serial}{f' in {one.judged.place}' if one.judged.place else ''} ({one.reason})"
        for one in places[:NAMED]
    ]
    more = len(places) - NAMED
    return "; ".join(words) + (f"; and {more} more" if more > 0 else "")


def told(plan: Plan, table: Table) -> Plan:
    """The plan with what the gate found in the problems of its settings, pass by pass."""
    return replace(plan, passes=tuple(_told(one, table) for one in plan.passes))


def _told(one: Pass, table: Table) -> Pass:
    if not one.own:
        return replace(one, settings=tuple(_setting(s, table, 0) for s in one.settings))
    own = tuple(
        replace(each, settings=tuple(_setting(s, table, each.fastener) for s in each.settings)) for each in one.own
    )
    return replace(one, own=own)


def _setting(setting: Setting, table: Table, fastener: int) -> Setting:
    """A problem that the plan itself found stays; the gate often says the same with its numbers, and then alone."""
    judged = table.of(setting.tool)
    if judged is None:
        return setting
    found = tuple(
        reason.words for pull, one in judged.passes
        if pull.pass_number == setting.pass_number and (not pull.fasteners or fastener in pull.fasteners)
        for reason in one.reasons if not reason.fit
    )
    words = (*judged.whole, *found)
    return replace(setting, problems=words) if words else setting
