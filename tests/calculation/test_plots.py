"""Plots show the library's numbers: checked against lines worked out here by hand."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from evenpull.calculation import plots, read_calculation
from evenpull.calculation.plots import (
    Area,
    Bar,
    Curve,
    Mark,
    Plot,
    load_over_friction,
    preload_diagram,
    torque_over_angle,
)
from evenpull.joint.case import CaseError
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.report.plot_svg import plot_svg, ticks
from tests.calculation.files import changed, demo, plain


def test_preload_diagram_closes() -> None:
    case = replace(demo("kn-cw-014-c1").case, gasket=None)
    load, F_A, n = 140e3, case.loads.F_A_max, case.loads.n
    delta_S, delta_P = bolt_resilience(case).total, clamped_resilience(case).total
    plot = preload_diagram(case, load)
    bolt, parts, working = plot.curves
    assert bolt.points[1] == pytest.approx((load * delta_S, load))
    assert parts.points[-1] == pytest.approx((load * (delta_S + delta_P), 0))
    slope = (parts.points[0][1] - parts.points[1][1]) / (parts.points[0][0] - parts.points[1][0])
    assert slope == pytest.approx(-1 / delta_P)
    # The share of the working load in the bolt: Phi = n delta_P / (delta_S + delta_P) (VDI 2230-1 R3).
    F_SA = n * delta_P / (delta_S + delta_P) * F_A
    (x0, low), (x1, high) = working.points
    assert x0 == x1 and high == pytest.approx(load + F_SA) and low == pytest.approx(load - F_A + F_SA)


def test_load_over_friction_by_hand() -> None:
    case = demo("kn-cw-014-c1").case
    plot = load_over_friction(case, 520.0)
    # M24: d_2 = 22.051 mm, P = 3 mm; D_Km = (33.3 + 25) / 2 mm at the nut on its washer. At mu = 0.12 the torque of
    # 520 N.m gives F = T / (0.16 P + 0.58 d_2 mu + D_Km / 2 mu) (VDI 2230-1 R13, from memory).
    lever = 0.16 * 3e-3 + 0.58 * 22.051e-3 * 0.12 + (33.3e-3 + 25e-3) / 2 / 2 * 0.12
    nearest = min(plot.curves[0].points, key=lambda p: abs(p[0] - 0.12))
    at_012 = nearest[1] * (lever / (lever + (nearest[0] - 0.12) * (0.58 * 22.051e-3 + 29.15e-3 / 2))) ** -1
    assert at_012 == pytest.approx(520 / lever, rel=2e-3)
    assert plot.areas == (Area("friction of the case", "x", 0.10, 0.14),)
    loads = [point[1] for point in plot.curves[0].points]
    assert loads == sorted(loads, reverse=True)


def test_torque_over_angle_by_hand() -> None:
    case = replace(demo("kn-tb-001-c1").case)
    plot = torque_over_angle(case, 1450.0)
    delta = bolt_resilience(case).total + clamped_resilience(case).total
    (x0, y0), (x1, y1) = plot.curves[1].points[0], plot.curves[1].points[-1]
    assert (x0, y0) == (0.0, 0.0)
    # theta = 2 pi / P F (delta_S + delta_P) and T = lever F, so dT/dtheta = lever P / (2 pi delta).
    face = (46.55e-3, 31e-3)
    case_face = (case.counterpart.d_w, case.layers[-1].d_h)
    lever = 0.16 * 3.5e-3 + 0.58 * 27.727e-3 * 0.10 + (case_face[0] + case_face[1]) / 4 * 0.10
    assert face[1] == pytest.approx(case_face[1])
    assert (y1 - y0) / (x1 - x0) == pytest.approx(lever * 3.5e-3 / (2 * math.pi * delta), rel=2e-3)


def test_angle_begins_at_the_snug_torque() -> None:
    case = demo("kn-cw-014-c1").case
    snug = replace(case, tightening=replace(case.tightening, snug_torque=100.0, angle=1.0, angle_scatter=0.1))
    plot = torque_over_angle(snug, 520.0)
    assert all(curve.points[0] == pytest.approx((0.0, 100.0)) for curve in plot.curves)
    assert plot.areas[0].low == pytest.approx(0.9)
    with pytest.raises(CaseError, match="snug_torque"):
        torque_over_angle(replace(case, tightening=replace(case.tightening, snug_torque=5000.0)), 520.0)


def test_a_plot_without_its_numbers_is_left_out_with_the_reason() -> None:
    text = changed(plain(), 'torque = "70 N.m"\n', "")
    drawn, left_out = plots(read_calculation(text, "t.toml").case, [])
    assert {one.title for one in left_out} == {"Preload diagram", "Load over friction"}
    assert all(one.why for one in left_out) and [plot.key for plot in drawn] == ["angle"]
    # A modulus that nobody states is not invented: what rests on it is left out.
    text = changed(plain(), 'E = "205 GPa"\n', "")
    drawn, left_out = plots(read_calculation(text, "t.toml").case, [])
    assert [plot.key for plot in drawn] == ["friction"] and len(left_out) == 2


@pytest.mark.parametrize("name", ["kn-cw-014-c1", "kn-tb-001-c1", "kn-bh-021-c1", "kn-st-003-c1"])
def test_drawings_are_sound(name: str) -> None:
    drawn, _ = plots(demo(name).case, [])
    assert drawn
    for plot in drawn:
        root = ElementTree.fromstring(plot_svg(plot))
        assert root.get("role") == "img" and root.get("aria-label") == plot.words
        _, _, width, height = map(float, (root.get("viewBox") or "").split())
        for line in root.iter("{http://www.w3.org/2000/svg}polyline"):
            for x, y in re.findall(r"([-\d.]+),([-\d.]+)", line.get("points") or ""):
                assert 0 <= float(x) <= width and 0 <= float(y) <= height
        names = " ".join(root.itertext())
        assert all(curve.name in names for curve in plot.curves)


def test_names_in_a_drawing_are_escaped() -> None:
    plot = Plot("k", "t", "x & y", "<b>", 1, 1, (Curve("<script>", ((0, 0), (1, 1))),), 'words "quoted" <i>',
                marks=(Mark("a_<b> 1", y=0.5), Mark("v < w", x=0.5)))
    svg = plot_svg(plot)
    ElementTree.fromstring(svg)
    assert "<script>" not in svg and "<b>" not in svg


def test_bars() -> None:
    bars = (Bar("mu_K", 0.6, "60 %"), Bar("tool", 0.1, "10 %"))
    plot = Plot("c", "Contributions", "", "", 1, 1, (), "shares", bars=bars)
    root = ElementTree.fromstring(plot_svg(plot))
    wide = [float(r.get("width") or 0) for r in root.iter("{http://www.w3.org/2000/svg}rect")]
    assert wide[0] / wide[1] == pytest.approx(6, rel=0.01)


def test_a_plot_without_content_is_refused() -> None:
    with pytest.raises(ValueError, match="neither curves nor bars"):
        plot_svg(Plot("k", "t", "x", "y", 1, 1, (), ""))


@pytest.mark.parametrize(("low", "high"), [(0, 138.2), (0.04, 0.3), (-12, 40), (5, 5), (0, 0), (1e-6, 3e-6)])
def test_ticks_are_round_and_hold_the_range(low: float, high: float) -> None:
    found = ticks(low, high)
    assert found[0] <= low and found[-1] >= high and 3 <= len(found) <= 13


def test_the_plots_say_whose_torque_they_show() -> None:
    made, _ = plots(read_calculation(plain(), "t.toml").case, ())
    assert all("is that of: the calculation file" in plot.note for plot in made)
