"""Deformation cones against numerical integration of dx/(E A(x)), and against the rows of the full chains.

The formulas are those of VDI 2230-1 from memory, not re-read; the integrals check that they do what a cone does, not
that the guideline's fit for the angle is remembered right. The angle rests on the reference rows alone.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from evenpull import joint
from evenpull.joint.case import CaseError
from evenpull.joint.parts.bearing import slotted_area
from evenpull.joint.springs import cones
from evenpull.joint.springs.layers import ConeLayer, delta_slotted, layered_parts
from tests.mechanics.formulas import recompute
from tests.mechanics.stiffness_cases import ALUMINIUM, case_of, layer

lengths = st.floats(3e-3, 80e-3)
ratios = st.floats(1.05, 8.0)


def integral(layers: list[ConeLayer], d_w: float, d_w_nut: float | None, slope: float) -> float:
    """The same body from its definition: the narrowest of all cones from a bearing face or a narrow part."""
    ends = np.cumsum([part.length for part in layers]).tolist()
    starts, l_K = [0.0, *ends[:-1]], ends[-1]

    def width(x: float) -> float:
        found = [d_w + slope * x]
        if d_w_nut is not None:
            found.append(d_w_nut + slope * (l_K - x))
        for part, start, end in zip(layers, starts, ends, strict=True):
            if part.D_A is not None:
                if start <= x:
                    found.append(part.D_A + slope * max(0.0, x - end))
                if d_w_nut is not None and x <= end:
                    found.append(part.D_A + slope * max(0.0, start - x))
        return min(found)

    total = 0.0
    for part, start, end in zip(layers, starts, ends, strict=True):
        grid = np.linspace(start, end, 400)
        wide = [width(x) for x in grid.tolist()]
        # the kinks of the width, found on the grid, so that the quadrature sees smooth pieces
        kinks = [float(grid[i]) for i in range(1, 399) if abs(wide[i - 1] - 2 * wide[i] + wide[i + 1]) > 1e-12]
        total += quad(lambda x, p=part: 4 / (p.E * math.pi * (width(x) ** 2 - p.d_h**2)), start, end,
                      points=kinks[:40] or None, limit=400, epsabs=0)[0]
    return total


@given(l_K=lengths, d_h=st.floats(3e-3, 40e-3), face=st.floats(1.1, 2.0), y=ratios, w=st.sampled_from([1, 2]))
def test_all_three_shapes_are_the_integral_of_their_body(l_K: float, d_h: float, face: float, y: float, w: int) -> None:
    d_w = face * d_h
    D_A = max(d_w * y * 0.7, d_h * 1.05)  # also narrower than the bearing face
    slope = 2 * joint.tan_phi(l_K, d_w, D_A, w)
    body = [ConeLayer("", l_K, 205e9, d_h, D_A)]
    expected = integral(body, d_w, d_w if w == 1 else None, slope)
    assert joint.delta_P(l_K, d_w, d_h, D_A, 205e9, w) == pytest.approx(expected, rel=2e-6)


parts = st.lists(
    st.tuples(lengths, st.sampled_from([70e9, 110e9, 205e9]), st.floats(8.4e-3, 10.5e-3),
              st.one_of(st.none(), st.floats(11e-3, 60e-3))),
    min_size=1, max_size=5,
)


@settings(max_examples=60)
@example(parts=[(0.0625, 70e9, 0.009765625, 0.055917058732104535)] * 2, d_w=0.01735535917789517, nut=None,
         slope=0.609375)  # the cone reaches the width of the part at its end but for a rounding error
@given(parts=parts, d_w=st.floats(11e-3, 20e-3), nut=st.one_of(st.none(), st.floats(11e-3, 20e-3)),
       slope=st.floats(0.3, 0.8))
def test_layers_of_any_material_and_width(
    parts: list[tuple[float, float, float, float | None]], d_w: float, nut: float | None, slope: float
) -> None:
    body = [ConeLayer(f"part {i}", *sizes) for i, sizes in enumerate(parts)]
    found = layered_parts(body, d_w, nut, slope)
    assert sum(part.value for part in found) == pytest.approx(integral(body, d_w, nut, 2 * slope), rel=1e-5)
    assert sum(part.l for part in found) == pytest.approx(sum(sizes[0] for sizes in parts))


def test_a_cut_between_equal_parts_changes_nothing() -> None:
    whole = layered_parts([ConeLayer("a", 0.04, 205e9, 0.0135, 0.05)], 0.0166, 0.0166, 0.53)
    lengths = (0.004, 0.013, 0.003, 0.02)
    cut = layered_parts([ConeLayer(f"{x}", x, 205e9, 0.0135, 0.05) for x in lengths], 0.0166, 0.0166, 0.53)
    assert sum(p.value for p in cut) == pytest.approx(sum(p.value for p in whole), rel=1e-12)
    assert len(cut) == 4 and len(whole) == 2  # 0.004 + 0.013 + 0.003 end at mid grip


def test_each_material_counts_where_it_lies() -> None:
    """Steel under the head and aluminium at the nut: the mean of all steel and all aluminium, by symmetry."""
    def body(head: float, nut: float) -> float:
        return sum(p.value for p in layered_parts(
            [ConeLayer("", 0.02, head, 0.0135, 0.05), ConeLayer("", 0.02, nut, 0.0135, 0.05)], 0.0166, 0.0166, 0.53))
    assert body(205e9, 70e9) == pytest.approx((body(205e9, 205e9) + body(70e9, 70e9)) / 2, rel=1e-12)
    # one cone (tapped hole): the part under the head, where the cone is narrow, counts more
    tapped = [sum(p.value for p in layered_parts(
        [ConeLayer("", 0.02, a, 0.0135), ConeLayer("", 0.02, b, 0.0135)], 0.0166, None, 0.53))
        for a, b in ((70e9, 205e9), (205e9, 70e9))]
    assert tapped[0] > 1.5 * tapped[1]


def test_the_shapes_meet_where_one_becomes_the_other() -> None:
    d_w, d_h, l_K, E = 0.0166, 0.0135, 0.04, 205e9
    slope = 0.5
    limit = joint.D_A_Gr(d_w, l_K, slope, 1)
    assert joint.delta_P_cone_sleeve(d_w, d_h, limit, l_K, E, slope, 1) == pytest.approx(
        joint.delta_P_cone(d_w, d_h, l_K, E, slope, 1), rel=1e-12)
    assert joint.delta_P_cone_sleeve(d_w, d_h, d_w, l_K, E, slope, 1) == pytest.approx(
        joint.delta_P_sleeve(d_w, d_h, l_K, E), rel=1e-12)


@given(l_K=lengths, D_A=st.floats(17e-3, 90e-3), more=st.floats(1.01, 3.0), w=st.sampled_from([1, 2]))
def test_wider_parts_are_never_softer(l_K: float, D_A: float, more: float, w: int) -> None:
    narrow, wide = (joint.delta_P(l_K, 16.6e-3, 13.5e-3, D, 205e9, w) for D in (D_A, D_A * more))
    assert wide <= narrow * (1 + 1e-12)


def test_two_cones_of_a_through_bolt_and_one_of_a_tapped_hole() -> None:
    """A trap: w = 2 for a through bolt makes a cone that reaches from head to nut."""
    through, tapped = (joint.delta_P(0.04, 0.0166, 0.0135, 0.2, 205e9, w) for w in (1, 2))
    assert through > 1.15 * tapped
    # two cones over l_K are twice one cone over l_K/2
    assert joint.delta_P_cone(0.0166, 0.0135, 0.04, 205e9, 0.5, 1) == pytest.approx(
        2 * joint.delta_P_cone(0.0166, 0.0135, 0.02, 205e9, 0.5, 2), rel=1e-12)


def test_arrays_are_computed_like_numbers() -> None:
    l_K, w = np.array([0.02, 0.04, 0.06]), np.array([2, 1, 1])
    D_A = np.array([0.10, 0.012, 0.022])  # cone, sleeve, cone and sleeve
    found = joint.delta_P(l_K, 0.0146, 0.011, D_A, 205e9, w)
    rows = list(zip(l_K.tolist(), D_A.tolist(), w.tolist(), strict=True))
    single = [joint.delta_P(a, 0.0146, 0.011, b, 205e9, c) for a, b, c in rows]
    assert found.tolist() == pytest.approx(single, rel=1e-12)
    assert all(isinstance(x, float) for x in single)


@given(beta=st.floats(0.1, 20), w=st.sampled_from([1, 2]))
def test_the_width_that_a_cone_just_fills(beta: float, w: int) -> None:
    d_w = 0.02
    D = joint.D_A_just_wide_enough(beta * d_w, d_w, w)
    slope = joint.tan_phi(beta * d_w, d_w, D, w)
    assert joint.D_A_Gr(d_w, beta * d_w, slope, w) == pytest.approx(D, rel=1e-12)


@pytest.mark.parametrize(("changed", "message"), [
    ({"l_K": 0.0}, "l_K has to be"), ({"l_K": -0.01}, "l_K has to be"), ({"d_w": math.nan}, "d_w"),
    ({"d_h": 0.02}, "larger than the hole"), ({"D_A": 0.012}, "D_A has to be larger than the hole"),
    ({"E_P": 0.0}, "E_P has to be"), ({"w": 3}, "w has to be 1"), ({"D_A": math.inf}, "D_A has to be finite"),
    ({"d_h": 0.0}, "d_h has to be"), ({"l_K": 1e-12}, "no cone"),
])
def test_sizes_that_make_no_cone_are_refused(changed: dict[str, float], message: str) -> None:
    sizes = {"l_K": 0.04, "d_w": 0.0166, "d_h": 0.0135, "D_A": 0.05, "E_P": 205e9, "w": 1} | changed
    with pytest.raises(ValueError, match=message):
        joint.delta_P(**sizes)


def test_a_slotted_hole_by_its_net_area() -> None:
    """Net area against counting points, the piece against quadrature; a slot as long as wide is a round hole."""
    D, b, s = 0.030, 0.0135, 0.022
    rng = np.random.default_rng(5)
    x, y = rng.uniform(-D / 2, D / 2, (2, 2_000_000))
    beside = np.maximum(np.abs(x) - (s - b) / 2, 0) ** 2 + y**2 > b**2 / 4
    share = np.mean((x**2 + y**2 < D**2 / 4) & beside)
    assert slotted_area(D, b, s) == pytest.approx(float(share) * D**2, rel=3e-3)
    expected = quad(lambda t: 1 / (205e9 * slotted_area(0.024 + 0.01 * t, b, s)), 0, 1, epsabs=0)[0] * 0.01
    assert delta_slotted(0.024, 0.034, 0.01, b, s, 205e9) == pytest.approx(expected, rel=1e-6)
    assert delta_slotted(0.024, 0.034, 0.01, b, b, 205e9) == pytest.approx(
        cones.delta_frustum(0.024, 0.034, b, 205e9, 0.5), rel=1e-9)
    round_hole = joint.clamped_resilience(case_of("M12", (layer(40, 13.5, 50),), 22)).total
    slotted = joint.clamped_resilience(case_of("M12", (layer(40, 13.5, 50, slot_length=20),), 22))
    assert slotted.total > 1.1 * round_hole
    assert any("net area" in note for note in slotted.notes)


def test_washers_and_narrow_parts_hold_the_cone_inside() -> None:
    washer = layer(2.5, 13, 24, washer=True, name="washer")
    found = joint.clamped_resilience(case_of("M12", (washer, layer(30, 13.5, 60), washer), 16.63))
    widest = max(part.D_2 for part in found.parts if part.name.startswith("washer"))
    assert widest <= 24e-3
    assert pytest.approx(60e-3) == found.D_A  # a washer is not the width D'_A of the parts
    narrow = joint.clamped_resilience(case_of("M12", (washer, layer(10, 13.5, 25, name="sleeve"), layer(20, 13.5, 60),
                                                      washer), 16.63))
    assert pytest.approx(25e-3) == narrow.D_A and any("narrowest" in note for note in narrow.notes)
    assert narrow.kind == "cone and sleeve"
    assert max(part.D_2 for part in narrow.parts if part.name.startswith("sleeve")) <= 25e-3


def test_bearing_faces_that_differ() -> None:
    """Cones that meet off mid grip; the angle takes the mean face, and says so."""
    found = joint.clamped_resilience(case_of("M12", (layer(40, 13.5, 80),), 18, d_w_nut=24))
    assert any("mean of the bearing faces, 21 mm" in note for note in found.notes)
    expected = integral([ConeLayer("", 0.04, 205e9, 0.0135, 0.08)], 0.018, 0.024, 2 * found.tan_phi)
    assert found.total == pytest.approx(expected, rel=1e-6)
    head, nut = found.parts
    assert head.l - nut.l == pytest.approx(0.006 / (2 * found.tan_phi))


def test_every_piece_can_be_computed_again() -> None:
    cases = [
        case_of("M12", (layer(2.5, 13, 24, washer=True), layer(12, 13.5, 30, ALUMINIUM), layer(25, 14, 80)), 16.63),
        case_of("M8", (layer(20, 9, 30, ALUMINIUM),), 12.33, through=False, head="socket cap"),
        case_of("M10", (layer(60, 11, 13),), 14.63),
    ]
    kinds = set()
    for case in cases:
        found = joint.clamped_resilience(case)
        kinds.add(found.kind)
        for part in found.parts:
            assert recompute(part.formula, part.inputs) == pytest.approx(part.value, rel=1e-12), part.name
        assert sum(part.value for part in found.parts) == pytest.approx(found.total)
    assert "sleeve" in kinds and "cone and sleeve" in kinds


@pytest.mark.parametrize(("change", "message"), [
    ({"layers": ()}, "at least one clamped part"), ({"d_w_nut": 0.0}, "counterpart.d_w"),
    ({"layers": (layer(-5, 13.5),)}, r"layers\[1\] \(plate\).length"),
    ({"layers": (layer(5, 0),)}, r"layers\[1\].*d_h"),
    ({"layers": (layer(40, 13.5, 13),)}, r"layers\[1\].*D_A"), ({"d_w": 13.0}, "no support on layers"),
    ({"layers": (layer(40, 13.5, 50, chamfer=17),)}, "hole or chamfer"),
    ({"layers": (layer(40, 13.5, slot_length=10),)}, "slot_length"),
    ({"layers": (layer(40, 13.5, material=replace(ALUMINIUM, E=None)),)}, r"layers\[1\].material.E.*none is assumed"),
    ({"layers": (layer(20, 13.5), layer(2, 80, name="bushing"), layer(20, 13.5))}, "bushing: its hole"),
])
def test_cases_without_a_clamped_body_are_refused(change: dict[str, object], message: str) -> None:
    arguments: dict[str, object] = {"layers": (layer(40, 13.5, 50),), "d_w": 16.63} | change
    with pytest.raises(CaseError, match=message):
        joint.clamped_resilience(case_of("M12", **arguments))  # type: ignore[arg-type]
