"""First estimate of the nominal size. VDI 2230-1:2003 Table A7 from memory, not re-read; checked against the
permissible assembly preloads, which agree with printed values.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue
from evenpull.catalogue.first_size import load_kinds, load_steps, size_at_step, size_classes
from evenpull.joint.parts.first_size import next_step
from tests.mechanics.formulas import recompute
from tests.reference.evaluate import NotEvaluatedError, evaluate

STEPS = [250, 400, 630, 1000, 1600, 2500, 4000, 6300, 10000, 16000, 25000, 40000, 63000, 100000, 160000, 250000, 400000,
         630000]
Q = "nominal diameter for a first estimate (read at the load step after the method shifts)"


def test_load_steps_are_the_preferred_numbers_R5() -> None:
    """ISO 3 series R5, rounded (2.5, 4, 6.3, 10, 16)."""
    assert list(load_steps()) == STEPS
    assert all(high / low == pytest.approx(10**0.2, rel=0.02) for low, high in pairwise(load_steps()))


@pytest.mark.parametrize("name", ["8.8", "10.9", "12.9"])
def test_sizes_rise_and_carry_their_step(name: str) -> None:
    """Every size is a coarse thread whose permissible assembly preload at mu_G = 0.12 is at least the load step, and no
    size is more than twice what the step asks for (VDI 2230-1 R7); the stronger class never needs the larger size."""
    steps = [step for step in load_steps() if 1000 <= step <= (400_000 if name == "8.8" else 630_000)]
    sizes = [size_at_step(step, name) for step in steps]
    assert sizes == sorted(sizes)
    for step, d in zip(steps, sizes, strict=True):
        size = joint.thread(f"M{d * 1e3:g}")
        load = joint.F_M_zul(size, joint.strength(name, size), 0.12)
        assert step <= load < (2.1 if d > 0.003 else 6) * step
        weaker = [other for other in size_classes() if float(other) <= float(name)]
        assert all(size_at_step(step, other) >= d for other in weaker if step <= 400_000)


@pytest.mark.parametrize(
    ("load", "kind", "method", "name", "step", "shifted", "d"),
    [  # computed by hand from the rules of Table A7
        (8500, "static, concentric", "yield", "10.9", 10000, 10000, "M6"),
        (8500, "static, transverse", "torque wrench", "12.9", 10000, 100000, "M16"),
        (8500, "dynamic, transverse", "simple screwdriver", "8.8", 10000, 160000, "M24"),
        (10000, "dynamic, concentric", "torque wrench", "8.8", 10000, 25000, "M12"),
        (10001, "dynamic, eccentric", "precision screwdriver", "10.9", 16000, 63000, "M14"),
        (2, "static, eccentric", "angle", "8.8", 250, 400, "M3"),
    ],
)
def test_procedure(load: float, kind: str, method: str, name: str, step: float, shifted: float, d: str) -> None:
    found = joint.first_size(load, kind, method, name)
    assert (found.load_step, found.shifted_step, found.designation) == (step, shifted, d)
    assert bool(found.note) == (shifted < 1000)
    for one in found.steps:
        assert one.source and one.status
        if "=" in one.formula:
            assert recompute(one.formula, one.inputs) == one.value
    assert load_kinds()[kind] == next(one.value for one in found.steps if one.symbol == "n_load")


@pytest.mark.parametrize("load", [0, -1, math.nan, math.inf, 630_001])
def test_loads_outside_the_table(load: float) -> None:
    with pytest.raises(ValueError, match="more bolts" if load == 630_001 else "greater than zero"):
        next_step(load)


def test_refusals_name_the_way_out() -> None:
    with pytest.raises(ValueError, match="share the load among more bolts"):
        joint.first_size(300_000, "static, transverse", "yield", "12.9")
    with pytest.raises(ValueError, match="higher class"):
        joint.first_size(630_000, "static, concentric", "yield", "8.8")
    with pytest.raises(NotInCatalogue, match="dynamic, eccentric"):
        joint.first_size(1e4, "sideways", "yield", "8.8")
    with pytest.raises(NotInCatalogue, match="torque wrench"):
        joint.first_size(1e4, "static, concentric", "by hand", "8.8")
    with pytest.raises(NotInCatalogue, match=r"10\.9"):
        joint.first_size(1e4, "static, concentric", "yield", "5.6")
    with pytest.raises(NotInCatalogue, match="load step"):
        size_at_step(5000, "8.8")
    with pytest.raises(NotInCatalogue, match="class of the first estimate"):
        size_at_step(4000, "6.8")
    with pytest.raises(NotInCatalogue, match="1000 N"):
        size_at_step(400, "8.8")


@pytest.mark.parametrize(
    ("inputs", "value"),
    [({"load_step_N": 160000, "class": "12.9"}, 20), ({"load_step_kN": 63, "class": 8.8}, 16),
     ({"load_N": 8500, "load_kind": "static transverse", "method": "torque wrench", "class": "12.9"}, 16),
     ({"F_kN": 10, "loading": "dynamic and concentric axial", "tightening": "yield controlled", "class": "10.9"}, 8)],
)
def test_rows_in_other_words(inputs: dict[str, object], value: float) -> None:
    assert evaluate("sizing", Q, inputs) == pytest.approx(value)


@pytest.mark.parametrize(
    "inputs",
    [{"load_step_N": 5000, "class": "8.8"}, {"load_step_N": 4000}, {"load_step_N": 4000, "class": "8.8", "mu": 0.1},
     {"load_step_N": 4000, "class": "8.8", "method": "yield"}, {"load_N": 4000, "class": "8.8"},
     {"load_N": 4000, "class": "8.8", "load_kind": "static", "method": "yield"},
     {"load_N": 4000, "class": "8.8", "load_kind": "static concentric", "method": "by feel"}],
)
def test_rows_that_are_refused(inputs: dict[str, object]) -> None:
    with pytest.raises(NotEvaluatedError):
        evaluate("sizing", Q, inputs)
