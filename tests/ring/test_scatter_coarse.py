"""The coarse model with its nominal difference against the fine one, assembly by assembly."""

from __future__ import annotations

import numpy as np
import pytest

from evenpull.ring.flange.model import condense
from evenpull.ring.model import ring_model
from evenpull.ring.scatter.assembly import LoadPull, assemble, by_torque
from evenpull.ring.scatter.coarse import PATCHES, coarse_difference, corrected
from evenpull.ring.scatter.friction import NutFriction

from .scatter_rings import SHEET, small_case, star_and_circular


def test_correction_brings_the_coarse_assemblies_nearer_to_the_fine_ones() -> None:
    case = small_case(41, SHEET)
    fine, coarse = (ring_model(condense(case, **how), case.bolts, SHEET) for how in ({}, PATCHES))
    friction = NutFriction(K=0.15, F_ref=1e5, cv_nut=0.08, cv_pull=0.04, static_excess=0.0)
    steps = [
        by_torque(LoadPull(bolts, (share * case.bolts.target,)), friction, case.bolts.d)
        for bolts, share in star_and_circular(8)
    ]
    difference = coarse_difference(fine, coarse, case.bolts, steps, friction=friction)
    of_fine, of_coarse = (
        assemble(model, case.bolts, steps, samples=50, rng=np.random.default_rng(1), friction=friction)
        for model in (fine, coarse)
    )
    before = np.abs(of_coarse.loads - of_fine.loads) / case.bolts.target
    after = np.abs(corrected(of_coarse, difference).loads - of_fine.loads) / case.bolts.target
    rms_before, rms_after = (float(np.sqrt((error**2).mean())) for error in (before, after))
    assert rms_after < 0.9 * rms_before
    assert rms_before < 0.0015  # the coarse model alone is within 0.15 % of the target already
    assert float(np.abs(difference).max()) / case.bolts.target < 0.006
    with pytest.raises(ValueError, match="does not fit"):
        corrected(of_coarse, difference[1:])
