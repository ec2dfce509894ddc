"""The order of one pass that asks least of the most loaded bolt on the way, for a linear law and even final loads.

With a linear law every state on the way depends only on which bolts have been pulled, not in which order: their nuts
have their final travel t = C F, all others stand at zero, and the loads are the least of G'CG/2 - t'G over G >= 0 (see
`bound`). An order is a path from the empty set to the full one, and the order with the least highest load is a
bottleneck path through the sets. Sets that differ by a turn or a mirror image of the ring count as one; the search goes
on with the set that has been reached most gently (Dijkstra's algorithm with the largest instead of the sum; textbook),
so that what it finds is the least over all orders, provided that it has not been cut short. A pull whose own bolt would
be loose right after it, pushed out of work by its neighbours, has no setting and is no way on.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from evenpull.ring.search.trajectory import Steps

Floats = NDArray[np.float64]
_LEAST = 0.02  # of target: below it a setting is none


@dataclass(frozen=True, slots=True)
class Gentlest:
    """`highest` is the highest load of any bolt on the way (N). `proven` says whether no other order of one pass with
    the same number of bolts in each pull has a lower one, for final loads that are exactly even."""

    steps: Steps
    highest: float
    proven: bool
    sets: int  # looked at


def gentlest_order(C: Floats, target: float, tools: int = 1, most_sets: int = 4000) -> Gentlest | None:
    """`C` (n, n) m/N from `bound.compliance`, of a ring whose bolts are all alike; `target` N.

    After `most_sets` different sets the rest is chosen greedily, and `proven` is False. None where no order
    was found whose pulls all have a setting.
    """
    n = len(C)
    if not 1 <= tools <= n:
        raise ValueError(f"{tools} tools at once: 1 to {n} can work on {n} bolts")
    table = _symmetries(n)
    root = np.linalg.cholesky(C).T
    travel = C @ np.full(n, target)
    seen: dict[frozenset[int], Floats] = {}

    def loads(members: frozenset[int]) -> Floats:
        if members not in seen:
            t = np.zeros(n)
            t[list(members)] = travel[list(members)]
            seen[members] = nnls(root, np.linalg.solve(root.T, t))[0]
        return seen[members]

    # heap: worst so far, minus bolts pulled (further on first), a number that breaks ties, set, steps
    heap: list[tuple[float, int, int, frozenset[int], Steps]] = [(0.0, 0, 0, frozenset(), ())]
    done: set[int] = set()
    ties = 0
    cut = False
    while heap:
        worst, _, _, members, steps = heapq.heappop(heap)
        if len(members) == n:
            return Gentlest(steps, worst, not cut and n % tools == 0, len(seen))
        name = _name(members, table)
        if name in done:
            continue
        done.add(name)
        follow = []
        for step in combinations(sorted(set(range(n)) - members), tools) if members else _first_steps(n, tools):
            after = members | set(step)
            F = loads(after)
            if F[list(step)].min() >= _LEAST * target:
                follow.append((max(worst, float(F.max())), float(F.max()), step, after))
        if len(seen) > most_sets and not cut:
            cut, heap = True, []  # from here on greedily: only the gentlest next step of the set in hand
        if cut and follow:
            follow = [min(follow, key=lambda one: (one[0], one[1], one[2]))]
        for reached, _, step, after in follow:
            ties += 1
            heapq.heappush(heap, (reached, -len(after), ties, after, (*steps, step)))
    return None


def _first_steps(n: int, tools: int) -> list[tuple[int, ...]]:
    """By symmetry bolt 0 is one of the first. Where the tools do not go into n, the first pull has fewer."""
    size = n % tools or tools
    return [(0, *others) for others in combinations(range(1, n), size - 1)]


def _symmetries(n: int) -> NDArray[np.int64]:
    """(2 n, n): 2 to the place of each bolt after each turn and each mirror image."""
    bolts = np.arange(n)
    turns = (bolts[None, :] + bolts[:, None]) % n
    return np.asarray(2 ** np.concatenate([turns, (-turns) % n]), dtype=np.int64)


def _name(members: frozenset[int], table: NDArray[np.int64]) -> int:
    """The same number for all sets that are turns or mirror images of each other."""
    return int(table[:, sorted(members)].sum(axis=1).min()) if members else 0
