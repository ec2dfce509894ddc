"""Orders to try: usual ones, and neighbours of an order by small changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from evenpull.ring.search.trajectory import Steps, check_steps


def usual_orders(n: int, tools: int) -> dict[str, Steps]:
    """Orders of one pass by name, `tools` bolts at a time, each bolt once.

    Round the ring (each tool its own sector), round the ring in blocks of neighbours, neighbours outwards from one
    bolt to both sides, opposite bolts, and in halves (every other bolt, then the rest).
    """
    one = range(n)
    found = {
        "round the ring": _sectors(list(one), tools),
        "outwards from one bolt": _cut(_outwards(n), tools),
        "in halves": _sectors([*range(0, n, 2)], tools) + _sectors([*range(1, n, 2)], tools),
    }
    if tools > 1:
        found["round the ring in blocks"] = _cut(list(one), tools)
    if n % 2 == 0:
        opposite = [bolt for start in range(n // 2) for bolt in (start, start + n // 2)]
        found["opposite bolts"] = _cut(opposite, tools)
    return {name: steps for name, steps in found.items() if len(steps) == -(-n // tools)}


def of_tools(patterns: Mapping[str, Steps], n: int, tools: int) -> dict[str, Steps]:
    """Those of the caller's patterns that pull each bolt once and at most `tools` at a time. Raises ValueError for a
    pattern that does not fit the ring."""
    fitting = {}
    for name, steps in patterns.items():
        check_steps(steps, n)
        bolts = [bolt for step in steps for bolt in step]
        if sorted(bolts) == list(range(n)) and max(map(len, steps)) <= tools and len(steps) == -(-n // tools):
            fitting[name] = steps
    return fitting


def canonical(steps: Steps, n: int) -> Steps:
    """The same for all orders that are turns or mirror images of each other: the smallest of them."""
    images = (
        tuple(tuple(sorted((sign * bolt + turn) % n for bolt in step)) for step in steps)
        for sign in (1, -1)
        for turn in range(n)
    )
    return min(images)


def changed(steps: Steps, rng: np.random.Generator) -> Iterator[Steps]:
    """Endless neighbours of an order: two bolts of different steps swapped, two steps swapped, one step moved."""
    count = len(steps)
    if count < 2:
        return
    while True:
        one, other = (int(k) for k in rng.choice(count, size=2, replace=False))
        new = [list(step) for step in steps]
        match int(rng.integers(3)):
            case 0:
                a, b = int(rng.integers(len(new[one]))), int(rng.integers(len(new[other])))
                new[one][a], new[other][b] = new[other][b], new[one][a]
            case 1:
                new[one], new[other] = new[other], new[one]
            case _:
                new.insert(other, new.pop(one))
        yield tuple(tuple(step) for step in new)


def _outwards(n: int) -> list[int]:
    places = [0]
    for away in range(1, n // 2 + 1):
        places.extend(dict.fromkeys((away, (-away) % n)))
    return places


def _cut(bolts: list[int], tools: int) -> Steps:
    return tuple(tuple(bolts[at : at + tools]) for at in range(0, len(bolts), tools))


def _sectors(bolts: list[int], tools: int) -> Steps:
    length = -(-len(bolts) // tools)
    return tuple(tuple(bolts[at::length]) for at in range(length))
