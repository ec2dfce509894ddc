"""Pulls of the demo crews: what really happened at the wrench, before any tool wrote it down in its own way.

Everything is deterministic: the scatter comes from one seeded generator per joint, the times from the plan's order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from evenpull.plan.model import Pass, Plan

SEED = 20260316


@dataclass(frozen=True)
class Pull:
    """One pull on one fastener. Torque in N.m at the fastener, angle in degrees, `at` the local time at the site.

    `written` overrides what the tool wrote in a field (keys: "torque", "day", "joint", "result"), so that a slip of
    the record stands beside what happened.
    """

    joint: str
    fastener: int
    pass_number: int
    of_passes: int
    check: bool
    torque: float
    angle: float
    tool: str
    operator: str
    at: datetime
    counter: int = 0
    loosening: bool = False
    stopped_by_hand: bool = False
    new_part: bool = False
    written: Mapping[str, str] = field(default_factory=dict)


class Scatter:
    """Bell-shaped scatter between -1 and +1 from one seeded generator (the mean of four even draws)."""

    def __init__(self, key: int) -> None:
        self._rng = np.random.default_rng([SEED, key])

    def draw(self) -> float:
        """One value in (-1, 1), mean 0."""
        return float(self._rng.random(4).sum() / 2.0 - 1.0)

    def between(self, low: float, high: float) -> float:
        """One even draw in [low, high)."""
        return float(low + (high - low) * self._rng.random())


def work_pass(
    plan: Plan,
    step: Pass,
    start: datetime,
    scatter: Scatter,
    *,
    tools: Mapping[int, str] | str | tuple[str, ...],
    operator: str,
    seconds: int = 40,
    share: float = 0.025,
    angle: tuple[float, float] = (0.0, 0.0),
) -> list[Pull]:
    """All pulls of one pass in the planned order, `seconds` apart; fasteners of one group are pulled together.

    `tools`: one serial, one serial for each wrench of a group, or a serial for each fastener. `share` is the widest
    deviation from the target of the pass, `angle` the range of the turned angle in degrees.
    """
    pulls: list[Pull] = []
    at = start
    for group in step.order:
        for place, number in enumerate(group):
            if isinstance(tools, str):
                tool = tools
            elif isinstance(tools, tuple):
                tool = tools[place % len(tools)]
            else:
                tool = tools[number]
            pulls.append(
                Pull(
                    joint=plan.spec.id,
                    fastener=number,
                    pass_number=step.number,
                    of_passes=len(plan.passes),
                    check=step.check,
                    torque=step.torque * (1.0 + share * scatter.draw()),
                    angle=scatter.between(*angle),
                    tool=tool,
                    operator=operator,
                    at=at + timedelta(seconds=3 * place),
                )
            )
        at += timedelta(seconds=seconds + round(8 * scatter.draw()))
    return pulls


def index_of(pulls: list[Pull], joint: str, fastener: int, pass_number: int) -> int:
    """Position of the first pull on that fastener in that pass; ValueError when there is none."""
    for place, pull in enumerate(pulls):
        if (pull.joint, pull.fastener, pull.pass_number) == (joint, fastener, pass_number):
            return place
    raise ValueError(f"no pull on {joint}, fastener {fastener}, pass {pass_number}")


def drop(pulls: list[Pull], joint: str, fastener: int, pass_number: int) -> None:
    """Take one pull out: the crew never made it."""
    del pulls[index_of(pulls, joint, fastener, pass_number)]


def change(pulls: list[Pull], joint: str, fastener: int, pass_number: int, **fields: object) -> None:
    """Change what happened (or what was written) in one pull."""
    place = index_of(pulls, joint, fastener, pass_number)
    pulls[place] = replace(pulls[place], **fields)  # type: ignore[arg-type]


def number_readings(pulls: Iterable[Pull], first: Mapping[str, int]) -> list[Pull]:
    """Give each pull the reading number of its tool, rising in the order of the list."""
    following = dict(first)
    numbered: list[Pull] = []
    for pull in pulls:
        following[pull.tool] += 1
        numbered.append(replace(pull, counter=following[pull.tool]))
    return numbered
