"""Checks of a target before anyone works, on numbers computed by hand."""

from __future__ import annotations

import numpy as np
import pytest

from evenpull.joint import Band, prechecks


def test_load_over_the_nut_factors() -> None:
    """M16 at 200 N.m: K 0.10 gives 125 kN, 0.20 62.5 kN, 0.30 41.7 kN; F = T/(K d), computed by hand."""
    load = prechecks.load_band(200.0, Band(0.10, 0.20, 0.30), 0.016)
    assert load.high == pytest.approx(125e3)
    assert load.nominal == pytest.approx(62.5e3)
    assert load.low == pytest.approx(41.667e3, rel=1e-4)


def test_the_k_band_shows_overload_and_too_little() -> None:
    """M16 class 8.8 is proved for about 91 kN (157 mm2 x 580 MPa): one end overloads, the other is short."""
    found = prechecks.k_band(200.0, Band(0.12, 0.16, 0.23), 0.016, 91e3, 60e3, "some paste")
    assert [concern.code for concern in found] == ["overload in the K band", "too little in the K band"]
    assert "114 %" in found[0].text and "91 %" in found[1].text
    assert prechecks.k_band(150.0, Band(0.14, 0.16, 0.18), 0.016, 91e3, 50e3, "some paste") == []


def test_robust_z_by_hand() -> None:
    """Median 11, absolute deviations 1, 2, 0, 1, 29: MAD 1, so the last value has z = 0.6745 x 29 = 19.6."""
    z = prechecks.robust_z([10, 9, 11, 12, 40])
    assert z[-1] == pytest.approx(0.6745 * 29)
    assert np.all(prechecks.robust_z([5, 5, 5]) == 0)
    # more than half equal: mean absolute deviation 2, z = 10/(1.253314 x 2)
    assert prechecks.robust_z([5, 5, 5, 5, 15])[-1] == pytest.approx(10 / (1.253314 * 2))
    with pytest.raises(ValueError):
        prechecks.robust_z([])
    with pytest.raises(ValueError):
        prechecks.robust_z([1.0, float("nan")])


def test_siblings_of_any_size_are_compared_by_the_cube() -> None:
    torques = {"A": (0.012, 90.0), "B": (0.016, 214.0), "C": (0.020, 415.0), "D": (0.024, 722.0)}
    ratios = {name: float(prechecks.torque_ratio(torque, d)) for name, (d, torque) in torques.items()}
    copied = float(prechecks.torque_ratio(722.0, 0.016))  # the M24 torque on an M16
    found = prechecks.unlike_siblings("X", copied, ratios)
    assert found and "more than its siblings" in found[0].text
    assert prechecks.unlike_siblings("X", float(prechecks.torque_ratio(213.0, 0.016)), ratios) == []
    few = {name: ratios[name] for name in ("A", "B", "C")}
    assert prechecks.unlike_siblings("X", copied, few) == []


def test_two_sources_and_a_unit() -> None:
    """200 lbf.ft is 271.2 N.m: the ratio of the two documents is that of the units."""
    found = prechecks.sources_disagree({"drawing": 200.0, "manual": 271.2}, 0.0)
    assert len(found) == 1 and "unit may be mixed up" in found[0].text and "36 % apart" in found[0].text
    assert prechecks.sources_disagree({"drawing": 200.0, "manual": 203.0}, 0.0) == []
    plain = prechecks.sources_disagree({"drawing": 200.0, "manual": 250.0, "sheet": 200.0}, 0.0)
    assert len(plain) == 2 and not any("unit" in concern.text for concern in plain)


def test_a_number_that_fits_in_another_unit() -> None:
    """400 taken as N.m on a 3/8 in bolt (proof load about 29 kN) is 45 N.m when it was lbf.in."""
    found = prechecks.wrong_unit(400.0, 0.009525, 29e3, Band(0.1, 0.2, 0.3), "N.m")
    assert found and "lbf.in (45.19 N·m)" in found[0].text
    assert prechecks.wrong_unit(45.0, 0.009525, 29e3, Band(0.1, 0.2, 0.3), "N.m") == []


@pytest.mark.parametrize("torque", [0.0, -5.0, float("inf")])
def test_senseless_torques_are_refused(torque: float) -> None:
    with pytest.raises(ValueError, match="greater than zero"):
        prechecks.load_band(torque, Band(0.1, 0.2, 0.3), 0.016)
