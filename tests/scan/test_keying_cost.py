"""Errors that keying leaves: against the published study and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.scan.keying_cost import STUDY_DOUBLE, STUDY_FIELDS, STUDY_SINGLE, keying_cost
from evenpull.statistics.sampling import clopper_pearson


def test_the_counts_give_back_the_published_rates() -> None:
    """Paulsen and others, PLoS ONE 7 (4), e35087, 2012: per 1,000 fields 0.370 (0.160 to 0.729) by one person and
    0.046 (0.001 to 0.258) by two; the intervals from memory."""
    for count, rate, low, high in ((STUDY_SINGLE, 0.370, 0.160, 0.729), (STUDY_DOUBLE, 0.046, 0.001, 0.258)):
        assert 1000 * count / STUDY_FIELDS == pytest.approx(rate, abs=0.0005)
        assert [1000 * limit for limit in clopper_pearson(count, STUDY_FIELDS)] == pytest.approx([low, high], abs=0.001)


def test_a_turnaround_of_3000_joints() -> None:
    """168,000 readings: about 62 wrong values keyed once, about 8 keyed twice (by hand from the published rates)."""
    cost = keying_cost(168_000)
    assert (round(cost.single.expected), round(cost.double.expected)) == (62, 8)
    assert cost.single.low < 62 < cost.single.high and cost.double.low <= 7 < cost.double.high
    assert (cost.single.keyed, cost.double.keyed) == (168_000, 336_000)
    assert "2012" in cost.source and "wet cards" in cost.source


def test_the_interval_covers_packs_keyed_at_any_rate_the_study_allows() -> None:
    rng = np.random.default_rng(3)
    fields, confidence = 20_000, 0.9
    cost = keying_cost(fields, confidence)
    for rate in clopper_pearson(STUDY_SINGLE, STUDY_FIELDS, (1 + confidence) / 2):
        packs = rng.binomial(fields, rate, 20_000)
        assert ((packs >= cost.single.low) & (packs <= cost.single.high)).mean() >= (1 + confidence) / 2 - 0.01


@given(st.integers(0, 10**7), st.floats(0.5, 0.999))
def test_two_leave_no_more_than_one(fields: int, confidence: float) -> None:
    cost = keying_cost(fields, confidence)
    assert cost.double.expected <= cost.single.expected
    assert cost.double.high <= cost.single.high
    for one in (cost.single, cost.double):
        assert 0 <= one.low <= one.expected + 1 and one.expected - 1 <= one.high <= fields


@pytest.mark.parametrize(("fields", "confidence"), [(-1, 0.95), (10, 0.0), (10, 1.0), (10, float("nan"))])
def test_what_makes_no_sense_is_refused(fields: int, confidence: float) -> None:
    with pytest.raises(ValueError, match=r"."):
        keying_cost(fields, confidence)
