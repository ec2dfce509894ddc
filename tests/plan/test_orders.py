"""Orders of pulling: every fastener once, far apart, the same every time; the cross pattern against its tables."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.plan.orders import (
    centre_outwards,
    circular,
    neighbour_groups,
    order_steps,
    ring_distance,
    star,
)

ORDERS = st.sampled_from(["star", "circular", "grouped"])

# Legacy cross pattern of ASME PCC-1, from memory, not re-read. Sixteen as it is commonly printed:
# 1,9,5,13 - 3,11,7,15 - 2,10,6,14 - 4,12,8,16.
TABLES = {
    4: [1, 3, 2, 4],
    8: [1, 5, 3, 7, 2, 6, 4, 8],
    12: [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12],
    16: [1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16],
    20: [1, 11, 6, 16, 3, 13, 8, 18, 5, 15, 10, 20, 2, 12, 7, 17, 4, 14, 9, 19],
    24: [1, 13, 7, 19, 4, 16, 10, 22, 2, 14, 8, 20, 5, 17, 11, 23, 3, 15, 9, 21, 6, 18, 12, 24],
    28: [1, 15, 8, 22, 4, 18, 11, 25, 6, 20, 13, 27, 2, 16, 9, 23, 5, 19, 12, 26, 7, 21, 14, 28, 3, 17, 10, 24],
    32: [1, 17, 9, 25, 5, 21, 13, 29, 3, 19, 11, 27, 7, 23, 15, 31, 2, 18, 10, 26, 6, 22, 14, 30, 4, 20, 12, 28, 8, 24,
         16, 32],
}


def single(steps: tuple[tuple[int, ...], ...]) -> list[int]:
    return [fastener for step in steps for fastener in step]


@pytest.mark.parametrize("count", TABLES)
def test_star_follows_the_tables(count: int) -> None:
    assert single(star(count)) == TABLES[count]


@pytest.mark.parametrize("count", range(1, 201))
def test_every_order_pulls_each_fastener_once(count: int) -> None:
    for order in ("star", "circular", "grouped"):
        assert sorted(single(order_steps(order, count))) == list(range(1, count + 1))


@given(ORDERS, st.integers(1, 60), st.integers(1, 16))
def test_every_order_with_several_tools(order: str, count: int, tools: int) -> None:
    tools = min(tools, count)
    steps = order_steps(order, count, tools_at_once=tools)  # type: ignore[arg-type]
    assert sorted(single(steps)) == list(range(1, count + 1))
    assert all(1 <= len(step) <= tools for step in steps)
    assert steps == order_steps(order, count, tools_at_once=tools)  # type: ignore[arg-type]


@pytest.mark.parametrize("count", range(33, 201))
def test_large_stars_keep_consecutive_pulls_a_fifth_apart(count: int) -> None:
    apart = [ring_distance(one, other, count) for one, other in pairwise(single(star(count)))]
    assert min(apart) >= count / 5


@pytest.mark.parametrize("count", range(5, 201))
def test_star_never_pulls_neighbours_one_after_the_other(count: int) -> None:
    apart = [ring_distance(one, other, count) for one, other in pairwise(single(star(count)))]
    assert min(apart) >= 2


def test_four_and_three_cannot_avoid_neighbours() -> None:
    assert single(star(4)) == [1, 3, 2, 4]
    assert single(star(3)) == [1, 3, 2]


@pytest.mark.parametrize("count", range(2, 201, 2))
def test_even_stars_go_in_opposite_pairs(count: int) -> None:
    order = single(star(count))
    assert all(abs(a - b) == count // 2 for a, b in zip(order[::2], order[1::2], strict=True))


@pytest.mark.parametrize("count", range(8, 201, 4))
def test_every_four_of_a_star_load_the_four_quarters(count: int) -> None:
    order = single(star(count))
    for first in range(0, count, 4):
        assert {(place - 1) * 4 // count for place in order[first : first + 4]} == {0, 1, 2, 3}


@given(st.integers(1, 25), st.integers(2, 8))
def test_simultaneous_star_tools_stand_evenly_round_the_ring(per_tool: int, tools: int) -> None:
    count = per_tool * tools
    for step in star(count, tools):
        ordered = sorted(step)
        assert all(b - a == per_tool for a, b in pairwise(ordered))


def test_two_tools_pull_opposite_fasteners() -> None:
    assert star(16, 2) == ((1, 9), (5, 13), (3, 11), (7, 15), (2, 10), (6, 14), (4, 12), (8, 16))
    assert star(16, 4)[0] == (1, 5, 9, 13)
    assert star(7, 2)[0] == (1, 4)


def test_circular_gives_each_tool_its_sector() -> None:
    assert circular(6) == ((1,), (2,), (3,), (4,), (5,), (6,))
    assert circular(7, 2) == ((1, 4), (2, 5), (3, 6), (7,))


def test_groups_come_in_star_order_and_in_the_stated_sequence() -> None:
    assert neighbour_groups(16) == ((1, 2, 3, 4), (9, 10, 11, 12), (5, 6, 7, 8), (13, 14, 15, 16))
    assert neighbour_groups(3) == ((1,), (3,), (2,))
    stated = order_steps("grouped", 4, groups=((3, 4), (1, 2)), tools_at_once=2)
    assert stated == ((3, 4), (1, 2))


@given(st.integers(1, 14), st.integers(1, 14))
def test_grid_begins_in_the_middle_and_goes_outwards(rows: int, columns: int) -> None:
    order = single(centre_outwards((rows, columns)))
    assert sorted(order) == list(range(1, rows * columns + 1))

    def out(number: int) -> int:
        row, column = divmod(number - 1, columns)
        return (2 * row - rows + 1) ** 2 + (2 * column - columns + 1) ** 2

    assert [out(number) for number in order] == sorted(out(number) for number in order)


def test_grid_takes_opposite_places_one_after_the_other() -> None:
    assert single(centre_outwards((2, 4))) == [2, 7, 3, 6, 1, 8, 4, 5]
    assert order_steps("star", 8, grid=(2, 4), tools_at_once=2)[0] == (2, 7)
    assert single(order_steps("circular", 6, grid=(2, 3))) == [1, 2, 3, 4, 5, 6]


def test_listed_goes_as_listed() -> None:
    assert order_steps("listed", 4, listed=(2, 4, 1, 3)) == ((2,), (4,), (1,), (3,))


@pytest.mark.parametrize(
    ("order", "count", "more", "says"),
    [
        ("star", 0, {}, "1 to 200"),
        ("star", 201, {}, "1 to 200"),
        ("star", 4, {"tools_at_once": 5}, "5 tools"),
        ("circular", 4, {"tools_at_once": 0}, "0 tools"),
        ("star", 8, {"grid": (3, 3)}, "9 places"),
        ("listed", 4, {"listed": (1, 2, 3, 3)}, "exactly once"),
        ("listed", 4, {}, "exactly once"),
        ("grouped", 4, {"groups": ((1, 2), (3,))}, "exactly once"),
        ("spiral", 4, {}, "not an order"),
    ],
)
def test_numbers_that_do_not_fit_are_refused(order: str, count: int, more: dict[str, object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        order_steps(order, count, **more)  # type: ignore[arg-type]
