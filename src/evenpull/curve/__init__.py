"""Torque-angle curves: features, verdicts, a simulator of faults, curves in Parquet.

    from evenpull.curve import Curves, measure      # features of a column of curves
    from evenpull.curve.judge import judge          # features and verdicts at once

Angles are in degrees here, as tools record them, and slopes in N.m/deg: `expectation` is the one place where the
radians of `evenpull.joint` become degrees (decision 27). What is named here is loaded when it is asked for: the
compiler behind it takes a second, and a dossier without curves does not need it.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from evenpull.curve.columns import CurveError, Curves
    from evenpull.curve.features import FEATURES, FeatureTable, measure

_FROM = {"CurveError": "columns", "Curves": "columns", "FEATURES": "features", "FeatureTable": "features",
         "measure": "features"}

__all__ = ["FEATURES", "CurveError", "Curves", "FeatureTable", "measure"]


def __getattr__(name: str) -> Any:
    if name not in _FROM:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_FROM[name]}"), name)
