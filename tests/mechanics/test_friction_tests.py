"""Torque-tension tests: ISO 16047 quantities, figures of a lot against published factors, and measured runs."""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from evenpull import catalogue, joint
from evenpull.joint.tightening import friction_test, scatter

MEASURED = Path(__file__).parent / "measured"
KIP, LBF_FT, INCH = 4448.2216152605, 1.3558179483314, 0.0254
ROD = 1.5 * INCH
M12 = joint.thread("M12")


def measured(name: str) -> list[dict[str, str]]:
    with (MEASURED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def curves() -> dict[tuple[str, str], tuple[list[float], list[float]]]:
    """Load (N) and torque (N.m) of each run, by lubricant and number; from the first reading on."""
    found: dict[tuple[str, str], tuple[list[float], list[float]]] = defaultdict(lambda: ([], []))
    for row in measured("iowa_anchor_rod_1p5in_curves"):
        loads, torques = found[row["lubricant"], row["run"]]
        loads.append(float(row["clamp_kip"]) * KIP)
        torques.append(float(row["turning_torque_lbfft"]) * LBF_FT)
    return dict(found)


RUNS = {(row["lubricant"], row["run"]): row for row in measured("iowa_anchor_rod_1p5in_runs")}


def test_measured_nut_factors_come_out_again() -> None:
    """The published K at shares of the run's load, from the published curves (bins of load: within 3 %)."""
    compared = 0
    for key, (loads, torques) in curves().items():
        row = RUNS[key]
        curve = friction_test.nut_factor_curve(loads, torques, ROD)
        for share in (0.25, 0.50, 0.75):
            printed = row[f"K_at_{share * 100:.0f}pct_of_max"]
            load = share * float(row["clamp_max_kip"]) * KIP
            if printed and curve.load[0] <= load:
                assert curve.at(load) == pytest.approx(float(printed), rel=0.03), (key, share)
                compared += 1
    assert compared > 60


def test_nut_factor_falls_with_load() -> None:
    """What a table of constant K does not show: K falls by a tenth and more between a quarter and all of the load."""
    drop = []
    for key, (loads, torques) in curves().items():
        fit = friction_test.fit_nut_factor(loads, torques, ROD)
        assert fit.b < 0, key
        drop.append(1 - fit.K(fit.F_high) / fit.K(max(fit.F_low, 0.25 * fit.F_high)))
    assert len(drop) == 26
    assert min(drop) > 0.01
    assert np.median(drop) > 0.12


def test_falling_nut_factor_describes_dry_and_greased_runs_better_than_a_constant() -> None:
    for (lubricant, run), (loads, torques) in curves().items():
        if lubricant not in ("dry", "lithium grease", "anti-seize compound"):
            continue
        K = np.array(torques) / (np.array(loads) * ROD)
        power, offset = (friction_test.fit_nut_factor(loads, torques, ROD, form) for form in ("power", "offset"))
        assert min(power.deviation, offset.deviation) < 0.6 * K.std(ddof=1), (lubricant, run)


def test_falling_nut_factor_gives_more_load_than_the_constant_of_a_small_load() -> None:
    loads, torques = curves()["dry", "1"]
    fit = friction_test.fit_nut_factor(loads, torques, ROD)
    low, high = 0.3 * fit.F_high, 0.95 * fit.F_high
    torque = joint.torque_from_nut_factor(high, fit.K(low), ROD)  # K measured low, used high
    assert joint.load_from_nut_factor(torque, fit.K(high), ROD) > 1.1 * high
    with pytest.raises(ValueError, match="the fit holds from"):
        fit.K(2 * fit.F_high)


def test_fits_find_what_was_put_in() -> None:
    F = np.linspace(20e3, 120e3, 12)
    power = friction_test.fit_nut_factor(F, 0.18 * (F / 60e3) ** -0.15 * 0.02 * F, 0.02)
    assert (power.b, power.K(60e3), power.deviation) == pytest.approx((-0.15, 0.18, 0.0), abs=1e-9)
    offset = friction_test.fit_nut_factor(F, 25 + 0.003 * F, 0.02, "offset")
    assert (offset.a, offset.b) == pytest.approx((25, 0.003))
    assert offset.torque(50e3) == pytest.approx(25 + 150)


@pytest.mark.parametrize("form", ["power", "offset"])
def test_falling_nut_factor_both_ways(form: str) -> None:
    fit = friction_test.fit_nut_factor(*curves()["dry", "1"], ROD, form)  # type: ignore[arg-type]
    loads = np.linspace(fit.F_low, fit.F_high, 7)
    assert fit.load(fit.torque(loads)) == pytest.approx(loads, rel=1e-9)
    with pytest.raises(ValueError, match="the fit holds from"):
        fit.load(3 * fit.torque(fit.F_high))
    with pytest.raises(ValueError, match="does not rise"):
        friction_test.fit_nut_factor([1e3, 2e3, 3e3], [9.0, 4.0, 2.0], 0.02, form)  # type: ignore[arg-type]


def test_load_from_torques_on_and_off_needs_steady_friction() -> None:
    """The ideal law holds for the linear thread; with the measured breakaway torques it is off by far: a trap."""
    P, lever = 2e-3, 2.5e-3
    on, off = 80e3 * (P / (2 * math.pi) + lever), 80e3 * (lever - P / (2 * math.pi))
    assert friction_test.load_from_torques(on, off, P) == pytest.approx(80e3)
    ratios = [
        friction_test.load_from_torques(float(row["torque_max_lbfft"]) * LBF_FT,
                                        float(row["loosening_peak_torque_lbfft"]) * LBF_FT, INCH / 6)
        / (float(row["clamp_max_kip"]) * KIP)
        for row in RUNS.values() if row["loosening_pair_ok"] == "yes"
    ]
    assert len(ratios) > 15
    assert max(ratios) / min(ratios) > 3


# ISO 16047 --------------------------------------------------------------------------------------------------------

def test_quantities_return_the_friction_put_in() -> None:
    """Torque built with 1/(2 cos 30 deg) in place of the standard's 0.577: agreement to the rounding of that figure."""
    mu_G, mu_K, F, D = 0.11, 0.14, 55e3, 15.065e-3
    T_th = F * (M12.P / (2 * math.pi) + M12.d2 * mu_G / (2 * math.cos(math.pi / 6)))
    T = T_th + F * D / 2 * mu_K
    assert friction_test.mu_th(T_th, F, M12.P, M12.d2) == pytest.approx(mu_G, rel=1e-3)
    assert friction_test.mu_b(T, T_th, F, D) == pytest.approx(mu_K, rel=1e-12)
    total = friction_test.mu_tot(T, F, M12.P, M12.d2, D)
    assert mu_G < total < mu_K


def test_iso_and_vdi_coefficients_are_not_mixed() -> None:
    """A trap: 0.577 in ISO 16047, 0.58 in VDI 2230."""
    T_th = 50e3 * joint.thread_lever(M12, 0.12)
    assert friction_test.mu_th(T_th, 50e3, M12.P, M12.d2) == pytest.approx(
        (0.16 * M12.P + 0.58 * M12.d2 * 0.12 - M12.P / (2 * math.pi)) / (0.577 * M12.d2))


def lot(count: int = 12, spread: float = 0.05, seed: int = 5) -> list[friction_test.Run]:
    rng = np.random.default_rng(seed)
    mu = rng.normal(0.12, 0.12 * spread, count)
    return [
        friction_test.Run(f"R{i}", float(50e3 * joint.torque_lever(M12, m, m, 15e-3)), 50e3,
                          float(50e3 * joint.thread_lever(M12, m)))
        for i, m in enumerate(mu, start=1)
    ]


def test_lot_of_runs() -> None:
    found = friction_test.evaluate_lot(lot(), M12, 15e-3)
    assert found.K.n == 12 and found.mu_th is not None and found.mu_b is not None
    assert found.mu_tot.mean == pytest.approx(np.mean([run.mu_tot for run in found.runs]))
    assert found.mu_tot.s == pytest.approx(np.std([run.mu_tot for run in found.runs], ddof=1))
    assert found.mu_tot.interval == pytest.approx(
        (found.mu_tot.mean - found.mu_tot.k * found.mu_tot.s, found.mu_tot.mean + found.mu_tot.k * found.mu_tot.s))
    assert found.notes == ()


def test_friction_of_a_tested_lot() -> None:
    found = friction_test.evaluate_lot(lot(), M12, 15e-3)
    friction = friction_test.lot_friction(found, "wax", "lot 7, twelve runs")
    assert found.mu_th is not None
    assert (friction.mu_G.low, friction.mu_G.high) == found.mu_th.interval
    assert friction.mu_G.low < 0.12 < friction.mu_G.high
    wide = friction_test.evaluate_lot(lot(3, 0.25), M12, 15e-3)
    assert any("below 0" in note for note in wide.notes)
    with pytest.raises(ValueError, match="interval of mu_G reaches"):
        friction_test.lot_friction(wide, "wax", "three runs")


def test_run_that_stands_apart_is_named_and_kept() -> None:
    runs = lot()
    runs[4] = friction_test.Run("R5", runs[4].T * 1.8, 50e3, runs[4].T_th)
    found = friction_test.evaluate_lot(runs, M12, 15e-3)
    assert found.K.apart == (4,) and found.K.n == 12
    assert any("K of run R5 stands apart" in note and "kept" in note for note in found.notes)


def test_bearing_part_only_where_every_run_has_it() -> None:
    runs = lot()
    runs[3] = friction_test.Run("R4", runs[3].T, runs[3].F)
    found = friction_test.evaluate_lot(runs, M12, 15e-3)
    assert found.mu_th is None and found.mu_b is None
    assert any("11 of 12" in note for note in found.notes)


@pytest.mark.parametrize(
    ("runs", "message"),
    [
        (lot()[:2], "at least 3 runs"), ([*lot()[:3], lot()[0]], "one name"),
        ([*lot()[:3], friction_test.Run("bad", 0.0, 5e4)], "run bad: T "),
        ([*lot()[:3], friction_test.Run("bad", 5.0, 5e4)], "run bad: mu_tot"),
        ([*lot()[:3], friction_test.Run("bad", 90.0, 5e4, 95.0)], "run bad: mu_b"),
        ([*lot()[:3], friction_test.Run("bad", 90.0, math.nan)], "run bad: F "),
    ],
)
def test_lot_refuses(runs: list[friction_test.Run], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        friction_test.evaluate_lot(runs, M12, 15e-3)


# tables -----------------------------------------------------------------------------------------------------------

METHODS = {
    "yield-controlled motorised": "yield controlled tightening",
    "angle-controlled motorised or manual": "angle-controlled tightening (torque and angle)",
    "hydraulic tightening": "hydraulic tensioning",
    "torque wrench / precision driver, torque found on the original part": "torque wrench, friction tested",
    "torque from estimated friction": "torque wrench, friction estimated",
    "power screwdriver, torque control": "power screwdriver, set with retightening torque",
}


@pytest.mark.parametrize("row", measured("vdi2230_1986_tightening_tolerance"), ids=lambda row: row["condition"])
def test_published_scatter_and_guide_values_belong_together(row: dict[str, str]) -> None:
    """Scatter as reprinted (1986) and alpha_A of the later table: (1+s)/(1-s) comes close to the guide value."""
    method = METHODS[row["condition"]]
    low, high = catalogue.preload_scatter(method)
    assert (low, high) == pytest.approx((float(row["value_low"]) / 100, float(row["value_high"]) / 100))
    guide = catalogue.tightening_factor(method)
    assert scatter.alpha_A_from_scatter(low) == pytest.approx(guide[0], rel=0.1)
    assert scatter.alpha_A_from_scatter(high) == pytest.approx(guide[1], rel=0.15)
    assert scatter.scatter_from_alpha_A(scatter.alpha_A_from_scatter(high)) == pytest.approx(high)


def test_smallest_friction_gives_the_largest_preload() -> None:
    """A trap: strength is checked with the least friction, clamp load with the greatest."""
    low, high = catalogue.friction_class("B")
    assert high is not None
    assert joint.F_M(100.0, M12, low, low, 15e-3) > 1.5 * joint.F_M(100.0, M12, high, high, 15e-3)


def test_classes_list_what_they_are_for() -> None:
    assert {example.friction_class for example in catalogue.class_examples()} == set("ABCDE")
    assert catalogue.friction_class("E") == (0.30, None)
    assert catalogue.class_examples("D")
    with pytest.raises(catalogue.NotInCatalogue):
        catalogue.class_examples("F")


def test_published_relaxation() -> None:
    shares = {guide.condition: guide.share for guide in catalogue.relaxation_guides()}
    for row, word in zip(measured("rcsc_munse_1967_relaxation"), ("galvanised", "uncoated"), strict=True):
        assert word in row["condition"]
        assert [share for name, share in shares.items() if word in name] == [float(row["value"]) / 100]
    left = float(measured("ep0340999_gasket_relaxation")[0]["value"])
    assert [share for name, share in shares.items() if "gasket" in name] == [pytest.approx(1 - left / 100)]


@pytest.mark.parametrize("wrong", [-0.1, 1.0, math.nan])
def test_scatter_refuses(wrong: float) -> None:
    with pytest.raises(ValueError):
        scatter.alpha_A_from_scatter(wrong)
    with pytest.raises(ValueError):
        scatter.least_preload(1e3, wrong if wrong != 1.0 else 0.99)
