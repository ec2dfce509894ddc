"""What stands beside the picture of a joint's curves: how curves and records go together, files, drift."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.store.services import curves_kept, curves_learning, curves_matching
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.store.services.curves_learning import DriftRow
from evenpull.store.services.curves_matching import Matching


@dataclass(frozen=True)
class JointCurves:
    files: tuple[CurveFileRow, ...]
    matching: Matching
    drift: DriftRow | None


def about(joint_id: str) -> JointCurves:
    """Empty for a joint without curves."""
    return JointCurves(tuple(curves_kept.files(joint_id)), curves_matching.summary(joint_id),
                       curves_learning.drift_of(joint_id))  # fmt: skip
