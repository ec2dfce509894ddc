"""Procedures to pulls, and every procedure that cannot be carried out refused by its key."""

from __future__ import annotations

import pytest

from evenpull.plan.orders import order_steps
from evenpull.prediction.procedures import Asked, ProcedureError, RingPull, free_procedure, make_procedure, pulls_of

STAR = Asked(name="s", order="star", passes=(0.3, 0.7, 1.0), circular_passes=1)


def test_passes_follow_the_order_and_end_with_the_circle() -> None:
    made = make_procedure(STAR, 8)
    order = order_steps("star", 8)
    assert [one.name for one in made.passes] == [
        "pass 1 of 3 (30 %)", "pass 2 of 3 (70 %)", "pass 3 of 3 (100 %)", "circular pass (100 %)"]  # fmt: skip
    assert [pull.bolts for pull in made.passes[1].pulls] == list(order)
    assert {pull.shares for pull in made.passes[1].pulls} == {(0.7,)}
    assert [pull.bolts for pull in made.passes[3].pulls] == [(number,) for number in range(1, 9)]
    assert made.words == "star 30/70/100 %, 1 circular pass, 1 tool"


def test_pulls_are_numbered_from_nought_and_in_newtons() -> None:
    first = pulls_of(make_procedure(STAR, 8), 1e5)[1]
    assert first.bolts == (4,) and first.loads == pytest.approx((3e4,))


def test_tools_at_once_pull_together() -> None:
    made = make_procedure(Asked(name="s", order="star", passes=(1.0,), tools_at_once=4), 16)
    assert made.passes[0].pulls[0] == RingPull((1, 5, 9, 13), (1.0,) * 4)
    assert len(made.pulls) == 4


def test_each_bolt_has_its_own_setting() -> None:
    rows = ((0.5, 0.6, 0.7, 0.8), (1.1, 1.0, 0.9, 1.2))
    made = make_procedure(Asked(name="s", order="listed", listed=(3, 1, 4, 2), settings=rows), 4)
    assert [(pull.bolts, pull.shares) for pull in made.passes[1].pulls] == [
        ((3,), (0.9,)), ((1,), (1.1,)), ((4,), (1.2,)), ((2,), (1.0,))]  # fmt: skip
    assert made.words == "listed, a setting for each bolt in 2 passes, 1 tool"


def test_groups_and_explicit_steps() -> None:
    made = make_procedure(Asked(name="s", order="grouped", groups=((4, 3), (1, 2)), passes=(1.0,)), 4)
    assert [pull.bolts[0] for pull in made.pulls] == [4, 3, 1, 2]
    made = make_procedure(Asked(name="s", steps=(((1, 3), 0.5), ((2, 4), 1.0), ((1, 3), 1.0)), circular_passes=1), 4)
    assert made.tools_at_once == 2 and made.pulls[0] == RingPull((1, 3), (0.5, 0.5))
    assert [pull.bolts for pull in made.passes[1].pulls] == [(1, 3), (2, 4)]


REFUSED = {
    "no way": (Asked(name="s", order="star"), "passes", "passes, settings or steps"),
    "two ways": (Asked(name="s", order="star", passes=(1.0,), settings=((1.0,) * 4,)), "settings", "one of"),
    "no order": (Asked(name="s", passes=(1.0,)), "order", "star, circular"),
    "order beside steps": (Asked(name="s", order="star", steps=(((1, 2, 3, 4), 1.0),)), "order", "leave order out"),
    "left out": (Asked(name="s", steps=(((1, 2), 1.0),)), "steps", "every bolt"),
    "twice in a step": (Asked(name="s", steps=(((1, 1, 2, 3, 4), 1.0),)), "steps", "each bolt once in a step"),
    "no such bolt": (Asked(name="s", steps=(((1, 2, 3, 4, 5), 1.0),)), "steps", "1 to 4"),
    "bolt nought": (Asked(name="s", steps=(((0, 1, 2, 3, 4), 1.0),)), "steps", "1 to 4"),
    "share nought": (Asked(name="s", order="star", passes=(0.0, 1.0)), "passes", "more than 0"),
    "share far above": (Asked(name="s", steps=(((1, 2, 3, 4), 1.6),)), "steps", "at most 1.5"),
    "share not a number": (Asked(name="s", order="star", passes=(float("nan"),)), "passes", "more than 0"),
    "settings too few": (Asked(name="s", order="star", settings=((1.0, 1.0),)), "settings", "4 shares"),
    "listed short": (Asked(name="s", order="listed", listed=(1, 2, 3), passes=(1.0,)), "listed", "each bolt once"),
    "listed twice": (Asked(name="s", order="listed", listed=(1, 2, 3, 3, 4), passes=(1.0,)), "listed", "once"),
    "listed nothing": (Asked(name="s", order="listed", passes=(1.0,)), "listed", "each bolt once"),
    "listed unasked": (Asked(name="s", order="star", listed=(1, 2, 3, 4), passes=(1.0,)), "listed", "listed"),
    "groups miss one": (Asked(name="s", order="grouped", groups=((1, 2), (3,)), passes=(1.0,)), "groups", "once"),
    "groups unasked": (Asked(name="s", order="star", groups=((1, 2, 3, 4),), passes=(1.0,)), "groups", "grouped"),
    "too many tools": (Asked(name="s", order="star", passes=(1.0,), tools_at_once=5), "tools_at_once", "1 to 4"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_refused(what: str) -> None:
    asked, key, allowed = REFUSED[what]
    with pytest.raises(ProcedureError) as caught:
        make_procedure(asked, 4)
    assert caught.value.key == key and allowed in caught.value.allowed


def test_grouped_without_groups_takes_neighbours() -> None:
    made = make_procedure(Asked(name="s", order="grouped", passes=(1.0,)), 8)
    assert [pull.bolts for pull in made.pulls] == list(order_steps("grouped", 8))


def test_free_procedures_are_checked_too() -> None:
    pulls = [RingPull((bolt,), (1.0 + bolt / 10,)) for bolt in (2, 1, 3)]
    assert [pull.shares for pull in free_procedure("found", pulls, 3).pulls] == [(1.2,), (1.1,), (1.3,)]
    with pytest.raises(ProcedureError, match="bolt 4 of 4 would never be pulled"):
        free_procedure("found", pulls, 4)
    with pytest.raises(ProcedureError, match="there is no pull"):
        free_procedure("found", [], 4)
