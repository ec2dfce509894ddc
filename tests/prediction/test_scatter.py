"""A procedure by torque control: what the file states reaches the assemblies, and stays apart from interaction only."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest

from evenpull.prediction import RingResult, predict, read_prediction
from evenpull.prediction.scatter import by_torque_control, creep_of, friction_of, tool_of
from evenpull.ring.scatter.creep import LogCreep
from evenpull.ring.scatter.friction import STATIC_EXCESS
from tests.prediction.files import PLAIN, changed

TOGETHER = """[[procedure]]
name = "together"
order = "circular"
passes = [1.0]
tools_at_once = 8
[evenness]
least = 0.8
spread = "40 %"
"""
SCATTER = """[scatter]
K_nut = "{nut}"
assemblies = {assemblies}
{more}
basis = "T-TEST 3"
"""


def text(nut: str = "8 %", more: str = "", assemblies: int = 2000) -> str:
    plain = changed(PLAIN, 'load = "98 kN"', 'load = "98 kN"\nK = 0.16')
    return plain + TOGETHER + SCATTER.format(nut=nut, more=more, assemblies=assemblies)


@lru_cache(maxsize=4)
def result(nut: str = "8 %", more: str = "", assemblies: int = 2000) -> RingResult:
    prediction = read_prediction(text(nut, more, assemblies), "t.toml")
    return predict(prediction, prediction.procedures[1:])


def test_stated_values_arrive() -> None:
    more = (
        'K_lot = "3 %"\nK_pull = "2 %"\nK_exponent = 0.05\ntool_own = "1 %"\ntool_pull = "2 %"\nreuse = 1.1\nuses = 2'
    )
    prediction = read_prediction(text(more=more), "t.toml")
    friction, tool = friction_of(prediction), tool_of(prediction)
    assert (friction.K, friction.F_ref, friction.m) == (0.16, pytest.approx(98e3), 0.05)
    assert (friction.cv_nut, friction.cv_lot, friction.cv_pull, friction.reuse, friction.uses) == (
        0.08, 0.03, 0.02, 1.1, 2)  # fmt: skip
    assert friction.static_excess == STATIC_EXCESS and (tool.cv_own, tool.cv_pull) == (0.01, 0.02)
    assert creep_of(prediction) is None


def test_relaxation_test_gives_the_creep() -> None:
    """The law made from P_QR loses that share in the rig: thinning x rig stiffness = (1 - residual) p at 4 h."""
    more = 'residual = "85 %"\nrig = "500 MPa/mm"\nwait = "4 h"'
    law = creep_of(read_prediction(text(more=more), "t.toml"))
    assert isinstance(law, LogCreep)
    p = 8 * 98e3 / (math.pi / 4 * (0.245**2 - 0.215**2))
    thinning = law.per_decade * 0.5 * (1 + 0.85) * p * math.log10(1 + 4 * 3600 / 60)
    assert thinning * 500e9 == pytest.approx(0.15 * p)


def test_bolts_pulled_together_scatter_as_their_nuts_do() -> None:
    """One pull of all bolts: no interaction, so F = M / (K d) with K lognormal of 8 %: the load varies by as much."""
    outcome = by_torque_control(result(), result().outcomes[0].procedure)
    assert outcome.intervals.kind == "torque control with scatter"
    # of 8 loads, divisor 8: 0.08 sqrt(m / 8), m = 6.346 the median of chi squared with 7 degrees of freedom (tables)
    assert np.median(outcome.intervals.deviation) == pytest.approx(0.08 * math.sqrt(6.346 / 8), rel=0.04)
    assert outcome.floor.nut == outcome.floor.last_pull == pytest.approx(0.08)
    low, middle, high = outcome.intervals.quantiles
    assert middle.value / 98e3 == pytest.approx(np.ones(8), abs=0.01)
    # 5 % and 95 % of a lognormal of 8 %: exp(-+1.645 x 0.0799)
    assert low.value / 98e3 == pytest.approx(np.full(8, 0.877), abs=0.015)
    assert high.value / 98e3 == pytest.approx(np.full(8, 1.140), abs=0.015)
    assert outcome.pulls[0].torques == pytest.approx((0.16 * 98e3 * 0.020,) * 8)
    assert outcome.chance is not None and 0 < outcome.chance.share < 1
    assert not outcome.above.any()


def test_the_same_file_gives_the_same_numbers() -> None:
    few = result("8 %", "", 400)
    one, other = (by_torque_control(few, few.outcomes[0].procedure) for _ in range(2))
    assert np.array_equal(one.intervals.least, other.intervals.least)
    again = result("8 %", "seed = 2", 400)
    assert not np.array_equal(
        one.intervals.least, by_torque_control(again, again.outcomes[0].procedure).intervals.least
    )


def test_creep_takes_load() -> None:
    few, creeping = result("8 %", "", 400), result("8 %", 'creep = "0.3 um/MPa"\nwait = "4 h"', 400)
    fresh = by_torque_control(few, few.outcomes[0].procedure).intervals.quantiles[1].value
    later = by_torque_control(creeping, creeping.outcomes[0].procedure).intervals.quantiles[1].value
    assert (later < 0.99 * fresh).all()


def test_without_scatter_it_is_refused() -> None:
    plain = predict(read_prediction(PLAIN, "t.toml"))
    with pytest.raises(ValueError, match="no scatter is stated"):
        by_torque_control(plain, plain.outcomes[0].procedure)
