"""Stripping of engaged threads and what gives way first.

Sources stand at each check. Equations of VDI 2230-1 R11 and of Alexander from memory, not re-read; there the checks are
against what the standards were made for (a nut of its class does not strip) and against printed limits of size.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenpull import joint
from evenpull.joint.case import CaseError, Counterpart, JointCase, Material, Section
from evenpull.joint.parts import stripping
from evenpull.joint.parts.engagement import BOLT, BOLT_THREAD, COUNTER_THREADS, engagement
from evenpull.joint.parts.thread_limits import basic_sizes, loosest_pair
from tests.mechanics.formulas import recompute
from tests.mechanics.vdi_cases import ALL, VJ1, VJ2, VJ4

INCH = 0.0254
KSI = 6894757.293168361


def with_thread(case: JointCase, kind: str, tau: float | None, m: float | None) -> JointCase:
    material = Material("part", 2e11, 1.2e-5, tau_B=tau)
    nut = kind == "nut"
    return replace(case, counterpart=Counterpart(kind="nut" if nut else "tapped hole", material=material, engagement=m,
                                                 d_w=case.bolt.d_w if nut else None))


@pytest.mark.parametrize(
    ("name", "limits"),
    [  # mm: d_min, d_2_min of 6g, D_2_max, D_1_max of 6H; ISO 965-2 tables, from memory, not re-read
        ("M6", (5.794, 5.212, 5.500, 5.153)), ("M10", (9.732, 8.862, 9.206, 8.676)),
        ("M16", (15.682, 14.503, 14.913, 14.210)), ("M3", (2.874, 2.580, 2.775, 2.599)),
    ],
)
def test_limits_of_metric_threads(name: str, limits: tuple[float, ...]) -> None:
    found = loosest_pair(joint.thread(name))
    values = (found.d_min, found.d_2_min, found.D_2_max, found.D_1_max)
    assert [value * 1e3 for value in values] == pytest.approx(limits, abs=0.009)


@pytest.mark.parametrize(
    ("name", "limits"),
    [  # in: 2A and 2B; ASME B1.1 tables, from memory, not re-read
        ("1/2-13 UNC", (0.4876, 0.4435, 0.4565, 0.434)), ("3/4-10 UNC", (0.7353, 0.6773, 0.6927, 0.663)),
        ("1-8 UNC", (0.9830, 0.9100, 0.9276, 0.890)), ("#10-24 UNC", (0.1818, 0.1586, 0.1672, 0.1555)),
    ],
)
def test_limits_of_inch_threads(name: str, limits: tuple[float, ...]) -> None:
    found = loosest_pair(joint.thread(name))
    values = (found.d_min, found.d_2_min, found.D_2_max, found.D_1_max)
    assert [value / INCH for value in values] == pytest.approx(limits, abs=0.0006)


def test_areas_of_the_basic_profile() -> None:
    """On the basic profile (ISO 68-1) the cut takes 3/4 P of the bolt and 7/8 P of the internal thread: the flank
    crosses D_1 at P/4 and d at P/8 from the root."""
    for name in ("M8", "M30x2", "1/2-13 UNC"):
        size = joint.thread(name)
        basic = basic_sizes(size)
        m = 0.8 * size.d
        bolt = stripping.bolt_thread_area(m, size.P, basic.D_1_max, basic.d_2_min)
        nut = stripping.nut_thread_area(m, size.P, basic.d_min, basic.D_2_max)
        assert bolt == pytest.approx(0.75 * math.pi * m * size.D1, rel=1e-5)
        assert nut == pytest.approx(0.875 * math.pi * m * size.d, rel=1e-5)
        loose = loosest_pair(size)
        assert stripping.bolt_thread_area(m, size.P, loose.D_1_max, loose.d_2_min) < bolt
        assert stripping.nut_thread_area(m, size.P, loose.d_min, loose.D_2_max) < nut


def test_factors_meet_at_the_ends_of_their_ranges() -> None:
    """Alexander's values: C_1 = 0.84 at s/d = 1.5 and 1 from 1.9; C_2 = 0.897 up to R_S = 1 and 1.187 from 2.2; C_3 =
    0.897 from R_S = 1 (from memory, not re-read)."""
    assert stripping.C_1(24.0, 16.0) == pytest.approx(0.84)
    assert stripping.C_1(1.9, 1.0) == pytest.approx(1.0)
    assert stripping.C_1(9.0, 1.0) == stripping.C_1(1.9, 1.0)
    assert stripping.C_2(0.3) == pytest.approx(0.897, abs=5e-4) == stripping.C_3(4.0)
    assert stripping.C_2(2.2) == pytest.approx(1.187, abs=5e-4) == stripping.C_2(7.0)
    assert stripping.C_3(0.1) == stripping.C_3(0.4)
    ratios = np.linspace(0.2, 3.0, 57)
    assert stripping.C_2(ratios) == pytest.approx([stripping.C_2(float(r)) for r in ratios])
    assert stripping.C_3(ratios) == pytest.approx([stripping.C_3(float(r)) for r in ratios])
    assert np.all(np.abs(np.diff(stripping.C_2(ratios))) < 0.04), "no jump at the ends"


def test_inch_form() -> None:
    """FED-STD-H28: A_s and L_e of 1/2-13 UNC-2A/2B written out with the printed limits in inch."""
    n, K_n, E_s, D_s, E_n, A_t = 13, 0.434, 0.4435, 0.4876, 0.4565, 0.1419
    inch2 = INCH**2
    A_s = math.pi * n * 0.5 * K_n * (1 / (2 * n) + 0.57735 * (E_s - K_n))
    A_n = math.pi * n * 0.5 * D_s * (1 / (2 * n) + 0.57735 * (D_s - E_n))
    P = INCH / n
    assert stripping.bolt_thread_area(0.5 * INCH, P, K_n * INCH, E_s * INCH) / inch2 == pytest.approx(A_s, rel=1e-6)
    assert stripping.nut_thread_area(0.5 * INCH, P, D_s * INCH, E_n * INCH) / inch2 == pytest.approx(A_n, rel=1e-6)
    L_e = 2 * A_t / (math.pi * K_n * (0.5 + 0.57735 * n * (E_s - K_n)))
    assert stripping.required_length_H28(A_t * inch2, P, K_n * INCH, E_s * INCH) / INCH == pytest.approx(L_e, rel=1e-6)
    assert pytest.approx(2 * A_t / A_s * 0.5) == L_e  # at L_e the shear area is twice the tensile area
    assert stripping.internal_weakness_H28(A_s, 120 * KSI, A_n, 60 * KSI) == pytest.approx(2 * A_s / A_n)
    high = math.pi * (E_s / 2 - 0.16238 / n) ** 2
    assert stripping.high_strength_area_H28(E_s * INCH, P) / inch2 == pytest.approx(high, rel=1e-6)
    assert high < A_t  # smaller than on the basic pitch diameter, since the thread is at its least


@pytest.mark.parametrize(
    ("case", "height", "tau"),
    [  # nut heights of ISO 4032 (m min: M12 10.37, M16 14.1 mm, from memory); tau_B 0.6 of about 900 and 1150 MPa
        (VJ4, 0.0141, 540e6), (VJ1, 0.01037, 690e6),
    ],
)
def test_a_nut_of_the_class_of_the_bolt_holds_a_bolt_of_least_strength(
    case: JointCase, height: float, tau: float
) -> None:
    """ISO 898-2: a nut of the number of the bolt holds the bolt's least breaking load without stripping; half
    of its height does strip."""
    found = engagement(with_thread(case, "nut", tau, height), overstrength=1.0)
    assert found.first == BOLT and found.bolt_breaks_first and min(found.margins.values()) > 0
    short = engagement(with_thread(case, "nut", tau, 0.5 * height), overstrength=1.0)
    assert short.bolt_breaks_first is False and short.first in (BOLT_THREAD, COUNTER_THREADS["nut"])


def test_weak_tapped_hole_strips_and_the_required_length_is_where_it_holds() -> None:
    """Aluminium of tau_B = 200 MPa: less than 1.2 d strips first (about 1.4 d and more for 8.8 is common
    practice, no source), and at the required length both loads are the same."""
    short = engagement(with_thread(VJ2, "tapped hole", 200e6, 0.008))
    assert short.first == COUNTER_THREADS["tapped hole"] and short.margins[short.first] < 0
    assert short.required is not None and 1.2 < short.required / VJ2.bolt.thread.d < 1.6
    exact = engagement(with_thread(VJ2, "tapped hole", 200e6, short.required))
    assert exact.first == BOLT and min(exact.margins.values()) == pytest.approx(0, abs=1e-9)
    assert engagement(with_thread(VJ2, "tapped hole", 200e6, short.required * 0.999)).first != BOLT


def test_a_hard_part_strips_the_bolt() -> None:
    found = engagement(with_thread(VJ2, "tapped hole", 900e6, 0.004))
    assert found.first == BOLT_THREAD
    assert found.bolt_thread is not None and found.counter_thread is not None
    assert found.bolt_thread < found.counter_thread


@pytest.mark.parametrize("name", list(ALL))
@pytest.mark.parametrize(("kind", "tau"), [("nut", 500e6), ("tapped hole", 180e6), ("tapped hole", 60e6)])
def test_every_step_by_its_own_formula(name: str, kind: str, tau: float) -> None:
    found = engagement(with_thread(ALL[name], kind, tau, 0.014))
    computed = [step for step in found.steps if "=" in step.formula]
    assert len(computed) >= 14
    for step in computed:
        assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9), step.symbol
    assert all(step.source and step.status for step in found.steps)


def test_what_is_not_stated_is_not_judged() -> None:
    none = engagement(with_thread(VJ1, "nut", None, 0.01))
    assert none.first is None and none.bolt_breaks_first is None and none.required is None and not none.margins
    assert "tau_B" in none.why_not and none.breaking_load > 0
    no_length = engagement(with_thread(VJ1, "nut", 600e6, None))
    assert no_length.first is None and "counterpart.engagement" in no_length.why_not and no_length.required is not None
    inch = joint.strength_at("SAE J429 grade 5", 0.012)
    other = with_thread(replace(VJ1, bolt=replace(VJ1.bolt, strength=inch)), "nut", 600e6, 0.01)
    assert "SAE J429 grade 5" in engagement(other).why_not
    known = replace(other, bolt=replace(other.bolt, material=replace(other.bolt.material, tau_B=0.6 * inch.R_m)))
    assert engagement(known).first is not None
    thin = replace(VJ1, counterpart=Counterpart(kind="nut", material=Material("m", 2e11, 1e-5, tau_B=6e8), d_w=0.014,
                                                engagement=0.01))
    assert "thinner" in engagement(thin).why_not
    unknown = replace(thin, counterpart=replace(thin.counterpart, d_w=None))
    assert "counterpart.d_w" in engagement(unknown).why_not


def test_bore_and_neck_lower_the_breaking_load() -> None:
    whole = engagement(with_thread(VJ1, "nut", 600e6, 0.011))
    hollow = engagement(with_thread(replace(VJ1, bolt=replace(VJ1.bolt, d_i=0.004)), "nut", 600e6, 0.011))
    assert whole.breaking_load - hollow.breaking_load == pytest.approx(1.2 * 1040e6 * math.pi / 4 * 0.004**2)
    necked = replace(VJ1, bolt=replace(VJ1.bolt, sections=(Section(0.02, 0.009),)))
    assert engagement(with_thread(necked, "nut", 600e6, 0.011)).by_symbol("A_br").value == pytest.approx(
        math.pi / 4 * 0.009**2)
    with pytest.raises(KeyError):
        whole.by_symbol("nothing")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda c: with_thread(c, "nut", 600e6, 0.001), "counterpart.engagement"),
        (lambda c: with_thread(c, "nut", 600e6, math.nan), "counterpart.engagement"),
        (lambda c: with_thread(c, "nut", -1.0, 0.01), "counterpart.material.tau_B"),
        (lambda c: with_thread(c, "nut", math.inf, 0.01), "counterpart.material.tau_B"),
        (lambda c: with_thread(replace(c, bolt=replace(c.bolt, d_i=0.02)), "nut", 6e8, 0.01), "bolt.d_i"),
        (lambda c: with_thread(replace(c, bolt=replace(c.bolt, sections=(Section(0.02, 0.008, 0.008),))), "nut", 6e8,
                               0.01), "does not fit"),
    ],
)
def test_senseless_values_name_their_field(change, message: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CaseError, match=message):
        engagement(change(VJ1))


def test_senseless_numbers_of_the_formulas() -> None:
    with pytest.raises(CaseError, match="overstrength"):
        engagement(with_thread(VJ1, "nut", 6e8, 0.01), overstrength=0.9)
    with pytest.raises(ValueError, match="do not overlap"):
        stripping.bolt_thread_area(0.01, 0.001, 0.010, 0.008)
    with pytest.raises(ValueError, match="m_eff"):
        stripping.nut_thread_area(0.0, 0.001, 0.010, 0.009)
    with pytest.raises(ValueError, match=r"1\.4"):
        stripping.C_1(0.012, 0.010)
    with pytest.raises(ValueError, match="R_S"):
        stripping.C_3(math.nan)
    with pytest.raises(ValueError, match="titanium"):
        stripping.shear_strength(1e9, "wood")
    with pytest.raises(ValueError, match="tolerances exist"):
        loosest_pair(joint.metric_thread(0.4, 0.006))


def test_ratios_of_shear_strength() -> None:
    """VDI 2230-1 section 5.5.5, from memory: grey iron shears at more than its tensile strength."""
    assert stripping.shear_strength(1000e6, "steel") == pytest.approx(600e6)
    assert stripping.shear_strength(250e6, "grey cast iron") > 250e6
    assert stripping.shear_strength(300e6, "aluminium alloy") == pytest.approx(210e6)
