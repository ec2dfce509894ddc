"""The table of procedures: values against hand counts; the two kinds of result never in one table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from evenpull.plan.orders import circular, star
from evenpull.ring.flange.model import condense
from evenpull.ring.model import ring_model
from evenpull.ring.search.compare import compare, walking_distance
from evenpull.ring.search.goal import Goal
from evenpull.ring.search.limits import worst_states
from evenpull.ring.search.trajectory import follow
from evenpull.ring.stepping import Pull, run
from tests.ring.given import given_paths, read_given


def of(*steps: tuple[int, ...]) -> list[Pull]:
    return [Pull(step, (1.0,) * len(step)) for step in steps]


def test_walking_distance_counted_by_hand() -> None:
    place = np.pi * 0.8 / 8  # m between neighbours on eight bolts, circle of 0.8 m
    assert walking_distance(of(*((b,) for b in range(8))), 8, 0.8) == pytest.approx(7 * place)
    assert walking_distance(of((0,), (4,), (2,), (6,)), 8, 0.8) == pytest.approx((4 + 2 + 4) * place)
    assert walking_distance(of((0,), (7,), (1,)), 8, 0.8) == pytest.approx((1 + 2) * place)  # the shorter way round
    assert walking_distance(of((0, 4), (1, 5), (2, 6), (3, 7)), 8, 0.8) == pytest.approx(3 * place)
    assert walking_distance(of((0, 4), (5, 1)), 8, 0.8) == pytest.approx(place)  # whoever is nearer takes the bolt
    assert walking_distance(of((0, 4), (3,), (1,)), 8, 0.8) == pytest.approx(place)  # the other tool waits
    assert walking_distance(of((7, 3), (0, 4)), 8, 0.8) == pytest.approx(place)  # over the first bolt
    assert walking_distance(of((0,)), 8, 0.8) == 0.0
    assert walking_distance([], 8, 0.8) == 0.0


def test_table_of_usual_procedures() -> None:
    case, _, _ = read_given(next(path for path in given_paths() if path.stem == "raised_face_8xM20"))
    condensed = condense(case, radial=2, circumferential=4)
    model, T, D = ring_model(condensed, case.bolts, case.facing.law), case.bolts.target, case.bolts.bolt_circle
    procedures = {
        name: [Pull(tuple(b - 1 for b in step), (T * level,) * len(step)) for level in levels for step in steps]
        for name, steps, levels in (
            ("star", star(8), (1.0,)),
            ("star in three", star(8), (0.3, 0.7, 1.0)),
            ("round the ring", circular(8), (1.0,)),
        )
    }
    goal = Goal(least=0.9, spread=0.2, probability=0.5)
    table = compare(model, condensed.patches, T, goal, D, procedures)
    assert [row.name for row in table.rows] == list(procedures)
    assert [row.pulls for row in table.rows] == [8, 24, 8]
    for row in table.rows:
        path = follow(model, procedures[row.name])
        final = path.final / T
        assert row.standing.least == pytest.approx(final.min())
        assert row.standing.spread == pytest.approx(final.max() - final.min())
        assert row.standing.deviation == pytest.approx(final.std())
        assert row.standing.probability is None
        assert row.worst == worst_states(model, condensed.patches, path)
        assert row.worst.bolt_load[0] == path.loads.max()
    assert table.rows[2].walk == pytest.approx(7 * np.pi * D / 8)
    assert table.rows[0].walk > 2 * table.rows[2].walk
    assert table.rows[1].standing.least > table.rows[0].standing.least

    def evaluate(pulls: Sequence[Pull]) -> np.ndarray:
        factors = np.random.default_rng(1).normal(1.0, 0.05, (300, 8))
        return np.asarray(run(model, pulls)[0][-1] * factors)

    scattered = compare(model, condensed.patches, T, goal, D, procedures, evaluate)
    assert scattered.scattered
    assert not table.scattered
    for row in scattered.rows:
        final = evaluate(procedures[row.name]) / T
        both = (final.min(axis=1) >= 0.9) & (final.max(axis=1) - final.min(axis=1) <= 0.2)
        assert row.standing.probability == pytest.approx(both.mean())
    with pytest.raises(ValueError, match="do not belong in one table"):
        table + scattered
    assert len((table + table).rows) == 6
    with pytest.raises(ValueError, match="samples of shape"):
        compare(model, condensed.patches, T, goal, D, procedures, lambda pulls: np.ones((3, 7)))
