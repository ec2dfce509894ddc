"""Tables of threads and strengths against what they are known to trip over: wrong roots, shifted columns, misprints of
copies, changes of strength with size, nuts of one class and two styles. The source stands at each check.
"""

from __future__ import annotations

import math

import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue
from evenpull.catalogue.nuts_inch import inch_nut_rows
from evenpull.catalogue.strengths import strength_rows
from evenpull.catalogue.threads import inch_threads, metric_pitches
from evenpull.joint.parts.nuts_inch import inch_nut_row
from evenpull.joint.parts.strengths import oversize_stress_area
from evenpull.joint.parts.threads import INCH
from evenpull.joint.service.shear import shear_ratio

KSI = 6894757.293168361
LBF = 4.4482216152605


# threads ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "area"),
    [  # mm2, ISO 898-1 Tables 4 and 6 (coarse, fine), from memory, not re-read
        ("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M8", 36.6), ("M10", 58.0), ("M12", 84.3),
        ("M14", 115), ("M16", 157), ("M18", 192), ("M20", 245), ("M22", 303), ("M24", 353), ("M27", 459), ("M30", 561),
        ("M33", 694), ("M36", 817), ("M39", 976), ("M8x1", 39.2), ("M10x1.25", 61.2), ("M10x1", 64.5),
        ("M12x1.25", 92.1), ("M12x1.5", 88.1), ("M14x1.5", 125), ("M16x1.5", 167), ("M18x1.5", 216), ("M18x2", 204),
        ("M20x1.5", 272), ("M20x2", 258), ("M22x1.5", 333), ("M24x2", 384), ("M27x2", 496), ("M30x2", 621),
        ("M33x2", 761), ("M36x3", 865), ("M39x3", 1030),
        # DIN 13-28, above the sizes of ISO 898-1, from memory
        ("M42", 1120), ("M45", 1310), ("M48", 1470), ("M52", 1760), ("M56", 2030), ("M60", 2360), ("M64", 2680),
        ("M68", 3060), ("M72x6", 3460), ("M80x6", 4340), ("M90x6", 5590), ("M100x6", 7000),
    ],
)
def test_stress_areas(name: str, area: float) -> None:
    assert joint.thread(name).A_s * 1e6 == pytest.approx(area, rel=0.006)


@pytest.mark.parametrize(("name", "shifted"), [("M18x1.5", 232), ("M18x2", 216), ("M20x1.5", 290), ("M20x2", 272)])
def test_shifted_column_of_fine_threads_is_not_taken_over(name: str, shifted: float) -> None:
    """Some public tables of fine threads carry a shifted column of stress areas; the value follows from ISO 68-1."""
    size = joint.thread(name)
    assert size.A_s == pytest.approx(math.pi / 4 * (size.d - 0.938194 * size.P) ** 2, rel=1e-5)
    assert abs(size.A_s * 1e6 / shifted - 1) > 0.05


def test_stress_area_needs_the_root_and_not_D1() -> None:
    """ISO 68-1: D_1 lies at 5/8 H, d_3 at 17/24 H; with D_1 the area of M10 comes out 2.5 % too large."""
    size = joint.thread("M10")
    H = math.sqrt(3) / 2 * size.P
    assert size.d - size.D1 == pytest.approx(2 * 5 / 8 * H, rel=1e-5)
    assert size.d - size.d3 == pytest.approx(2 * 17 / 24 * H, rel=1e-5)
    assert joint.stress_area(size.d2, size.D1) / size.A_s == pytest.approx(1.025, abs=0.001)


def test_rounded_and_unrounded_areas_stay_within_one_per_cent() -> None:
    """ISO tables build loads on either; three figures differ by at most 0.5 %."""
    for d, pitches in metric_pitches().items():
        for P in pitches:
            size = joint.metric_thread(d * 1e-3, P * 1e-3)
            assert joint.nominal_stress_area(size) == pytest.approx(size.A_s, rel=0.005)


def test_inch_areas_are_not_metric_areas_in_inch() -> None:
    """ASME B1.1 takes another root: 0.9743 P for 0.9382 P. Three quarters-10: 0.334 in2 (Shigley Table 8-2, read)."""
    size = joint.thread("3/4-10 UNC")
    assert size.A_s / INCH**2 == pytest.approx(0.334, abs=5e-4)
    metric = math.pi / 4 * (size.d - 0.938194 * size.P) ** 2
    assert metric / size.A_s > 1.005


def test_misprint_of_number_five_fine() -> None:
    """#5-44 UNF is 0.008 31 in2; Shigley Table 8-2 prints 0.008 80 (read)."""
    area = joint.thread("#5-44 UNF").A_s / INCH**2
    assert area == pytest.approx(0.00831, abs=5e-6) and abs(area - 0.00880) > 4e-4


@pytest.mark.parametrize(
    ("name", "area"),
    [  # in2, ASME B1.1 tensile stress areas, from memory, not re-read
        ("#0-80 UNF", 0.00180), ("#4-40 UNC", 0.00604), ("#12-28 UNF", 0.0258), ("1/4-28 UNF", 0.0364),
        ("9/16-18 UNF", 0.203), ("1-1/8-12 UNF", 0.856), ("1-1/2-6 UNC", 1.405), ("2-3/4-4 UNC", 4.93),
        ("4-4 UNC", 11.08),
        ("1-1/8-8 UN", 0.790), ("1-1/2-8 UN", 1.492), ("2-1/2-8 UN", 4.44), ("4-8 UN", 11.81), ("6-8 UN", 27.1),
    ],
)
def test_inch_series_to_their_ends(name: str, area: float) -> None:
    assert joint.thread(name).A_s / INCH**2 == pytest.approx(area, rel=0.006)


def test_series_are_complete() -> None:
    """Sizes of ASME B1.1 (from memory): UNC #1 to 4 in, UNF #0 to 1-1/2 in, 8UN 1 to 6 in. Metric: ISO 261 to 100 mm,
    the coarse series to M68."""
    count = {series: sum(series in kinds for kinds in inch_threads().values()) for series in ("UNC", "UNF", "8UN")}
    assert count == {"UNC": 33, "UNF": 24, "8UN": 41}
    pitches = metric_pitches()
    assert max(pitches) == 100 and min(pitches) == 1
    assert set(range(70, 101, 5)) <= set(pitches)
    for d in (14, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 42, 45, 48, 52, 56, 60, 64, 68):
        assert len(pitches[d]) >= 3


# bolts -----------------------------------------------------------------------------------------------------------


def test_eight_eight_changes_above_16_mm_and_nine_eight_ends_there() -> None:
    """ISO 898-1 Table 3 (read)."""
    small, large = (joint.strength("8.8", joint.thread(name)) for name in ("M16", "M18"))
    assert (small.R_m, small.R_p02, small.S_p) == pytest.approx((800e6, 640e6, 580e6))
    assert (large.R_m, large.R_p02, large.S_p) == pytest.approx((830e6, 660e6, 600e6))
    with pytest.raises(NotInCatalogue, match="16 mm"):
        joint.strength("9.8", joint.thread("M18"))


@pytest.mark.parametrize(
    ("thread", "name", "printed"),
    [  # N; ISO 898-1 Table 5 (read): printed values are not always the nearest rounding
        ("M6", "8.8", 11_600), ("M10", "8.8", 33_700),
    ],
)
def test_printed_proof_loads_within_one_per_cent(thread: str, name: str, printed: float) -> None:
    size = joint.thread(thread)
    load = joint.proof_load(size, joint.strength(name, size))
    assert load == pytest.approx(printed, rel=0.01) and load != pytest.approx(printed, rel=1e-4)


@pytest.mark.parametrize(
    ("thread", "name", "right", "misprinted"),
    [  # N; ISO 898-1 Table 4, and a public copy of it
        ("M4", "10.9", 9_130, 91_130), ("M20", "10.9", 255_000, 250_000), ("M12", "9.8", 75_900, 75_200),
    ],
)
def test_misprinted_ultimate_loads_are_not_taken_over(thread: str, name: str, right: float, misprinted: float) -> None:
    size = joint.thread(thread)
    load = joint.ultimate_load(size, joint.strength(name, size))
    assert load == pytest.approx(right, rel=0.003)
    assert abs(load - misprinted) > 2 * abs(load - right)


def test_structural_bolts_of_eight_eight_have_loads_of_their_own() -> None:
    """ISO 898-1 Table 4, footnote (read): for structural bolting M12 to M16 the ultimate loads are those of 830 MPa,
    70 000, 95 500 and 130 000 N. The class as such keeps 800 MPa: the larger load is not taken over."""
    for name, load in (("M12", 70_000), ("M14", 95_500), ("M16", 130_000)):
        size = joint.thread(name)
        ordinary = joint.ultimate_load(size, joint.strength("8.8", size))
        assert ordinary < 0.98 * load
        assert 830e6 * joint.nominal_stress_area(size) == pytest.approx(load, rel=0.003)


@pytest.mark.parametrize(
    ("name", "border", "below", "above"),
    [  # in, ksi of proof stress: SAE J429 (read), ASTM A354 (from memory)
        ("SAE J429 grade 2", 0.75, 55, 33), ("SAE J429 grade 5", 1.0, 85, 74), ("A354 BD", 2.5, 120, 105),
    ],
)
def test_inch_grades_drop_with_size(name: str, border: float, below: float, above: float) -> None:
    small, large = joint.strength_at(name, border * INCH), joint.strength_at(name, (border + 0.125) * INCH)
    assert small.S_p == pytest.approx(below * KSI) and large.S_p == pytest.approx(above * KSI)


def test_no_proof_stress_is_invented() -> None:
    """ASTM A193 and A320 specify tensile and yield strength and no proof load; 0.85 of the yield strength is a
    textbook's stopgap (Shigley, read)."""
    rows = [row for row in strength_rows() if row.group in ("astm_a193_a320", "stainless", "aviation")]
    assert len(rows) > 30 and all(row.S_p is None for row in rows)


@pytest.mark.parametrize("name", ["8.8", "10.9", "12.9", "A4-80"])
@pytest.mark.parametrize("thread", ["M42", "M64", "M100x6"])
def test_classes_beyond_their_sizes_are_refused_with_a_way_out(name: str, thread: str) -> None:
    with pytest.raises(NotInCatalogue, match="maker") as error:
        joint.strength(name, joint.thread(thread))
    assert "39 mm" in str(error.value)
    assert all(word in str(error.value) for word in ("R_m", "R_p02", "S_p", "certificate"))


@pytest.mark.parametrize(("level", "yield_ksi", "shear_ksi"), [(125, 103, 75), (160, 142, 95), (180, 163, 108)])
def test_aviation_levels(level: int, yield_ksi: float, shear_ksi: float) -> None:
    """MIL-HDBK-5, heat-treated low-alloy steel, from memory; shear strengths as bolts are bought by them."""
    found = joint.strength_at(f"aviation {level} ksi", 0.375 * INCH)
    assert (found.R_m, found.R_p02, found.S_p) == (pytest.approx(level * KSI), pytest.approx(yield_ksi * KSI), None)
    assert "standard of the part goes first" in found.source
    ratio = shear_ratio(f"aviation, {level} ksi tensile")
    assert ratio is not None and ratio[0] * level == pytest.approx(shear_ksi)


def test_aviation_level_without_a_yield_strength() -> None:
    with pytest.raises(NotInCatalogue, match="states none"):
        joint.strength_at("aviation 220 ksi", 0.375 * INCH)
    with pytest.raises(NotInCatalogue, match="aviation 160 ksi"):
        joint.strength_at("aviation 150 ksi", 0.375 * INCH)
    with pytest.raises(NotInCatalogue, match=r"38\.1 mm"):
        joint.strength_at("aviation 160 ksi", 2 * INCH)
    assert shear_ratio("A4-80") is None and shear_ratio("aviation 999 ksi") is None
    assert shear_ratio("class 8.8") == shear_ratio("8.8")


def test_oversize_tapped_threads_carry_less() -> None:
    """ISO 10684 annex A: hot-dip galvanised M8 and M10 with oversize-tapped nuts have reduced loads (read); the areas
    33.2 and 53.6 mm2 from memory. 8.8: 26 600 and 42 900 N instead of 29 200 and 46 400 N."""
    for name, reduced, ordinary in (("M8", 26_600, 29_200), ("M10", 42_900, 46_400)):
        size = joint.thread(name)
        strength = joint.strength("8.8", size)
        assert strength.R_m * oversize_stress_area(size) == pytest.approx(reduced, rel=3e-3)
        assert joint.ultimate_load(size, strength) == pytest.approx(ordinary, rel=5e-3)
    m16 = joint.thread("M16")
    assert oversize_stress_area(m16) == joint.nominal_stress_area(m16)
    for name in ("M6", "M10x1.25", "3/8-16"):
        with pytest.raises(NotInCatalogue, match="M8"):
            oversize_stress_area(joint.thread(name))


# nuts ------------------------------------------------------------------------------------------------------------


def test_metric_nut_stress_is_not_a_hundred_times_its_number() -> None:
    """ISO 898-2:1992 (read): class 8 has 855, 870, 880, 920 MPa by size; class 12 differs by style (M8: 41.7 and
    42.5 kN)."""
    for name, stress in (("M6", 855), ("M8", 870), ("M12", 880), ("M20", 920)):
        assert joint.nut_row(joint.thread(name), 8, 1).S_p == pytest.approx(stress * 1e6)
    m8 = joint.thread("M8")
    assert joint.nut_proof_load(m8, 12, 1) < joint.nut_proof_load(m8, 12, 2)


@pytest.mark.parametrize(
    ("thread", "grade", "load"),
    [  # lbf: proof loads of ASTM A194 Table 4, A563 Table 4 and SAE J995, from memory, not re-read
        ("1-8 UNC", "A194 2H", 106_050), ("3/4-10 UNC", "ASTM A194 grade 2H", 58_450), ("1/2-13 UNC", "A194 8", 11_350),
        ("3/4-10 UNC", "SAE J995 grade 8", 50_100), ("1/2-13 UNC", "grade 5", 17_050), ("1-8 UNC", "grade 2", 54_500),
        ("3/4-10 UNC", "A563 DH", 50_100), ("1/2-20 UNF", "grade 5", 17_400),
    ],
)
def test_inch_nut_proof_loads(thread: str, grade: str, load: float) -> None:
    assert joint.nut_proof_load(joint.thread(thread), grade) / LBF == pytest.approx(load, rel=0.005)


def test_inch_nut_shape_series_size_and_zinc() -> None:
    three_quarter = joint.thread("3/4-10 UNC")
    heavy = inch_nut_row(three_quarter, "A563 DH", shape="heavy hexagon")
    assert heavy.S_p == pytest.approx(175 * KSI)
    assert inch_nut_row(three_quarter, "A563 DH").S_p < heavy.S_p
    assert inch_nut_row(three_quarter, "A563 DH", shape="heavy hexagon", galvanised=True).S_p < heavy.S_p
    assert inch_nut_row(three_quarter, "A194 2H").style == "heavy hexagon"
    assert inch_nut_row(three_quarter, "A194M 2H", shape="hexagon").S_p == pytest.approx(150 * KSI)
    assert inch_nut_row(three_quarter, "A563 C3").style == "heavy hexagon"  # it has no other
    by_size = [inch_nut_row(joint.thread(name), "grade 5").S_p / KSI for name in
               ("1-8 UNC", "1-1/8-7 UNC", "1-12 UNF", "1-1/8-12 UNF")]
    assert by_size == pytest.approx([120, 105, 109, 94])
    assert inch_nut_row(joint.thread("1-1/8-8 UN"), "grade 5").thread == "coarse"


@pytest.mark.parametrize(
    ("thread", "grade", "more", "message"),
    [
        ("3/4-10", "8", {}, "metric"), ("M16", "A194 2H", {}, "inch threads"), ("2-4.5", "grade 8", {}, "1.5 in"),
        ("3/4-10", "A194 2H", {"shape": "square"}, "heavy hexagon"), ("3/4-10", "A563 ZZ", {}, "A563 DH"),
        ("3/4-10", "A194 2H", {"galvanised": True}, "tapped oversize"),
        ("3/4-10", "grade 8", {"shape": "heavy hexagon"}, "hexagon, any"),
    ],
)
def test_inch_nuts_that_do_not_exist(thread: str, grade: str, more: dict[str, object], message: str) -> None:
    with pytest.raises(NotInCatalogue, match=message):
        inch_nut_row(joint.thread(thread), grade, **more)  # type: ignore[arg-type]


def test_inch_nuts_have_no_style() -> None:
    with pytest.raises(NotInCatalogue, match="no style"):
        joint.nut_row(joint.thread("3/4-10"), "grade 8", 1)


def test_inch_nut_rows_are_sound() -> None:
    rows = inch_nut_rows()
    assert len(rows) > 40
    for row in rows:
        assert 0 <= row.over < row.up_to and row.source and row.status == "memory"
        assert row.zinc is None or row.zinc <= row.S_p
    for row in rows:  # heavy nuts are never weaker
        for other in rows:
            if (row.grade, row.series, row.over) == (other.grade, other.series, other.over) and row.shape == "hexagon":
                assert other.S_p >= row.S_p
