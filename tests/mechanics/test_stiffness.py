"""Bolt in pieces, textbook frusta, load factor and gaskets, with the traps of the trade."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from evenpull import joint
from evenpull.joint.case import CaseError, Gasket, JointCase, Material, Section
from evenpull.joint.springs import frusta, resilience
from evenpull.joint.springs.layers import gasket_stiffness
from evenpull.joint.springs.stiffness import gasket_spring
from tests.mechanics.formulas import recompute
from tests.mechanics.stiffness_cases import ALUMINIUM, STEEL, case_of, layer

INCH = 0.0254
PSI = 4.4482216152605 / INCH**2
MLBF_IN = 1e6 * 4.4482216152605 / INCH


# bolt ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "grip", "shank", "head", "through", "expected"),
    # Pieces of delta_S in 1e-6 mm/N: full chains computed from the formulas of VDI 2230-1 (from memory), E 205 GPa.
    [
        ("M12", 40, 20, "hexagon", True, (0.25879, 0.86263, 1.27953, 0.38386, 0.20703)),
        ("M8", 20, 0, "socket cap", False, (0.31055, 0.0, 2.97070, 0.59414, 0.25620)),
        ("M10", 60, 40, "hexagon", True, (0.31055, 2.48437, 1.86568, 0.46642, 0.24844)),
        ("M16", 50, 25, "hexagon", True, (0.19409, 0.60654, 0.84617, 0.27077, 0.15527)),
    ],
)
def test_pieces_of_the_bolt(
    size: str, grip: float, shank: float, head: str, through: bool, expected: tuple[float, ...]
) -> None:
    d = joint.thread(size).d * 1e3
    case = case_of(size, (layer(grip, d * 1.1, 10 * d),), d * 1.4, shank=shank, head=head, through=through)
    found = joint.bolt_resilience(case)
    pieces = [found.of(symbol) * 1e9 for symbol in ("delta_SK", "delta_1", "delta_Gew", "delta_G", "delta_M")]
    assert pieces == pytest.approx(expected, abs=6e-6)
    assert found.total == pytest.approx(sum(expected) * 1e-9, rel=1e-5)
    for part in found.parts:
        assert recompute(part.formula, part.inputs) == pytest.approx(part.value, rel=1e-12)
    thread = case.bolt.thread
    many = resilience.delta_S_shank_bolt(
        np.array([thread.d] * 2), resilience.root_area(thread), np.array([shank, shank]) * 1e-3, (grip - shank) * 1e-3,
        205e9, 205e9, 0.4 if head == "socket cap" else 0.5, 0.4 if through else 0.33,
    )
    assert many.tolist() == pytest.approx([found.total] * 2, rel=1e-12)


def test_necks_bores_and_studs() -> None:
    case = case_of("M16", (layer(80, 17.5, 100),), 22.49, shank=40)
    neck = Section(0.04, joint.necked_diameter(case.bolt.thread))
    necked = replace(case, bolt=replace(case.bolt, sections=(Section(0.01, 0.016), neck, Section(0.01, 0.016))))
    found = joint.bolt_resilience(necked)
    assert [part.symbol for part in found.parts] == [
        "delta_SK", "delta_1", "delta_2", "delta_3", "delta_Gew", "delta_G", "delta_M"]
    assert found.of("delta_2") == pytest.approx(0.04 / (205e9 * math.pi / 4 * neck.d**2))
    assert found.of("delta_Gew") == pytest.approx(0.02 / (205e9 * case.bolt.thread.A_d3))
    bored = replace(case, bolt=replace(case.bolt, d_i=0.006, sections=(Section(0.04, 0.016, 0.006),)))
    hollow = joint.bolt_resilience(bored)
    solid = joint.bolt_resilience(case)
    assert hollow.of("delta_1") / solid.of("delta_1") == pytest.approx(256 / (256 - 36))
    assert hollow.of("delta_M") == solid.of("delta_M")  # the bore goes through the bolt, not through the nut
    stud = joint.bolt_resilience(replace(case, bolt=replace(case.bolt, head="stud")))
    assert stud.of("delta_M2", "delta_G2") == pytest.approx(stud.of("delta_M", "delta_G"))
    assert stud.of("delta_SK") == 0


def test_the_counterpart_stretches_with_its_own_modulus() -> None:
    steel = joint.bolt_resilience(case_of("M8", (layer(20, 9, 30),), 12.33, through=False))
    light = joint.bolt_resilience(case_of("M8", (layer(20, 9, 30),), 12.33, through=False, nut=ALUMINIUM))
    assert light.of("delta_M") / steel.of("delta_M") == pytest.approx(205 / 70)
    assert light.of("delta_G") == steel.of("delta_G")


def test_inch_threads_stretch_with_their_own_root() -> None:
    """A trap: the root area of flange assembly, pi/4 (D - 1.3/n)^2, is not the section of the loaded thread."""
    size = joint.thread("3/4-10 UNC")
    d_3 = 0.75 - 1.1908 / 10
    assert resilience.root_area(size) == pytest.approx(math.pi / 4 * (d_3 * INCH) ** 2)
    assert resilience.root_area(size) > 1.03 * size.A_d3
    found = joint.bolt_resilience(case_of("3/4-10 UNC", (layer(50.8, 20.6, 60),), 28.6))
    assert found.of("delta_Gew") == pytest.approx(0.0508 / (205e9 * math.pi / 4 * (d_3 * INCH) ** 2))


@pytest.mark.parametrize(("head", "factor"), [
    ("hexagon", 0.5), ("flanged hexagon", 0.5), ("heavy hexagon", 0.5), ("socket cap", 0.4),
    ("hexagon socket cap", 0.4),
])
def test_substitute_length_of_heads(head: str, factor: float) -> None:
    assert resilience.head_length(0.012, head) == pytest.approx(factor * 0.012)


@pytest.mark.parametrize("head", ["countersunk socket", "socket button", "12-point", "", "hexagon nut"])
def test_heads_that_the_guideline_does_not_give(head: str) -> None:
    with pytest.raises(ValueError, match="is not given by the guideline"):
        resilience.head_length(0.012, head)


BASE = case_of("M12", (layer(40, 13.5, 50),), 16.63, shank=20)


@pytest.mark.parametrize(("case", "message"), [
    (case_of("M12", (layer(40, 13.5),), 16.63, shank=41), "bolt.sections.*longer than the clamped length"),
    (replace(BASE, bolt=replace(BASE.bolt, head="wing")), "bolt.head.*known: hexagon"),
    (replace(BASE, bolt=replace(BASE.bolt, material=Material("x", None, None))), "bolt.material.E"),
    (replace(BASE, bolt=replace(BASE.bolt, material=Material("x", math.nan, None))), "bolt.material.E"),
    (replace(BASE, counterpart=replace(BASE.counterpart, material=Material("y", -1.0, None))),
     "counterpart.material.E"),
    (replace(BASE, bolt=replace(BASE.bolt, length=0.04)), "bolt.length.*does not reach through"),
    (replace(BASE, bolt=replace(BASE.bolt, length=0.045), counterpart=replace(BASE.counterpart, engagement=0.01)),
     "ends before the clamped length.*correct one"),
    (replace(BASE, bolt=replace(BASE.bolt, d_i=0.011)), "bolt.d_i"),
    (replace(BASE, bolt=replace(BASE.bolt, sections=(Section(0.0, 0.012),))), r"bolt.sections\[1\].length"),
    (replace(BASE, bolt=replace(BASE.bolt, sections=(Section(0.01, 0.012, 0.012),))), "does not fit"),
    (replace(BASE, bolt=replace(BASE.bolt, d_w=math.inf)), "bolt.d_w"),
])
def test_bolts_that_cannot_be(case: JointCase, message: str) -> None:
    with pytest.raises(CaseError, match=message):
        joint.bolt_resilience(case)


def test_load_factor_and_its_trap() -> None:
    """n scales the bolt's share; without it the share is that of a load under the head."""
    assert joint.load_factor(0.5, 0.653374e-9, 2.99184e-9) == pytest.approx(0.0896208, rel=1e-5)
    assert joint.load_factor(1.0, 1.0, 1.0) == 0.5
    for n, delta_P, delta_S in ((-0.1, 1, 1), (math.nan, 1, 1), (1, 0, 1), (1, 1, -1)):
        with pytest.raises(ValueError, match=r"factor n|delta"):
            joint.load_factor(n, delta_P, delta_S)


# textbook ------------------------------------------------------------------------------------------------------------

sizes = st.floats(3e-3, 60e-3)


@given(d=sizes, wide=st.floats(1.05, 3), t=sizes, angle=st.floats(0.2, 1.0))
def test_a_frustum_is_its_integral(d: float, wide: float, t: float, angle: float) -> None:
    D = wide * d
    expected = quad(lambda x: 4 / (math.pi * 207e9 * ((D + 2 * x * math.tan(angle)) ** 2 - d**2)), 0, t, epsabs=0)[0]
    assert joint.frustum_stiffness(d, D, t, 207e9, angle) == pytest.approx(1 / expected, rel=1e-6)


@given(d=sizes, grip=sizes)
def test_one_material_is_two_frusta(d: float, grip: float) -> None:
    """Eq. 8-22 is eq. 8-20 twice, in series."""
    half = joint.frustum_stiffness(d, 1.5 * d, grip / 2, 207e9)
    assert joint.member_stiffness(207e9, d, grip) == pytest.approx(half / 2, rel=1e-9)
    assert joint.member_stiffness_layers([(grip, 207e9)], d) == pytest.approx(half / 2, rel=1e-9)


@pytest.mark.parametrize("row", frusta.FITS, ids=lambda row: row.material)
def test_the_fit_lies_near_the_frusta(row: frusta.Fit) -> None:
    """Eq. 8-23 was fitted to finite elements, not to the cones: within 6 % of them at a grip of 2 to 3 d, further off
    for others. No published figure; it only catches a slip in the constants of Table 8-8.
    """
    for slenderness in (2.0, 2.5, 3.0):
        fitted = joint.member_stiffness_fit(100e9, 0.012, slenderness * 0.012, row.A, row.B)
        assert fitted / joint.member_stiffness(100e9, 0.012, slenderness * 0.012) == pytest.approx(1, abs=0.06)


def test_the_constants_rise_with_the_poisson_ratio() -> None:
    """Two rows are from memory; they have to fit between those that were read."""
    rows = sorted((row for row in frusta.FITS if row.poisson is not None), key=lambda row: row.poisson or 0.0)
    assert [row.A for row in rows] == sorted(row.A for row in rows)
    assert [row.B for row in rows] == sorted(row.B for row in rows)


def test_names_of_the_fit() -> None:
    assert frusta.fit("Aluminum").A == 0.79670 and frusta.fit("cast iron").B == 0.61616
    with pytest.raises(ValueError, match="no constants for 'brass'; it has steel"):
        frusta.fit("brass")


@given(parts=st.lists(st.tuples(sizes, st.sampled_from([71e9, 100e9, 207e9])), min_size=1, max_size=5), d=sizes)
def test_frusta_of_layers(parts: list[tuple[float, float]], d: float) -> None:
    """Against quadrature over the whole stack; the frusta cover the grip once and are split at its middle."""
    grip = sum(t for t, _ in parts)
    found = joint.member_frusta(parts, d)
    assert sum(frustum.t for frustum in found) == pytest.approx(grip)
    slope, ends, total, x = 2 * math.tan(math.pi / 6), [], 0.0, 0.0
    for t, E in parts:
        ends.append((x, x + t, E))
        x += t
    for start, end, E in ends:
        for a, b in ((start, min(end, grip / 2)), (max(start, grip / 2), end)):
            if b > a:
                total += quad(lambda x, E=E: 4 / (math.pi * E * ((1.5 * d + slope * min(x, grip - x)) ** 2 - d**2)),
                              a, b, epsabs=0)[0]
    assert joint.member_stiffness_layers(parts, d) == pytest.approx(1 / total, rel=1e-6)
    assert joint.member_stiffness_layers(parts[::-1], d) == pytest.approx(1 / total, rel=1e-6)


def test_washer_and_part_of_one_material_are_one_frustum() -> None:
    one = joint.member_frusta([(0.002, 207e9), (0.020, 207e9), (0.018, 100e9)], 0.012)
    assert [frustum.E for frustum in one] == [207e9, 207e9, 100e9]  # washer and cover to mid grip, rest of cover, base
    assert one[1].D > one[0].D  # the lower cone has widened when it reaches the cover


def test_cap_screw_of_the_textbook() -> None:
    """Shigley, 9th ed., Example 8-5 (read): washer 1/16 in, steel cover 5/8 in, cast iron base, 5/8-11 screw."""
    case = case_of(
        "5/8-11 UNC", (layer(0.0625 * 25.4, 17, material=replace(STEEL, E=30e6 * PSI), washer=True),
                       layer(0.625 * 25.4, 17, material=replace(STEEL, E=30e6 * PSI))), 23.8, through=False,
        nut=Material("cast iron", 16e6 * PSI, None),
    )
    case = replace(case, bolt=replace(case.bolt, material=replace(STEEL, E=30e6 * PSI)))
    found = joint.textbook_stiffness(case)
    assert found.grip / INCH == pytest.approx(1.0)
    assert [frustum.k / MLBF_IN for frustum in found.frusta] == pytest.approx([46.46, 197.43, 32.39], rel=1e-3)
    assert found.k_b / MLBF_IN == pytest.approx(0.226 * 30 / 1.0, rel=2e-3)
    assert pytest.approx(0.28, abs=6e-4) == found.C


def test_bolt_in_series_and_the_other_books() -> None:
    """Eq. 8-17 is shank and thread in series. A trap: another textbook takes the shank area over the whole grip and
    0.58 for 0.5774; it gives other results, which is no error of either.
    """
    k_b = joint.bolt_stiffness(113e-6, 84.3e-6, 0.030, 0.015, 207e9)
    assert k_b == pytest.approx(466.8e6, rel=1e-3)  # Shigley, problem 8-22, solution manual of the 8th ed. (read)
    assert k_b == pytest.approx(frusta.series(113e-6 * 207e9 / 0.030, 84.3e-6 * 207e9 / 0.015))
    assert 1.1 * k_b < 113e-6 * 207e9 / 0.045
    assert joint.joint_constant(466.8e6, 1379e6) == pytest.approx(0.253, abs=6e-4)


def test_several_sections_act_one_after_the_other() -> None:
    bolt = replace(BASE.bolt, sections=(Section(0.01, 0.012), Section(0.01, 0.010)))
    found = joint.textbook_stiffness(replace(BASE, bolt=bolt))
    A = [math.pi / 4 * d**2 for d in (0.012, 0.010)]
    assert 1 / found.k_b == pytest.approx((0.01 / A[0] + 0.01 / A[1] + 0.02 / found.A_t) / 205e9)
    assert found.notes
    faces = joint.textbook_stiffness(BASE, bearing_faces=True)
    starts = [found.frusta[0].D for found in (faces, joint.textbook_stiffness(BASE))]
    assert starts == pytest.approx([0.01663, 0.018])


@pytest.mark.parametrize(("d", "L", "system", "expected"), [
    (14, 50, "metric", 34), (14, 125, "metric", 34), (14, 126, "metric", 40), (14, 200, "metric", 40),
    (14, 201, "metric", 53), (0.5, 6, "inch", 1.25), (0.5, 6.1, "inch", 1.5), (0.625, 2.25, "inch", 1.5),
])
def test_threaded_length(d: float, L: float, system: str, expected: float) -> None:
    """Shigley eq. 8-13 and 8-14; M14 and 5/8 in read in the solution manual of the 8th ed. and Example 8-4."""
    unit = 1e-3 if system == "metric" else INCH
    assert joint.thread_length(d * unit, L * unit, system) / unit == pytest.approx(expected)  # type: ignore[arg-type]


def test_grip_rules() -> None:
    """Shigley Table 8-7; numbers of problems 8-11 to 8-14, solution manual of the 8th ed. (read)."""
    assert joint.shank_in_grip(0.050, 0.034, 0.0315) == pytest.approx(0.016)
    assert joint.cap_screw_grip(0.875 * INCH, 1.0, 0.5 * INCH) == pytest.approx(1.125 * INCH)
    assert joint.cap_screw_grip(0.020, 1.0, 0.012) == pytest.approx(0.026)
    assert joint.cap_screw_grip(0.020, 0.008, 0.012) == pytest.approx(0.024)  # a tapped part thinner than d
    assert joint.cap_screw_length(0.020, 0.012) == pytest.approx(0.038)
    assert joint.shank_in_grip(0.030, 0.034, 0.02) == 0  # threaded to the head
    with pytest.raises(ValueError, match="does not reach through"):
        joint.shank_in_grip(0.030, 0.02, 0.031)
    with pytest.raises(ValueError, match="nut would not clamp"):
        joint.shank_in_grip(0.060, 0.02, 0.030)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: joint.frustum_stiffness(0.012, 0.012, 0.02, 207e9), "wider than the bolt"),
    (lambda: joint.frustum_stiffness(0.012, 0.018, 0.0, 207e9), "t has to be"),
    (lambda: joint.frustum_stiffness(0.012, 0.018, 0.02, 207e9, 1.6), "half angle"),
    (lambda: joint.frustum_stiffness(0.012, math.nan, 0.02, 207e9), "wider than the bolt"),
    (lambda: joint.member_stiffness(207e9, 0.012, math.inf), "l has to be"),
    (lambda: joint.member_stiffness_layers([], 0.012), "no layer"),
    (lambda: joint.member_stiffness_layers([(0.01, 0.0)], 0.012), "E has to be"),
    (lambda: frusta.series(), "none is given"), (lambda: frusta.series(1e9, 0.0), "k has to be"),
    (lambda: joint.bolt_stiffness(1e-4, 8e-5, 0.0, 0.0, 2e11), "grip has to be"),
    (lambda: joint.bolt_stiffness(1e-4, 8e-5, -0.01, 0.03, 2e11), "may not be negative"),
    (lambda: joint.joint_constant(0.0, 1e9), "k_b has to be"),
    (lambda: joint.thread_length(0.056, 0.3, "metric"), "ends at d = 48 mm"),
    (lambda: joint.cap_screw_grip(-0.01, 0.02, 0.01), "h has to be"),
])
def test_textbook_refusals(call: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()  # type: ignore[operator]


@given(d=st.floats(8e-3, 30e-3), slenderness=st.floats(1.5, 5))
def test_the_two_rule_sets_differ_but_agree_in_size(d: float, slenderness: float) -> None:
    """Cones of the guideline and frusta of the textbook for one wide steel joint: the same order, not the same number.

    The guideline's hole is wider than the bolt (medium series, 1.1 d here), which alone makes parts softer.
    """
    l_K = slenderness * d
    guideline = 1 / joint.delta_P(l_K, 1.5 * d, 1.1 * d, 6 * d, 207e9, 1)
    textbook = joint.member_stiffness(207e9, d, l_K)
    assert 0.5 < guideline / textbook < 1.5
    assume(slenderness > 1.6)
    assert guideline != pytest.approx(textbook, rel=1e-3)


# gasket --------------------------------------------------------------------------------------------------------------


def test_a_gasket_is_a_spring_in_series() -> None:
    gasket = Gasket(thickness=3e-3, E=480e6, area=1.2e-3)
    k = gasket_stiffness(480e6, 1.2e-3, 3e-3)
    assert k == pytest.approx(192e6)
    with_it, without = (joint.clamped_resilience(replace(BASE, gasket=g)) for g in (gasket, None))
    assert with_it.total == pytest.approx(without.total + 1 / k)
    assert recompute(with_it.parts[-1].formula, with_it.parts[-1].inputs) == pytest.approx(1 / k)
    textbook = joint.textbook_stiffness(replace(BASE, gasket=gasket))
    plain = joint.textbook_stiffness(BASE)
    assert 1 / textbook.k_m == pytest.approx(1 / plain.k_m + 1 / k)
    assert textbook.C > 2 * plain.C  # a soft gasket throws the load onto the bolt
    # its thickness lies in the grip: the bolt is longer by it
    with_it_, without_ = (joint.bolt_resilience(replace(BASE, gasket=g)).of("delta_Gew") for g in (gasket, None))
    assert with_it_ - without_ == pytest.approx(3e-3 / (205e9 * resilience.root_area(BASE.bolt.thread)))
    assert gasket_spring(Gasket(stiffness=5e8)) == 5e8


@pytest.mark.parametrize(("gasket", "message"), [
    (Gasket(), "state its stiffness"), (Gasket(thickness=2e-3, E=1e9), "state its stiffness"),
    (Gasket(stiffness=-1.0), "greater than zero"), (Gasket(stiffness=math.nan), "greater than zero"),
    (Gasket(stiffness=1e8, thickness=3e-3, E=480e6, area=1.2e-3), "contradict"),
    (Gasket(thickness=-1e-3, E=1e9, area=1e-3), "gasket.thickness"),
    (Gasket(thickness=1e-3, E=0.0, area=1e-3), "gasket.E has to be"),
])
def test_gaskets_that_are_no_spring(gasket: Gasket, message: str) -> None:
    with pytest.raises(CaseError, match=message):
        joint.clamped_resilience(replace(BASE, gasket=gasket))
