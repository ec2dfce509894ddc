"""In which order the fasteners of a joint are pulled: star, circular, grouped or listed, for 1 to 200 fasteners.

All functions are pure and deterministic. An order is a sequence of steps; a step is the tuple of fastener numbers
(1 ... count) that are pulled at the same time, one for each tool at work. Fasteners are numbered round the ring, or
row by row on a grid.

Sources, all from memory and not re-read: the cross pattern and its group form follow the numbering of the legacy
pattern in ASME PCC-1; "from the most rigid part outwards" is the rule of the RCSC specification and of EN 1090-2 for
structural connections. What counts that are no multiple of four do, and more than one tool, is our generalisation.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

from evenpull.plan.model import Order

MOST_FASTENERS = 200
LEGACY_PATTERN = 32  # up to here the plain cross pattern of the tables, as far as remembered
Steps = tuple[tuple[int, ...], ...]


def order_steps(
    order: Order,
    count: int,
    *,
    tools_at_once: int = 1,
    grid: tuple[int, int] | None = None,
    groups: Sequence[Sequence[int]] = (),
    listed: Sequence[int] = (),
) -> Steps:
    """Steps of one pass over all `count` fasteners, `tools_at_once` of them at a time.

    `grid` is (rows, columns) for structural patterns and changes what "star" means (centre outwards) and "circular"
    (by number); `groups` belongs to "grouped" (default `neighbour_groups`), `listed` to "listed". Raises ValueError
    when the numbers do not fit each other.
    """
    if not 1 <= count <= MOST_FASTENERS:
        raise ValueError(f"{count} fasteners: an order is for 1 to {MOST_FASTENERS}")
    if not 1 <= tools_at_once <= count:
        raise ValueError(f"{tools_at_once} tools at once: 1 to {count} can work on {count} fasteners")
    if grid is not None and grid[0] * grid[1] != count:
        raise ValueError(f"a grid of {grid[0]} x {grid[1]} has {grid[0] * grid[1]} places, not {count}")
    if order == "star":
        return star(count, tools_at_once) if grid is None else centre_outwards(grid, tools_at_once)
    if order == "circular":
        return circular(count, tools_at_once) if grid is None else in_steps(range(1, count + 1), tools_at_once)
    if order == "grouped":
        chosen = [tuple(group) for group in groups] or neighbour_groups(count)
        _each_once([fastener for group in chosen for fastener in group], count, "the groups")
        return tuple(step for group in chosen for step in in_steps(group, tools_at_once))
    if order == "listed":
        _each_once(listed, count, "the list")
        return in_steps(listed, tools_at_once)
    raise ValueError(f"{order!r} is not an order; known: star, circular, grouped, listed")


@lru_cache(maxsize=512)
def star(count: int, tools_at_once: int = 1) -> Steps:
    """The cross pattern: opposite fasteners one after the other, then those at right angles, then the next quarter.

    For a multiple of four: 1, 1 + n/2, 1 + n/4, 1 + 3n/4, and so on with the next start, each start as far as
    possible from the starts before it; above 32 fasteners each four begin with the one farthest from the last pull.
    For other counts opposite pairs (as nearly as an odd count allows) in the same manner. Two pulls that follow each
    other are then at least a fifth of the ring apart above 32 fasteners, up to 32 sometimes less, as in the tables.
    With several tools each step takes fasteners spaced evenly round the ring.
    """
    if tools_at_once > 1:
        return _star_together(count, tools_at_once)
    sequence = _fours(count) if count % 4 == 0 else _pairs(count)
    return tuple((place + 1,) for place in sequence)


def _fours(count: int) -> list[int]:
    quarter = count // 4
    sequence: list[int] = []
    for start in _far_apart(quarter):
        if count > LEGACY_PATTERN and sequence:
            places = (start + turn * quarter for turn in range(4))
            start = max(places, key=lambda place: ring_distance(place, sequence[-1], count))
        sequence.extend((start + turn * quarter) % count for turn in (0, 2, 1, 3))
    return sequence


def _pairs(count: int) -> list[int]:
    half = (count + 1) // 2
    sequence: list[int] = []
    waiting: int | None = None  # the one without a partner of an odd count: it comes as soon as it is far away
    for start in _far_apart(half):
        if start + half >= count:
            waiting = start
        else:
            pair = [start, start + half]
            if sequence:  # begin with the end of the pair that is farther from the last pull
                pair.sort(key=lambda place: -ring_distance(place, sequence[-1], count))
            sequence.extend(pair)
        if waiting is not None and (not sequence or ring_distance(waiting, sequence[-1], count) > count // 5):
            sequence.append(waiting)
            waiting = None
    return sequence if waiting is None else [*sequence, waiting]


def circular(count: int, tools_at_once: int = 1) -> Steps:
    """Round the ring from fastener 1; with several tools each goes through its own sector at the same time.

    When the count is no multiple of the tools, sectors differ by one fastener and the last step has fewer.
    """
    starts = [tool * count // tools_at_once for tool in range(tools_at_once + 1)]
    sectors = [range(starts[tool] + 1, starts[tool + 1] + 1) for tool in range(tools_at_once)]
    return tuple(
        tuple(sector[step] for sector in sectors if step < len(sector)) for step in range(max(map(len, sectors)))
    )


def neighbour_groups(count: int, size: int | None = None) -> tuple[tuple[int, ...], ...]:
    """Neighbouring fasteners in groups of `size`, the groups in the order of the star.

    Without a size: groups of four, three or two, the largest that leaves at least four groups; else single ones.
    The last group round the ring may be smaller.
    """
    if size is None:
        size = next((s for s in (4, 3, 2) if -(-count // s) >= 4), 1)
    if not 1 <= size <= count:
        raise ValueError(f"groups of {size}: a group has 1 to {count} of {count} fasteners")
    around = [tuple(range(first, min(first + size, count + 1))) for first in range(1, count + 1, size)]
    return tuple(around[number - 1] for (number,) in star(len(around)))


def centre_outwards(grid: tuple[int, int], tools_at_once: int = 1) -> Steps:
    """Grid (rows, columns): from the middle, taken as the most rigid part, outwards in opposite pairs.

    Equal spacing of rows and columns is assumed. Where another place is stiffer, the order has to be listed.
    """
    rows, columns = grid
    count = rows * columns

    def out(number: int) -> int:  # four times the squared distance from the middle, so that it stays whole
        row, column = divmod(number - 1, columns)
        return (2 * row - rows + 1) ** 2 + (2 * column - columns + 1) ** 2

    firsts = sorted(range(1, (count + 1) // 2 + 1), key=lambda number: (out(number), number))
    sequence = [number for first in firsts for number in dict.fromkeys((first, count + 1 - first))]
    return in_steps(sequence, tools_at_once)


def in_steps(sequence: Iterable[int], tools_at_once: int) -> Steps:
    """A sequence of single pulls cut into steps of `tools_at_once`; the last step may have fewer."""
    pulls = tuple(sequence)
    return tuple(pulls[first : first + tools_at_once] for first in range(0, len(pulls), tools_at_once))


def ring_distance(one: int, other: int, count: int) -> int:
    """How many places apart two fasteners of a ring are, the shorter way round."""
    apart = abs(one - other) % count
    return min(apart, count - apart)


def _star_together(count: int, tools: int) -> Steps:
    if count % tools == 0:
        spacing = count // tools
        return tuple(tuple(start + tool * spacing + 1 for tool in range(tools)) for start in _far_apart(spacing))
    steps: list[tuple[int, ...]] = []
    left = list(range(count))
    done: list[int] = []
    while left:
        step = [_farthest(left, done, count)]
        left.remove(step[0])
        while left and len(step) < tools:
            apart = max(min(ring_distance(place, other, count) for other in step) for place in left)
            even = [p for p in left if min(ring_distance(p, other, count) for other in step) == apart]
            step.append(_farthest(even, [*done, *step], count))
            left.remove(step[-1])
        done.extend(step)
        steps.append(tuple(place + 1 for place in step))
    return tuple(steps)


@lru_cache(maxsize=256)
def _far_apart(count: int) -> tuple[int, ...]:
    """Places 0 ... count-1 of a ring, each next as far as possible from all before it."""
    done: list[int] = []
    left = list(range(count))
    while left:
        done.append(_farthest(left, done, count))
        left.remove(done[-1])
    return tuple(done)


def _farthest(left: Sequence[int], done: Sequence[int], count: int) -> int:
    """Of `left`, the place with the largest distance to the nearest of `done`; among equals the one farthest from
    the last done, then from the last but one, and so on; then the smallest number."""
    if not done:
        return left[0]
    nearest = {place: min(ring_distance(place, other, count) for other in done) for place in left}
    widest = max(nearest.values())
    best = [place for place in left if nearest[place] == widest]
    for other in reversed(done):
        if len(best) == 1:
            break
        far = max(ring_distance(place, other, count) for place in best)
        best = [place for place in best if ring_distance(place, other, count) == far]
    return best[0]


def _each_once(numbers: Sequence[int], count: int, what: str) -> None:
    if sorted(numbers) != list(range(1, count + 1)):
        raise ValueError(f"{what} must hold each fastener from 1 to {count} exactly once")
