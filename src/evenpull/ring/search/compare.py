"""One table for several procedures on the same joint.

What follows from elastic interaction alone and what includes torque scatter never stand in one table: a spread without
scatter would look better than any torque tool can do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpull.ring.condensed import Patches
from evenpull.ring.model import RingModel
from evenpull.ring.search.goal import Evaluate, Goal, Standing, stand
from evenpull.ring.search.limits import Worst, worst_states
from evenpull.ring.search.trajectory import check_steps, follow, steps_of
from evenpull.ring.stepping import Pull


@dataclass(frozen=True, slots=True)
class Row:
    """`walk` in m; `standing` holds minimum, spread, standard deviation and, with scatter, the probability of the goal.
    `worst` is without scatter in both kinds of table."""

    name: str
    pulls: int
    standing: Standing
    walk: float
    worst: Worst

    @property
    def scattered(self) -> bool:
        return self.standing.probability is not None


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one kind: all without scatter, or all with it. Raises ValueError for a mixture."""

    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        if len({row.scattered for row in self.rows}) > 1:
            with_scatter = ", ".join(row.name for row in self.rows if row.scattered)
            without = ", ".join(row.name for row in self.rows if not row.scattered)
            raise ValueError(
                f"results with torque scatter ({with_scatter}) and from interaction alone ({without}) do not belong in "
                f"one table: evaluate all of them with scatter, or none"
            )

    @property
    def scattered(self) -> bool:
        return bool(self.rows) and self.rows[0].scattered

    def __add__(self, other: Table) -> Table:
        return Table(self.rows + other.rows)


def compare(
    model: RingModel,
    patches: Patches,
    target: float,
    goal: Goal,
    bolt_circle: float,
    procedures: Mapping[str, Sequence[Pull]],
    evaluate: Evaluate | None = None,
) -> Table:
    """All procedures on one joint, in the order given. `bolt_circle` is a diameter (m); `evaluate` gives final loads
    with scatter, for all procedures or for none. Raises ValueError for pulls that do not fit the ring."""
    rows = []
    for name, pulls in procedures.items():
        check_steps(steps_of(pulls), model.n)
        path = follow(model, pulls)
        final = path.final if evaluate is None else np.asarray(evaluate(pulls), dtype=float)
        if evaluate is not None and (final.ndim != 2 or final.shape[1] != model.n):
            raise ValueError(f"the evaluation gives samples of shape {final.shape}, not (samples, {model.n})")
        standing = stand(final, target, goal)
        walk = walking_distance(pulls, model.n, bolt_circle)
        rows.append(Row(name, len(pulls), standing, walk, worst_states(model, patches, path)))
    return Table(tuple(rows))


def walking_distance(pulls: Sequence[Pull], n: int, bolt_circle: float) -> float:
    """Way along the bolt circle (m) of the tool that walks farthest, the shorter way round each time.

    Each tool starts where its first bolt is. From pull to pull the tools take the bolts so that together they walk as
    little as possible without passing each other: bolts and tools are both taken in their order round the ring, and the
    best shift between them is used. A tool without a bolt in a pull stays where it is; which tools these are is chosen
    for the least way as well, one bolt after the other.
    """
    apart = np.pi * bolt_circle / n
    places: list[int] = []
    walked: list[float] = []
    for pull in pulls:
        new = sorted(pull.bolts)
        while len(places) < len(new):  # a tool that comes into work only now has walked nowhere yet
            free = [bolt for bolt in new if bolt not in places]
            places.append(free[0] if free else new[0])
            walked.append(0.0)
        for tool, bolt in _taken(places, new, n):
            walked[tool] += apart * _around(places[tool], bolt, n)
            places[tool] = bolt
    return max(walked, default=0.0)


def _taken(places: list[int], bolts: list[int], n: int) -> list[tuple[int, int]]:
    """(tool, bolt) pairs."""
    if len(bolts) < len(places):
        pairs = []
        left = list(range(len(places)))
        for bolt in bolts:
            tool = min(left, key=lambda t: (_around(places[t], bolt, n), t))
            left.remove(tool)
            pairs.append((tool, bolt))
        return pairs
    order = sorted(range(len(places)), key=lambda tool: places[tool])
    options = [
        [(tool, bolts[(at + shift) % len(bolts)]) for at, tool in enumerate(order)] for shift in range(len(bolts))
    ]
    return min(options, key=lambda option: sum(_around(places[tool], bolt, n) for tool, bolt in option))


def _around(one: int, other: int, n: int) -> int:
    apart = abs(one - other) % n
    return min(apart, n - apart)
