"""Bearing faces: areas against integration, washers, pressure, conical seats; sizes of the catalogue."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from evenpull import catalogue, joint
from evenpull.catalogue import NotInCatalogue
from evenpull.joint import rules
from evenpull.joint.case import Material
from evenpull.joint.uncertainty.spread_limits import bearing_faces
from tests.mechanics.formulas import recompute
from tests.mechanics.spread_cases import m16
from tests.mechanics.vdi_cases import VJ1


def test_area_with_hole_and_chamfer() -> None:
    """By hand: d_w 22.49, d_h 17.5 mm: pi/4 (505.80 - 306.25) = 156.73 mm2; a chamfer of 19 mm leaves 113.73 mm2."""
    assert joint.bearing_area(22.49e-3, 17.5e-3) * 1e6 == pytest.approx(156.73, abs=0.01)
    assert joint.bearing_area(22.49e-3, 17.5e-3, 19e-3) * 1e6 == pytest.approx(113.73, abs=0.01)
    assert joint.bearing_area(22.49e-3, 17.5e-3, 16e-3) == joint.bearing_area(22.49e-3, 17.5e-3)  # hole is larger


def test_pressure_of_a_whole_example() -> None:
    """76 803.9 N under d_w 22.49, d_h 17.5 mm give 490.05 MPa: a whole VDI 2230-1 example, computed independently."""
    p = joint.surface_pressure(76803.9, joint.bearing_area(22.49e-3, 17.5e-3))
    assert p / 1e6 == pytest.approx(490.051, rel=1e-4)
    assert joint.S_P(760e6, p) == pytest.approx(760 / 490.051, rel=1e-4)
    assert joint.load_at_limit(760e6, joint.bearing_area(22.49e-3, 17.5e-3)) == pytest.approx(
        76803.9 * 760 / 490.051, rel=1e-4)


def _by_integration(d_w: float, b: float, length: float) -> float:
    R, r, c = d_w / 2, b / 2, (length - b) / 2

    def half_width(x: float) -> float:  # of the slot, inside the face
        slot = r if x <= c else math.sqrt(max(r**2 - (x - c) ** 2, 0.0))
        return min(slot, math.sqrt(max(R**2 - x**2, 0.0)))

    points = [x for x in (c, math.sqrt(R**2 - r**2)) if x < min(c + r, R)]
    slot = 4 * quad(half_width, 0.0, min(c + r, R), points=points or None, limit=400)[0]
    return math.pi * R**2 - slot


@pytest.mark.parametrize("length", [13.5, 14, 17.5, 22, 23.99, 24, 24.5, 26, 28, 31, 33, 33.4, 40, 200])
def test_slot_against_integration(length: float) -> None:
    """Area of the slot under a round face, found again by numerical integration (scipy)."""
    assert joint.slotted_area(24.0, 13.5, length) == pytest.approx(_by_integration(24.0, 13.5, length), rel=1e-6)


def test_slot_limits() -> None:
    assert joint.slotted_area(24e-3, 13.5e-3, 13.5e-3) == pytest.approx(joint.bearing_area(24e-3, 13.5e-3))
    areas = joint.slotted_area(24e-3, 13.5e-3, np.linspace(13.5e-3, 60e-3, 300))
    assert np.all(np.diff(areas) <= 1e-15)  # a longer slot never leaves more
    R, r = 12e-3, 6.75e-3
    strip = 2 * (r * math.sqrt(R**2 - r**2) + R**2 * math.asin(r / R))
    assert areas[-1] == pytest.approx(math.pi * R**2 - strip)


def test_washer_spreads_but_not_beyond_its_edge() -> None:
    """VDI 2230-1 R10: d_Wa = d_w + 1.6 h_S (from memory, not re-read); ISO 7089 washer for M16: 30 mm, 3 mm thick."""
    plain = catalogue.washer(16e-3)
    assert joint.washer_spread(22.49e-3, plain.h, plain.d_outer) == pytest.approx(27.29e-3)
    assert joint.washer_spread(28e-3, plain.h, plain.d_outer) == pytest.approx(30e-3)
    with pytest.raises(ValueError, match="smaller than the face"):
        joint.washer_spread(31e-3, plain.h, plain.d_outer)


def test_conical_seat() -> None:
    """A flat seat is the ring mean of VDI 2230; 90 degrees rub at 1.414 times that."""
    assert joint.D_Km_conical(22.49e-3, 17.5e-3, math.pi) == pytest.approx(joint.D_Km(22.49e-3, 17.5e-3))
    head = catalogue.countersunk_head(8e-3)
    assert joint.D_Km_conical(head.d_k, 9e-3, head.angle) == pytest.approx((17.92e-3 + 9e-3) / math.sqrt(2))
    # equilibrium of the cone by integration of mu p r over the seat, with uniform wear (p r constant)
    mu, F, alpha = 0.12, 10e3, math.radians(45)
    outer, inner = 17.92e-3 / 2, 9e-3 / 2
    c = F / (2 * math.pi * (outer - inner))  # p r, from F = integral of p 2 pi r dr
    torque = quad(lambda r: mu * c * 2 * math.pi * r / math.sin(alpha), inner, outer)[0]
    assert mu * F * joint.D_Km_conical(2 * outer, 2 * inner, 2 * alpha) / 2 == pytest.approx(torque)


@pytest.mark.parametrize("bad", [0.0, -1e-3, math.nan, math.inf])
def test_senseless_values_are_refused(bad: float) -> None:
    for call in (
        lambda: joint.bearing_area(bad, 9e-3), lambda: joint.bearing_area(14e-3, bad),
        lambda: joint.slotted_area(bad, 9e-3, 12e-3), lambda: joint.slotted_area(14e-3, bad, 12e-3),
        lambda: joint.slotted_area(14e-3, 9e-3, bad), lambda: joint.washer_spread(14e-3, bad, 20e-3),
        lambda: joint.surface_pressure(1e3, bad), lambda: joint.S_P(bad, 1e8), lambda: joint.S_P(1e8, bad),
        lambda: joint.D_Km_conical(14e-3, 9e-3, bad), lambda: joint.load_at_limit(bad, 1e-4),
    ):
        with pytest.raises(ValueError):
            call()


def test_contradictions_are_refused() -> None:
    with pytest.raises(ValueError, match="bore has to be smaller"):
        joint.bearing_area(16e-3, 17.5e-3)  # the head falls through
    with pytest.raises(ValueError, match="lets the face"):
        joint.slotted_area(16e-3, 17.5e-3, 30e-3)
    with pytest.raises(ValueError, match="at least as long"):
        joint.slotted_area(22e-3, 17.5e-3, 15e-3)
    with pytest.raises(ValueError, match="wider outside"):
        joint.D_Km_conical(9e-3, 9e-3, 1.5)
    with pytest.raises(ValueError, match="at most pi"):
        joint.D_Km_conical(14e-3, 9e-3, 3.2)
    with pytest.raises(ValueError, match="not negative"):
        joint.surface_pressure(-1.0, 1e-4)


def test_arrays_give_what_single_numbers_give() -> None:
    lengths = np.array([13.5, 17.5, 24.5, 28.0, 40.0]) * 1e-3
    both = joint.slotted_area(24e-3, 13.5e-3, lengths)
    assert list(both) == pytest.approx([joint.slotted_area(24e-3, 13.5e-3, float(one)) for one in lengths])
    assert type(joint.slotted_area(24e-3, 13.5e-3, 17.5e-3)) is float


@pytest.mark.parametrize(
    ("found", "mm", "source"),
    [
        (lambda: catalogue.height("hexagon nut", 16e-3, "metric").value, 14.8, "ISO 4032"),
        (lambda: catalogue.height("hexagon nut, style 2", 16e-3, "metric").value, 16.4, "ISO 4033"),
        (lambda: catalogue.height("thin nut", 16e-3, "metric").value, 8.0, "ISO 4035"),
        (lambda: catalogue.height("hexagon", 24e-3, "metric").value, 15.0, "ISO 4014"),
        (lambda: catalogue.height("socket cap", 12e-3, "metric").value, 12.0, "ISO 4762"),
        (lambda: catalogue.height("hexagon nut", 0.5 * 25.4e-3, "inch").value, 7 / 16 * 25.4, "ASME B18.2.2"),
        (lambda: catalogue.height("heavy hexagon", 25.4e-3, "inch").value, 63 / 64 * 25.4, "ASME B18.2.2"),
        (lambda: catalogue.across_flats("hexagon", 10e-3, "metric").value, 16.0, "ISO 4014"),
        (lambda: catalogue.across_flats("structural hexagon", 20e-3, "metric").value, 32.0, "EN 14399"),
        (lambda: catalogue.across_flats("heavy hexagon", 25.4e-3, "inch").value, 1.625 * 25.4, "ASME B18.2.2"),
        (lambda: catalogue.washer(20e-3, "large").d_outer, 60.0, "ISO 7093"),
        (lambda: catalogue.washer(20e-3, "structural").h, 4.0, "EN 14399-6"),
        (lambda: catalogue.slotted_hole("short", 20e-3, "metric").length, 26.0, "EN 1090-2 Table 11"),
        (lambda: catalogue.slotted_hole("long", 20e-3, "metric").length, 50.0, "EN 1090-2 Table 11"),
        (lambda: catalogue.slotted_hole("short", 0.75 * 25.4e-3, "inch").width, 13 / 16 * 25.4, "RCSC Table 3.1"),
        (lambda: catalogue.slotted_hole("long", 0.75 * 25.4e-3, "inch").length, 1.875 * 25.4, "RCSC Table 3.1"),
        (lambda: catalogue.oversize_hole(24e-3).width, 30.0, "EN 1090-2 Table 11"),
    ],
)
def test_tabled_sizes(found: object, mm: float, source: str) -> None:
    """Sizes of the standards named, all from memory, not re-read."""
    assert callable(found)
    assert found() * 1e3 == pytest.approx(mm, rel=1e-6), source


def test_sizes_fit_each_other() -> None:
    """What has to hold between tables of different standards, for every size: a slipped figure stands out."""
    for d_mm in (5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 42, 45, 48, 52, 56, 60, 64):
        d = d_mm * 1e-3
        s = catalogue.across_flats("hexagon", d, "metric").value
        face = catalogue.bearing_diameter("hexagon", d, "metric").value
        plain = catalogue.washer(d)
        assert 0.85 * s < face < s, d_mm
        assert d < plain.d_h < catalogue.clearance_hole("coarse", d, "metric").value, d_mm
        assert plain.d_outer >= s, d_mm
        assert 0.75 * d < catalogue.height("hexagon nut", d, "metric").value < d, d_mm
        assert catalogue.height("thin nut", d, "metric").value == pytest.approx(0.5 * d, rel=0.1), d_mm
        assert 0.6 * d < catalogue.height("hexagon", d, "metric").value <= 0.71 * d, d_mm


def test_what_is_not_tabled() -> None:
    for call in (
        lambda: catalogue.washer(100e-3), lambda: catalogue.washer(16e-3, "thick"),
        lambda: catalogue.height("wing nut", 8e-3, "metric"), lambda: catalogue.height("hexagon", 17e-3, "metric"),
        lambda: catalogue.slotted_hole("short", 10e-3, "metric"),
        lambda: catalogue.slotted_hole("wide", 16e-3, "metric"),
        lambda: catalogue.slotted_hole("long", 2 * 25.4e-3, "inch"), lambda: catalogue.countersunk_head(24e-3),
        lambda: catalogue.across_flats("square", 16e-3, "metric"), lambda: catalogue.oversize_hole(39e-3),
    ):
        with pytest.raises(NotInCatalogue, match="known"):
            call()


@pytest.mark.parametrize("length", [20e-3, 24e-3, 40e-3])
def test_pressure_around_a_slot_in_the_chain(length: float) -> None:
    """VDI 2230-1 R10 on a slotted hole: less face than around the round one, every formula recomputed."""
    layer = replace(VJ1.layers[0], slot_length=length)
    found = rules.apply("vdi2230", replace(VJ1, layers=(layer,)))
    area = found.by_symbol("A_p_K").value
    assert area == pytest.approx(joint.slotted_area(VJ1.bolt.d_w, layer.d_h, length))
    assert area < rules.apply("vdi2230", VJ1).by_symbol("A_p_K").value
    assert any(check.symbol == "S_P_K" and check.holds is not None for check in found.checks)
    for step in found.steps:
        if "=" in step.formula:
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9, abs=1e-18), step.symbol
    chamfered = rules.apply("vdi2230", replace(VJ1, layers=(replace(layer, chamfer=15e-3),)))
    assert any(check.symbol == "S_P_K" and check.holds is None for check in chamfered.checks)


@pytest.mark.parametrize(
    ("changes", "area"),
    [({}, 156.726), ({"chamfer": 19e-3}, 113.726), ({"slot_length": 20e-3}, 112.976)],  # mm2, by hand
)
def test_pressure_limits_the_load_on_round_chamfered_and_slotted_holes(changes: dict[str, float], area: float) -> None:
    """F = p_G A_p with the areas found by hand; the advice and the rule set limit the load by the same face."""
    soft = Material("soft", 70e9, 23e-6, p_G=300e6)
    top = replace(m16().layers[0], material=soft, **changes)
    case = m16(layers=(top, m16().layers[1]))
    ((name, p_G, face),) = bearing_faces(case)  # the steel under the nut states no p_G
    assert name == "head" and p_G == 300e6
    assert face * 1e6 == pytest.approx(area, abs=2e-3)
    found = joint.spread_of(case, trials=1000, seed=1)
    assert found.allowed_by == "surface pressure under the head"
    assert found.allowed == pytest.approx(300e6 * face)


def test_a_chamfered_slot_is_said_not_to_limit_the_load() -> None:
    soft = Material("soft", 70e9, 23e-6, p_G=300e6)
    top = replace(m16().layers[0], material=soft, slot_length=20e-3, chamfer=19e-3)
    case = m16(layers=(top, m16().layers[1]))
    assert bearing_faces(case) == []
    assert any("slotted hole with a chamfer" in note for note in joint.spread_of(case, trials=1000, seed=1).notes)


def test_a_slot_wider_than_the_face_is_refused_before_anything_is_computed() -> None:
    top = replace(m16().layers[0], material=Material("soft", 70e9, 23e-6, p_G=300e6), d_h=23e-3, slot_length=40e-3)
    with pytest.raises(joint.CaseError):
        joint.spread_of(m16(layers=(top, m16().layers[1])), trials=1000, seed=1)
