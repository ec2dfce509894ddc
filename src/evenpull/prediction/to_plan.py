"""A predicted procedure as the [procedure] of a joint file, so that the plan and the card can be made from it.

A joint file knows passes that rise to 100 % of the target, all in one order, then check passes at 100 %; in a pass each
fastener may have a setting of its own. What does not fit is refused with the reason, not bent. A joint file with a
changed procedure is a draft: nobody has approved it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from statistics import fmean

from evenpull.plan.locate import lines_of
from evenpull.plan.model import Order
from evenpull.plan.orders import Steps, in_steps, order_steps
from evenpull.plan.own_settings import NO_LIMIT_STATED
from evenpull.plan.read import read_specification
from evenpull.prediction.procedures import RingPass, RingProcedure

MOST_PASSES, MOST_CHECKS, MOST_TOOLS = 10, 10, 16  # of a joint file
NOBODY = "nobody yet"
Round = tuple[Steps, tuple[float, ...]]  # percent by bolt, or one for all
_KEPT = ("movement_limit", "strict_passes", "strict_order")  # keys that a prediction says nothing about
_HEADING = re.compile(r"""\s*\[\[?\s*[A-Za-z_"'][^,]*\]\s*(#.*)?$""")  # no line of a list of numbers
_ORDERS: tuple[Order, ...] = ("star", "circular", "grouped")


class NotInPlanError(ValueError):
    """The procedure cannot stand in a joint file; the message says why and what would."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedProcedure:
    """The keys of [procedure] in a joint file; `percent` rises to 100."""

    order: Order
    percent: tuple[float, ...]
    check_passes: int
    check_order: Order
    tools_at_once: int
    groups: tuple[tuple[int, ...], ...] = ()
    listed: tuple[int, ...] = ()
    settings: tuple[tuple[float, ...], ...] = ()  # by pass: percent by fastener, or one for all; () if none differ

    def toml(self) -> str:
        """The keys as lines of TOML, without the heading."""
        lines = [
            f'order = "{self.order}"',
            f"passes = [{', '.join(f'{percent:g}' for percent in self.percent)}]",
            f"check_passes = {self.check_passes}",
            f'check_order = "{self.check_order}"',
            f"tools_at_once = {self.tools_at_once}",
        ]
        if self.groups:
            lines.append(f"groups = {[list(group) for group in self.groups]}")
        if self.listed:
            lines.append(f"listed = {list(self.listed)}")
        if self.settings:
            rows = ", ".join(f"[{', '.join(f'{percent:g}' for percent in row)}]" for row in self.settings)
            lines.append(f"settings = [{rows}]")
            if (highest := max(max(row) for row in self.settings)) > NO_LIMIT_STATED:
                lines.append(f"settings_limit = {ceil(highest)}")
        return "\n".join(lines) + "\n"


def planned(procedure: RingProcedure, count: int) -> PlannedProcedure:
    """The procedure of a ring of `count` bolts in the terms of a joint file. NotInPlanError says why it cannot be."""
    rounds = _rounds(procedure, count)
    torque = _torque_rounds(rounds)
    main, checks = rounds[:torque], rounds[torque:]
    percent = _stages([shares for _, shares in main])
    if max(main[-1][1]) < 100 or (len(main[-1][1]) == 1 and percent[-1] != 100):
        ends = f"{'to ' if len(main[-1][1]) == 1 else 'to at most '}{max(main[-1][1]):g}"
        raise NotInPlanError(f"the last pass pulls {ends} %, and a plan ends at 100 % of the target")
    if any(after <= before for before, after in pairwise(percent)):
        raise NotInPlanError("the passes of a plan rise from one to the next: " + "/".join(f"{p:g}" for p in percent))
    if any(shares != (100,) for _, shares in checks):
        raise NotInPlanError("after the first pass at 100 % a plan has check passes at 100 % only")
    for what, some in (("the passes", main), ("the check passes", checks)):
        if len({steps for steps, _ in some}) > 1:
            raise NotInPlanError(f"{what} of a plan all follow one order, and these do not")
    for number, most, what in ((len(main), MOST_PASSES, "passes"), (len(checks), MOST_CHECKS, "check passes"),
                               (procedure.tools_at_once, MOST_TOOLS, "tools at once")):  # fmt: skip
        if number > most:
            raise NotInPlanError(f"{number} {what}: a plan has at most {most}")
    tools, groups = procedure.tools_at_once, procedure.asked.groups if procedure.asked else ()
    order, listed = _named(main[0][0], count, tools, groups)
    check_order: Order = "circular"
    if checks:
        check_order, again = _named(checks[0][0], count, tools, groups)
        if again and listed and again != listed:
            raise NotInPlanError("a plan holds one listed sequence, and passes and check passes have two")
        listed = listed or again
    grouped = "grouped" in (order, check_order)
    return PlannedProcedure(
        order=order, percent=percent, check_passes=len(checks), check_order=check_order, tools_at_once=tools,
        groups=groups if grouped else (), listed=listed,
        settings=tuple(shares for _, shares in main) if any(len(shares) > 1 for _, shares in main) else (),
    )  # fmt: skip


def _torque_rounds(rounds: Sequence[Round]) -> int:
    """How many rounds are passes of the plan; those after them are its check passes.

    The first round that pulls all bolts to the target ends them, or the last one with settings of single bolts when
    these reach the target in the mean.
    """
    own = max((k for k, (_, shares) in enumerate(rounds, start=1) if len(shares) > 1), default=0)
    if own and fmean(rounds[own - 1][1]) >= 100:
        return own
    return next((k for k in range(max(own, 1), len(rounds)) if rounds[k - 1][1] == (100,)), len(rounds))


def _stages(main: Sequence[tuple[float, ...]]) -> tuple[float, ...]:
    """Percent of each pass: its setting, or the mean of settings that differ; those of the last are to leave 100."""
    last = main[-1][0] if len(main[-1]) == 1 else 100.0
    return (*(round(fmean(shares), 1) if len(shares) > 1 else shares[0] for shares in main[:-1]), last)


def to_plan(joint_text: str, procedure: RingProcedure, file: str = "joint") -> str:
    """The text of a joint file with this procedure in place of its own, everything else as it was.

    The text says that nobody has approved it yet. NotInPlanError when the procedure does not fit a plan or this joint;
    SpecificationError when `joint_text` is no joint file.
    """
    spec = read_specification(joint_text, file)
    count = max(bolt for pull in procedure.pulls for bolt in pull.bolts)
    if count != spec.fasteners.count:
        raise NotInPlanError(f"the procedure is for {count} bolts, {spec.id} has {spec.fasteners.count} fasteners")
    found = planned(procedure, count)
    if found.settings and spec.target.method != "torque":
        raise NotInPlanError(f"its bolts have settings of their own, which go with the method torque; {spec.id} has "
                             f"the method {spec.target.method}")
    if found.settings and spec.target.prevailing_torque is not None:
        raise NotInPlanError(f"its bolts have settings of their own in shares of the load, and with the drag of "
                             f"{spec.target.prevailing_torque} a share of the torque of {spec.id} is another share of "
                             "the load")
    table = found.toml()
    lines = joint_text.split("\n")
    first, last = _table(joint_text, "procedure")
    kept = [line for line in lines[first:last] if _key_of(line) in _KEPT or line.lstrip().startswith("#")]
    draft = [*lines[:first], *table.rstrip("\n").split("\n"), *kept, "", *lines[last:]]
    at = lines_of(joint_text)[("source", "approved_by")] - 1
    draft[at if at < first else at + len(draft) - len(lines)] = f'approved_by = "{NOBODY}"'
    text = "\n".join(draft)
    read_specification(text, file)  # what is handed on can be read
    return text


def _key_of(line: str) -> str:
    found = re.match(r"\s*([A-Za-z_]+)\s*=", line)
    return found[1] if found else ""


def _table(text: str, name: str) -> tuple[int, int]:
    """Lines (from 0) of the keys of a table: after its heading, up to the next heading or the end."""
    lines = text.split("\n")
    heading = lines_of(text)[(name,)]
    if not re.match(rf"\s*\[\s*{name}\s*\]", lines[heading - 1]):
        raise NotInPlanError(f"the joint file has no heading [{name}] on a line of its own; write the table with one")
    last = next((n for n in range(heading, len(lines)) if _HEADING.match(lines[n])), len(lines))
    return heading, last


def _rounds(procedure: RingProcedure, count: int) -> list[Round]:
    """The pulls as passes over all bolts, settings in percent to a hundredth where bolts have their own."""
    rounds = []
    for one in procedure.passes:
        for part in _split(one, count):
            shares = {round(100 * share, 9) for pull in part.pulls for share in pull.shares}
            by_bolt = {bolt: share for pull in part.pulls for bolt, share in zip(pull.bolts, pull.shares, strict=True)}
            own = tuple(round(100 * by_bolt[bolt], 2) for bolt in sorted(by_bolt))
            level = (shares.pop(),) if len(shares) == 1 else own
            rounds.append((tuple(pull.bolts for pull in part.pulls), level))
    return rounds


def _split(one: RingPass, count: int) -> list[RingPass]:
    """A pass that goes over the bolts more than once, as explicit steps may, cut where each bolt has had its pull."""
    parts, at, seen = [], 0, set[int]()
    for number, pull in enumerate(one.pulls, start=1):
        if seen & set(pull.bolts):
            again = min(seen & set(pull.bolts))
            raise NotInPlanError(
                f"step {number} of {one.name} pulls bolt {again} again before every bolt has had its turn; a pass of a "
                "plan holds each fastener once"
            )
        seen |= set(pull.bolts)
        if len(seen) == count:
            parts.append(RingPass(one.name, one.pulls[at:number]))
            at, seen = number, set()
    if seen:
        raise NotInPlanError(
            f"{one.name} ends with a round that leaves bolts out; a pass of a plan holds each fastener"
        )
    return parts


def _named(steps: Steps, count: int, tools: int, groups: Sequence[Sequence[int]]) -> tuple[Order, tuple[int, ...]]:
    """The order that makes these steps, and the sequence where it has to be listed."""
    for order in _ORDERS:
        if order_steps(order, count, tools_at_once=tools, groups=groups) == steps:
            return order, ()
    sequence = tuple(bolt for step in steps for bolt in step)
    if in_steps(sequence, tools) != steps:
        raise NotInPlanError(f"its steps do not use {tools} tools each time, and a plan with a listed order does")
    return "listed", sequence
