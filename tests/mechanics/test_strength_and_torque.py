"""Threads, strengths, nut proof loads and the torque formulas. The rows of tests/reference check the numbers."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenpull import catalogue, joint
from evenpull.catalogue import NotInCatalogue
from evenpull.catalogue.strengths import nut_rows, strength_rows
from evenpull.catalogue.threads import inch_threads, metric_pitches, size_in_inch

metric_names = st.sampled_from([f"M{d:g}x{p:g}" for d, pitches in metric_pitches().items() for p in pitches])
inch_names = st.sampled_from([f"{size}-{n:g} {kinds[0]}" for (size, n), kinds in inch_threads().items()])
names = st.one_of(metric_names, inch_names)


@given(names)
def test_every_thread_of_the_tables_is_a_thread(name: str) -> None:
    size = joint.thread(name)
    assert size.d > size.d2 > size.D1 > size.d3 > 0
    assert math.pi / 4 * size.d3**2 <= size.A_s * 1.0001
    assert size.A_d3 < size.A_s < math.pi / 4 * size.d2**2
    assert joint.thread(size.designation) == size
    assert joint.stress_diameter(size) == pytest.approx(
        (size.d2 + size.d3) / 2, rel=1e-9 if size.system == "metric" else 0.02  # inch areas use another root
    )


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("M16", "M16"), ("M16x2", "M16"), ("M16 x 1.5", "M16x1.5"), ("M16×1.5", "M16x1.5"),
        ("3/4-10 UNC", "3/4-10 UNC"),
        ("3/4-10", "3/4-10 UNC"), ("3/4 UNC", "3/4-10 UNC"), ("1-8 UN", "1-8 UNC"), ("1-1/8-8UN", "1-1/8-8 UN"),
        ("1 1/8-7 UNC", "1-1/8-7 UNC"), ("#10-24", "#10-24 UNC"), ("10-32", "#10-32 UNF"), ("No.8-32 UNC", "#8-32 UNC"),
        ("2-4.5 UNC", "2-4.5 UNC"), ("1-14", "1-14 UNS"), ("M72x6", "M72x6"), ("3/4-16 UNRF", "3/4-16 UNF"),
    ],
)
def test_designations(written: str, name: str) -> None:
    assert joint.thread(written).designation == name


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("M17.5", "M17, M18"), ("M72", "no coarse pitch"), ("M16x1.75", "M16x2, M16x1.5"), ("3/4-12", "3/4-10 UNC"),
        ("1-1/8", "name the threads per inch"), ("G 3/4", "write it as"), ("M16x0", "M16x2"), ("", "write it as"),
        ("3/4-10 UNF", "3/4-16 UNF"), ("M-16", "write it as"), ("5/0-3", "threads of ASME"),
    ],
)
def test_threads_that_do_not_exist_name_those_that_do(written: str, message: str) -> None:
    with pytest.raises(NotInCatalogue, match=message):
        joint.thread(written)


def test_sizes_in_inch() -> None:
    assert [size_in_inch(s) for s in ("#10", "3/4", "1", "1-1/8", "2-1/4")] == [0.190, 0.75, 1, 1.125, 2.25]
    with pytest.raises(ValueError):
        size_in_inch("x")


def test_profile_refuses_what_is_no_thread() -> None:
    for d, P in ((0.010, 0.0), (0.010, -1e-3), (0.001, 0.001), (math.nan, 0.001)):
        with pytest.raises(ValueError, match="no thread"):
            joint.metric_thread(d, P)
    with pytest.raises(ValueError, match="no thread"):
        joint.inch_thread(0.01, 0)


def test_strength_rows_rise_and_do_not_overlap() -> None:
    for row in strength_rows():
        assert row.status in ("read", "memory") and row.source
        if row.R_p02 is not None:
            assert row.R_p02 < row.R_m
            assert row.S_p is None or row.S_p <= row.R_p02
    by_name: dict[str, list[tuple[float, float]]] = {}
    for row in strength_rows():
        by_name.setdefault(row.designation, []).append((row.over, row.up_to))
    for ranges in by_name.values():
        ranges.sort()
        assert all(up_to == pytest.approx(over) for (_, up_to), (over, _) in pairwise(ranges))


@pytest.mark.parametrize(
    ("written", "thread", "R_m", "R_p02", "S_p"),
    [  # MPa; ISO 898-1 Table 3, ISO 3506-1 Table 2 as in tests/reference
        ("8.8", "M16", 800, 640, 580), ("8.8", "M18", 830, 660, 600), ("class 10.9", "M20", 1040, 940, 830),
        ("A4-80", "M12", 800, 600, None), ("A2-70", "M12", 700, 450, None), ("A1-50", "M12", 500, 210, None),
    ],
)
def test_strength_by_size(written: str, thread: str, R_m: float, R_p02: float, S_p: float | None) -> None:
    found = joint.strength(written, joint.thread(thread))
    assert (found.R_m, found.R_p02, found.S_p) == pytest.approx((R_m * 1e6, R_p02 * 1e6, S_p and S_p * 1e6))
    assert found.designation == written


@pytest.mark.parametrize(
    ("written", "canonical"),
    [
        ("grade 5", "SAE J429 grade 5"), ("SAE grade 8", "SAE J429 grade 8"), ("SAE J429 Gr. 2", "SAE J429 grade 2"),
        ("ASTM A193 grade B7", "A193 B7"), ("A193M B8M class 2", "A193 B8M cl.2"), ("A320 L7", "A320 L7"),
        ("astm a490", "A490"),
    ],
)
def test_names_of_inch_grades(written: str, canonical: str) -> None:
    one, other = joint.strength_at(written, 0.0127), joint.strength_at(canonical, 0.0127)
    assert (one.R_m, one.R_p02, one.S_p) == (other.R_m, other.R_p02, other.S_p)


@pytest.mark.parametrize(
    ("written", "thread", "message"),
    [
        ("8.9", "M16", "10.9"), ("9.8", "M20", "0 mm < d <= 16 mm"), ("10.9", "M42", "39 mm"),
        ("SAE J429 grade 5", "2-4.5 UNC", "38.1 mm"), ("grade 5.1", "1/2-13", "states none"), ("", "M16", "known"),
    ],
)
def test_strengths_that_do_not_exist(written: str, thread: str, message: str) -> None:
    with pytest.raises(NotInCatalogue, match=message):
        joint.strength(written, joint.thread(thread))


def test_larger_stainless_says_that_it_must_be_agreed() -> None:
    assert "agreed with the maker" in joint.strength("A4-70", joint.thread("M30")).source
    assert "agreed" not in joint.strength("A4-70", joint.thread("M24")).source


def test_no_proof_load_where_the_standard_has_none() -> None:
    size = joint.thread("1-8 UNC")
    assert joint.proof_load(size, joint.strength("A193 B7", size)) is None
    assert joint.ultimate_load(size, joint.strength("A193 B7", size)) > 0


def test_nut_classes_and_styles() -> None:
    """M8 class 12: 41 700 N style 1, 42 500 N style 2 (ISO 898-2:1992, read)."""
    m8 = joint.thread("M8")
    assert joint.nut_proof_load(m8, 12, 1) == pytest.approx(41_700, rel=3e-3)
    assert joint.nut_proof_load(m8, 12, 2) == pytest.approx(42_500, rel=3e-3)
    assert joint.nut_row(m8, "12").style == "style 1"
    assert joint.nut_row(joint.thread("M20"), "12").style == "style 2"  # style 1 ends at M16
    assert joint.nut_row(joint.thread("M20x1.5"), "8").thread == "fine"
    assert joint.nut_proof_load(m8, "A4-80") == pytest.approx(800 * 36.6, rel=1e-3)
    for row in nut_rows():
        assert 0 <= row.over < row.up_to and row.S_p > 0 and row.source and row.status


@pytest.mark.parametrize(
    ("thread", "nut_class", "style", "message"),
    [("M8", "7", None, "known: "), ("M20", "12", 1, "style 1"), ("M42", "8", None, "39 mm"),
     ("3/4-10", "8", None, "metric")],
)
def test_nuts_that_do_not_exist(thread: str, nut_class: str, style: int | None, message: str) -> None:
    with pytest.raises(NotInCatalogue, match=message):
        joint.nut_row(joint.thread(thread), nut_class, style)


mu = st.floats(0.04, 0.5)


@given(names, mu, mu, st.floats(1.0, 1e6), st.floats(1.2, 1.9))
def test_torque_and_load_are_inverse(name: str, mu_G: float, mu_K: float, load: float, face: float) -> None:
    size = joint.thread(name)
    mean = joint.D_Km(size.d * face, size.d * 1.1)
    torque = joint.M_A(load, size, mu_G, mu_K, mean)
    assert joint.F_M(torque, size, mu_G, mu_K, mean) == pytest.approx(load)
    K = joint.nut_factor(size, mu_G, mu_K, mean)
    assert joint.torque_from_nut_factor(load, K, size.d) == pytest.approx(torque)
    assert joint.load_from_nut_factor(torque, K, size.d) == pytest.approx(load)
    assert joint.nut_factor_from_test(torque, load, size.d) == pytest.approx(K)
    assert joint.mu_from_nut_factor(size, joint.nut_factor(size, mu_G, mu_G, mean), mean) == pytest.approx(mu_G)


@given(names, mu, st.floats(0.1, 1.0))
def test_permissible_preload_is_the_load_at_that_utilisation(name: str, mu_G: float, nu: float) -> None:
    size = joint.thread(name)
    strength = joint.Strength("test", 800e6, 640e6, 580e6, "invented", "memory")
    load = joint.F_M_zul(size, strength, mu_G, nu)
    assert joint.utilisation(load, size, strength, mu_G) == pytest.approx(nu)
    assert load < nu * joint.yield_load(size, strength)


@given(metric_names, st.floats(0.04, 0.24), st.floats(0.04, 0.24))
def test_linear_form_against_the_exact_helix(name: str, mu_G: float, mu_K: float) -> None:
    """The linear R13 of VDI 2230-1 stays within 1.5 % of the exact helix formula (Shigley eq. 8-5) from M3 up and for
    the friction classes A to C; on the smallest threads with the highest friction it falls 3 % short."""
    size = joint.thread(name)
    assume(size.d >= 0.003)
    mean = joint.D_Km(size.d * 1.5, size.d * 1.1)
    exact = joint.T_textbook(1e3, size.d2, size.P, mu_G, mu_K, mean)
    assert joint.M_A(1e3, size, mu_G, mu_K, mean) == pytest.approx(exact, rel=0.015)


def test_textbook_example_three_quarter_sixteen() -> None:
    """Shigley Example 8-3: 3/4-16 UNF, 25 kip. K = 0.20 gives 3750 lbf.in; friction 0.15 on both faces, mean thread
    diameter (d + d_r)/2 and collar 1.25 d give 3551 lbf.in (computed; the printed answer from memory, not re-read)."""
    lbf, inch = 4.4482216152605, 0.0254
    size = joint.thread("3/4-16 UNF")
    load, d = 25_000 * lbf, size.d
    assert joint.torque_from_nut_factor(load, 0.20, d) / (lbf * inch) == pytest.approx(3750, rel=1e-3)
    root = d - 1.299038 * size.P
    torque = joint.T_textbook(load, (d + root) / 2, size.P, 0.15, 0.15, 1.25 * d)
    assert torque / (lbf * inch) == pytest.approx(3551, rel=2e-3)
    # preload stress 67.02 ksi (read), with the printed stress area 0.373 in2
    assert load / size.A_s / 6894757.293168361 == pytest.approx(67.02, rel=2e-3)


def test_torque_coefficients_of_a_tightening_test() -> None:
    """ISO 16047: K = T/(F d): M12, 100 N.m at 55 kN give 0.15152 (computed from the standard's formula)."""
    assert joint.nut_factor_from_test(100.0, 55e3, 0.012) == pytest.approx(0.15152, abs=1e-5)


def test_impossible_geometry_and_friction() -> None:
    with pytest.raises(ValueError, match="larger than the hole"):
        joint.D_Km(0.010, 0.011)
    with pytest.raises(ValueError, match="no friction"):
        joint.mu_from_nut_factor(joint.thread("M16"), 0.01, 0.020)
    with pytest.raises(ValueError, match="too large"):
        joint.T_textbook(1.0, 0.010, 0.030, 2.0, 0.1, 0.015)


def test_heads_holes_and_friction_states() -> None:
    for system in ("metric", "inch"):
        for head in catalogue.heads(system):
            with pytest.raises(NotInCatalogue):
                catalogue.bearing_diameter(head, 0.5, system)
    for d in (0.003, 0.006, 0.012, 0.020, 0.030, 0.039, 0.064):
        face = catalogue.bearing_diameter("hexagon", d, "metric")
        holes = [catalogue.clearance_hole(series, d, "metric").value for series in catalogue.HOLE_SERIES]
        assert d < holes[0] < holes[1] < holes[2] < face.value
    assert catalogue.bearing_diameter("hexagon", 0.024, "metric").status == "read"
    with pytest.raises(NotInCatalogue, match="fine, medium, coarse"):
        catalogue.clearance_hole("loose", 0.01, "metric")
    with pytest.raises(NotInCatalogue, match="hexagon"):
        catalogue.bearing_diameter("butterfly", 0.01, "metric")
    for state in catalogue.lubricants():
        assert 0 < state.mu_G[0] < state.mu_G[1] < state.mu_G[2] < 1 and state.source and state.status
        assert catalogue.lubricant(state.name) == state
    with pytest.raises(NotInCatalogue, match="oil film"):
        catalogue.lubricant("butter")
    assert catalogue.friction_class("A") == (0.04, 0.10)  # VDI 2230-1 Table A5, read
    assert catalogue.friction_class("E")[1] is None
    with pytest.raises(NotInCatalogue):
        catalogue.friction_class("source")
    assert catalogue.tool_scatter("setting").share == 0.04
    assert catalogue.tightening_factor("torque wrench, friction estimated") == (1.6, 2.0)  # read
