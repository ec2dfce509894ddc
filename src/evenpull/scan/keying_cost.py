"""What keying a pack of cards in leaves wrong: expected errors for one person and for two who key blind to each other.

Rates: A. Paulsen, S. Overgaard, J. M. Lauritsen, Quality of data entry using single entry, double entry and automated
forms processing, PLoS ONE 7 (4), e35087, 2012, doi.org/10.1371/journal.pone.0035087: 0.370 errors per 1,000 fields
keyed by one person, 0.046 keyed by two. The counts behind them, 8 and 1 of 21,600 fields, are from memory; the tests
show that they give back the published rates. Those forms were clean clinical questionnaires filled in at a desk: wet
cards from a site will be worse, by how much nobody has published.
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy import stats

from evenpull.statistics.sampling import clopper_pearson
from evenpull.statistics.sane import probabilities, whole

STUDY_FIELDS, STUDY_SINGLE, STUDY_DOUBLE = 21_600, 8, 1
SOURCE = "Paulsen, Overgaard, Lauritsen, PLoS ONE 7 (4), e35087, 2012: clean questionnaires, wet cards will be worse"
MOST_FIELDS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class ResidualErrors:
    """Wrong values that stay in the record. `expected` at the published rate; `low` and `high` with what the study
    itself leaves open and the chance of this very pack; `keyed` values that people type for it."""

    expected: float
    low: int
    high: int
    keyed: int


@dataclass(frozen=True, slots=True)
class KeyingCost:
    fields: int
    single: ResidualErrors
    double: ResidualErrors
    source: str = SOURCE


def keying_cost(fields: int, confidence: float = 0.95) -> KeyingCost:
    """Expected wrong values after keying `fields` values from paper, by one person and by two.

    The interval takes the Clopper-Pearson limits of the study's rate, at half of what may be missed, and of each the
    binomial range of a pack of this size at the other half: it covers at least `confidence` (Bonferroni). Raises
    ValueError for a count below 0 and a confidence outside 0 to 1.
    """
    whole(0, MOST_FIELDS, fields=fields)
    probabilities(confidence=confidence)
    return KeyingCost(
        fields,
        _residual(fields, STUDY_SINGLE, confidence, keyed=fields),
        _residual(fields, STUDY_DOUBLE, confidence, keyed=2 * fields),
    )


def _residual(fields: int, wrong: int, confidence: float, keyed: int) -> ResidualErrors:
    each = (1 + confidence) / 2
    low, high = clopper_pearson(wrong, STUDY_FIELDS, each)
    least = int(stats.binom.ppf((1 - each) / 2, fields, low)) if fields else 0
    most = int(stats.binom.ppf((1 + each) / 2, fields, high)) if fields else 0
    return ResidualErrors(fields * wrong / STUDY_FIELDS, max(0, least), most, keyed)
