"""One call judges a column of curves: features, then verdicts on one or two bases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from evenpull.curve.columns import Curves
from evenpull.curve.expectation import Expectation
from evenpull.curve.features import FeatureTable, measure
from evenpull.curve.learned import Learned
from evenpull.curve.verdicts import Verdicts, verdicts


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """Features, verdicts on the mechanics of the joint, and on learned windows where there are any. Both are shown;
    neither replaces the other."""

    features: FeatureTable
    mechanics: Verdicts
    learned: Verdicts | None


def judge(curves: Curves, expectation: Expectation, learned: Learned | None = None) -> Judged:
    """Judges all curves of one column. CurveError where the expectation is not of as many curves."""
    features = measure(curves, target=expectation.target)
    return Judged(
        features, verdicts(features, expectation),
        None if learned is None else verdicts(features, learned.limits(expectation), learned.basis),
    )


def judged_in_parts(parts: Iterator[tuple[Curves, Expectation]], learned: Learned | None = None) -> Iterator[Judged]:
    """Column after column, as `parquet.read_parts` gives them: the memory is that of one part."""
    for curves, expectation in parts:
        yield judge(curves, expectation, learned)
