"""From the text of a ring file to the loads after every pull, against three-dimensional results.

Source: tests/ring/given (its README). The same accuracy is asked of the ring model itself in tests/ring/test_given.py.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evenpull.prediction import predict, read_prediction
from evenpull.ring.laws import LinearLaw
from tests.prediction.files import of_given
from tests.ring.given import given_paths, read_given

PATHS = given_paths()
SMALL = [path for path in PATHS if "8xM20" in path.name or "4xM16" in path.name]


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_the_case_arrives_as_it_was_given(path: Path) -> None:
    wanted, linear, file = read_given(path)
    for which in (0, 13):
        case = read_prediction(of_given(path, which)[0], "t.toml").case
        made, asked = case.bolts, wanted.bolts
        for name in ("count", "bolt_circle", "d", "stiffness", "bending", "target"):
            assert getattr(made, name) == pytest.approx(getattr(asked, name), rel=1e-12), name
        first, given = case.flanges[0], wanted.flanges[0]
        assert case.alike
        assert (first.bore, first.outside_diameter, first.thickness) == pytest.approx(
            (given.bore, given.outside_diameter, given.thickness)
        )
        assert (first.E, first.nu) == (given.E, given.nu)
        assert first.end.d_w == pytest.approx(given.end.d_w)  # type: ignore[union-attr]
        assert first.end.d_h == pytest.approx(given.end.d_h)  # type: ignore[union-attr]
        if file["results"][which]["gasket_law"].startswith("linear"):
            assert isinstance(case.facing.law, LinearLaw)
            assert case.facing.law.stiffness == pytest.approx(linear.stiffness)
        else:
            assert np.allclose(case.facing.law.curve, wanted.facing.law.curve)  # type: ignore[union-attr]
            assert case.facing.law.unloading == pytest.approx(wanted.facing.law.unloading)  # type: ignore[union-attr]


@pytest.mark.parametrize("path", SMALL, ids=lambda path: path.stem)
@pytest.mark.parametrize("which", [1, 9])
def test_loads_after_every_pull(path: Path, which: int) -> None:
    text, wanted = of_given(path, which)
    (outcome,) = predict(read_prediction(text, "t.toml")).outcomes
    error = outcome.loads / outcome.target - np.array(wanted)
    assert np.abs(error).max() <= 0.02
    assert np.sqrt((error**2).mean()) <= 0.01
    assert outcome.least == pytest.approx(min(wanted[-1]), abs=0.02)
    assert outcome.spread == pytest.approx(max(wanted[-1]) - min(wanted[-1]), abs=0.02)


def test_a_changed_gasket_changes_the_loads() -> None:
    """The comparison above can fail: with half the unloading stiffness it does."""
    text, wanted = of_given(SMALL[-1], 9)
    prediction = read_prediction(text, "t.toml")
    law = prediction.case.facing.law
    softer = replace(law, curve=tuple((2 * w, p) for w, p in law.curve), unloading=law.unloading / 2)  # type: ignore[union-attr,type-var]
    case = replace(prediction.case, facing=replace(prediction.case.facing, law=softer))
    (outcome,) = predict(replace(prediction, case=case)).outcomes
    assert np.abs(outcome.loads / outcome.target - np.array(wanted)).max() > 0.05
