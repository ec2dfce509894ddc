"""Open flags as reasons in plain words, worst first, drawn together where there are many."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from evenpull.ledger.words import fasteners, number_list
from evenpull.plan.model import Plan
from evenpull.proof.model import Flag, FlagCode, Proof
from evenpull.proof.rules import WEIGHT
from evenpull.proof.texts import counted, pass_label, some, unit_label

EACH = 4  # up to so many flags of one kind in one pass are said one by one
UNITS = 3  # units named before the rest is counted


def open_reasons(plan: Plan, proof: Proof) -> tuple[str, ...]:
    """One reason for each kind of open flag and pass; few flags are said in full, many with their fasteners."""
    if not proof.records and not proof.unread and any(flag.code == "missing" for flag in proof.open_flags):
        rest = [flag for flag in proof.open_flags if flag.code != "missing"]
        return (*_grouped(plan, rest), _nothing(plan))
    return _grouped(plan, proof.open_flags)


def _nothing(plan: Plan) -> str:
    count, passes = plan.spec.fasteners.count, len(plan.passes)
    return (
        f"no record has been received: all {count * passes} planned tightenings are missing "
        f"({counted(count, 'fastener')} in {counted(passes, 'pass', 'passes')})"
    )


def _grouped(plan: Plan, flags: Sequence[Flag]) -> tuple[str, ...]:
    groups: dict[tuple[int, FlagCode, int], list[Flag]] = defaultdict(list)
    for flag in flags:
        groups[WEIGHT[flag.code], flag.code, flag.pass_number or 0].append(flag)
    reasons: list[str] = []
    for (_, code, number), members in sorted(groups.items(), key=lambda item: item[0]):
        if code == "missing":
            reasons.append(_missing(plan, number, members))
        elif len(members) <= EACH:
            reasons.extend(flag.text for flag in members)
        else:
            reasons.append(_many(plan, code, members))
    return tuple(reasons)


def _missing(plan: Plan, number: int, flags: Sequence[Flag]) -> str:
    one = plan.pass_by_number(number)
    where = pass_label(one) if one is not None else f"pass {number}"
    by_unit: dict[str, list[int]] = defaultdict(list)
    for flag in flags:
        by_unit[flag.unit_id].append(flag.fastener or 0)
    if len(by_unit) == 1:
        ((unit, numbers),) = by_unit.items()
        lead = f"{unit_label(plan.spec, unit)}: " if unit_label(plan.spec, unit) else ""
        return f"{lead}{fasteners(numbers)} {'has' if len(numbers) == 1 else 'have'} no record in {where}"
    named = [f"{unit_label(plan.spec, unit)} no. {number_list(numbers)}" for unit, numbers in sorted(by_unit.items())]
    return f"{counted(len(flags), 'planned tightening')} on {len(by_unit)} units have no record in {where}: " + some(
        named, UNITS
    )


def _many(plan: Plan, code: FlagCode, flags: Sequence[Flag]) -> str:
    numbers = [flag.fastener for flag in flags if flag.fastener is not None]
    units = sorted({flag.unit_id for flag in flags if flag.unit_id})
    where = f" ({fasteners(numbers)})" if numbers else ""
    if len(units) > 1:
        where = f" on {len(units)} units ({some([unit_label(plan.spec, unit) for unit in units], UNITS)})"
    return f"{code}: {len(flags)} times{where}; the first: {flags[0].text}"
