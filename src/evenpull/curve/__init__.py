"""Torque-angle curves: features, verdicts, a simulator of faults, curves in Parquet.

    from evenpull.curve import Curves, measure      # features of a column of curves
    from evenpull.curve.judge import judge          # features and verdicts at once

Needs the extra `curve` (numba, pyarrow). Angles are in degrees here, as tools record them, and slopes in N.m/deg:
`expectation` is the one place where the radians of `evenpull.joint` become degrees (decision 27).
"""

from evenpull.curve.columns import CurveError, Curves
from evenpull.curve.features import FEATURES, FeatureTable, measure

__all__ = ["FEATURES", "CurveError", "Curves", "FeatureTable", "measure"]
