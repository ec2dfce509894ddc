"""The inverse: best setting, its window, and what would help, each against an independent way to the same number."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull import catalogue, joint
from evenpull.joint.case import CaseError, Embedding, Friction, Layer, Limits, Tightening
from evenpull.joint.tightening.scatter import scatter_from_alpha_A
from evenpull.joint.traced import Band
from evenpull.joint.uncertainty.advice import advise, probability_curve, windows
from evenpull.joint.uncertainty.alternatives import changes_of, with_class, with_size, with_tested_lot
from evenpull.joint.uncertainty.propagation import draw
from evenpull.joint.uncertainty.spread_model import model_of
from tests.mechanics.spread_cases import M16, MU, m16, tight

TIGHT_ROOM = m16(limits=Limits(required_preload=65e3))
WAYS = {
    "torque": m16(),
    "torque and angle": tight(m16(), method="torque and angle", snug_torque=50.0, angle_scatter=0.05),
    "stretch": tight(m16(), method="stretch"),
    "tension": tight(m16(), method="tension", transfer_loss=0.2),
}


@pytest.mark.parametrize("method", WAYS)
def test_no_other_setting_of_a_fine_search_is_better(method):
    """The search computes every setting by `spread_of`, which knows nothing of windows."""
    case = replace(WAYS[method], limits=Limits(required_preload=62e3))
    found = advise(case, alternatives=False)
    assert found.spread.probability.within == pytest.approx(found.probability, abs=0.01)
    for factor in np.linspace(0.8, 1.2, 17):
        at = joint.spread_of(case, found.setting * factor, trials=20_000, seed=5).probability
        assert at.within <= found.probability + 0.02


@pytest.mark.parametrize("method", WAYS)
def test_the_window_of_every_trial_is_where_its_load_is_right(method):
    """At the ends of its window a trial has exactly the required load in service, and the allowed one at assembly."""
    model = model_of(WAYS[method])
    least, largest, need, most = windows(model, 500, 3)
    x = draw(model, 500, np.random.default_rng(3))
    F = model.assembly(x, least)
    assert model.residual(x, F) == pytest.approx(model.required(x) + 0 * F)
    assert pytest.approx(need) == F
    assert model.assembly(x, largest) == pytest.approx(model.allowed(x) + 0 * F)
    assert most == pytest.approx(model.allowed(x) + 0 * F)


@given(st.lists(st.tuples(st.floats(0, 10), st.floats(0.01, 10)), min_size=1, max_size=30), st.floats(0, 12))
@settings(max_examples=100)
def test_the_curve_counts_the_windows_that_hold_a_setting(pairs, setting):
    least, largest = np.array([a for a, _ in pairs]), np.array([b for _, b in pairs])
    expected = np.mean((least <= setting) & (setting <= largest))
    assert probability_curve(least, largest).at(setting) == pytest.approx(expected)


def test_best_setting_and_window_of_windows_that_are_known():
    curve = probability_curve(np.array([1.0, 2.0, 3.0, 9.0]), np.array([6.0, 5.0, 8.0, 7.0]))  # the last is empty
    assert curve.best(4)[1] == 0.75
    assert 3 <= curve.best(4)[0] <= 5
    assert curve.between(0.75) == pytest.approx((3.0, 5.0))
    assert curve.between(0.5) == pytest.approx((2.0, 6.0))
    assert curve.between(1.0) is None


def test_enough_room_gives_a_window_and_says_so():
    found = advise(m16(limits=Limits(required_preload=40e3)))
    assert found.satisfied
    assert found.window.low < found.setting < found.window.high
    assert found.window.low <= found.sure.low
    assert found.sure.high <= found.window.high
    for setting in (found.window.low * 1.002, found.window.high * 0.998):
        at = joint.spread_of(m16(limits=Limits(required_preload=40e3)), setting, seed=9).probability.within
        assert at >= found.goal - 0.003
    outside = joint.spread_of(m16(limits=Limits(required_preload=40e3)), found.window.high * 1.03).probability.within
    assert outside < found.goal


def test_window_of_pure_corners_is_that_of_the_interval_computation():
    """Without other scatter, the settings right in every trial are those of the worst corners of friction and tool."""
    case = m16(embedding=Embedding(f_Z=0.0), limits=Limits(required_preload=35e3, largest_preload=75e3))
    found = advise(case, alternatives=False, assume=joint.Assumptions(friction="rectangular", bearing=0.0))
    mean = joint.D_Km(22.49e-3, 17.5e-3)
    least = 35e3 * joint.torque_lever(M16, 0.16, 0.16, mean) / 0.96
    largest = 75e3 * joint.torque_lever(M16, 0.08, 0.08, mean) / 1.04
    assert least < largest
    assert found.sure.low == pytest.approx(least, rel=0.015)
    assert found.sure.high == pytest.approx(largest, rel=0.015)
    assert found.sure.low <= least * 1.005  # the tolerance of the pitch diameter is the rest
    assert found.sure.high >= largest * 0.995


def test_too_little_room_says_what_is_needed_and_what_is_allowed():
    found = advise(TIGHT_ROOM)
    assert not found.satisfied
    assert found.window is None
    assert 0 < found.probability < found.goal
    assert "no torque satisfies" in found.reason
    assert "90% of the yield strength" in found.reason
    assert "factor of 1.17" in found.reason


def test_impossible_even_without_scatter_is_said_and_a_pair_of_changes_helps():
    found = advise(m16(limits=Limits(required_preload=120e3)))
    assert found.probability == 0
    assert found.setting is None
    assert "even without scatter" in found.reason
    assert found.spread.probability.within == 0  # shown all the same, at a load between
    first = found.alternatives[0]
    assert {"class", "size"} == set(first.kind.split(" and "))
    assert first.probability > found.goal


def test_alternatives_are_ranked_and_each_number_stands_alone():
    found = advise(TIGHT_ROOM)
    chances = [a.probability for a in found.alternatives]
    assert chances == sorted(chances, reverse=True)
    assert {"friction", "tested lot", "method", "size", "class"} <= {a.kind for a in found.alternatives}
    for a in found.alternatives:
        assert a.gain == pytest.approx(a.probability - found.probability)
        if a.setting is None and a.method != "yield":
            continue
        again = joint.spread_of(a.case, a.setting, seed=11, trials=30_000).probability
        assert again.within == pytest.approx(a.probability, abs=0.012), a.text


def test_less_scatter_is_never_worse():
    by_kind = {a.text: a for a in advise(tight(TIGHT_ROOM, tool_scatter=0.2)).alternatives}
    wide = advise(tight(TIGHT_ROOM, tool_scatter=0.2), alternatives=False).probability
    assert by_kind["setting tool of +- 4%"].probability > wide + 0.1
    lot = advise(with_tested_lot(TIGHT_ROOM, 0.1), alternatives=False).probability
    assert lot > advise(with_tested_lot(TIGHT_ROOM, 0.25), alternatives=False).probability + 0.05


def test_what_is_worse_is_shown_with_its_loss():
    dry = next(a for a in advise(TIGHT_ROOM).alternatives if a.text == "friction state hot-dip galvanised, dry")
    assert dry.gain < -0.3


def test_larger_bolt_has_the_dimensions_of_the_tables():
    case = with_size(m16(), "M20")
    assert case.bolt.thread == joint.thread("M20")
    assert case.bolt.d_w == catalogue.bearing_diameter("hexagon", 0.02, "metric").value
    assert {layer.d_h for layer in case.layers} == {catalogue.clearance_hole("medium", 0.02, "metric").value}
    assert case.bolt.strength == joint.strength("8.8", joint.thread("M20"))
    assert case.bolt.strength.R_p02 == 660e6  # 8.8 above 16 mm
    assert case.bolt.sections[0].d == pytest.approx(20e-3)
    assert case.layers[0].length == m16().layers[0].length


def test_sizes_and_classes_that_are_offered():
    texts = [c.text for c in changes_of(m16())[0] if c.kind in ("size", "class")]
    assert texts[:2] == ["larger bolt M18", "larger bolt M20"]
    assert [t.split()[2] for t in texts[2:]] == ["10.9", "12.9"]
    inch = joint.thread("5/8-11 UNC")
    case = m16(bolt=replace(m16().bolt, thread=inch, strength=joint.strength("SAE J429 grade 5", inch)))
    texts = [c.text for c in changes_of(case)[0] if c.kind in ("size", "class")]
    assert texts[0] == "larger bolt 3/4-10"
    assert any("grade 8" in t for t in texts)


def test_class_takes_its_nut_along():
    nut = replace(m16().counterpart, nut_proof_stress=joint.nut_row(M16, "8").S_p)
    case = with_class(m16(counterpart=nut), "10.9")
    assert case.counterpart.nut_proof_stress == joint.nut_row(M16, "10").S_p
    assert case.bolt.strength.R_p02 == joint.strength("10.9", M16).R_p02


def test_stainless_joints_are_offered_stainless_friction_states_only():
    a4 = joint.strength("A4-70", M16)
    friction = {c.text for c in changes_of(m16(bolt=replace(m16().bolt, strength=a4)))[0] if c.kind == "friction"}
    assert friction
    assert all("stainless" in text for text in friction)
    assert not any("stainless" in c.text for c in changes_of(m16())[0])


def test_what_cannot_be_computed_is_listed_and_not_lost():
    narrow = tuple(replace(layer, D_A=19e-3) for layer in m16().layers)
    found = advise(m16(layers=narrow))
    assert any("M18" in line and "D_A" in line for line in found.not_tried)
    assert not any(a.kind == "size" for a in found.alternatives)


def test_scatter_of_a_tightening_factor():
    """VDI 2230-1 R1: +- 17 %, 23 %, 43 % are alpha_A 1.41, 1.60, 2.51 (a supplier's table of the 1986 guide)."""
    for alpha_A, s in ((1.4096, 0.17), (1.5974, 0.23), (2.5088, 0.43)):
        assert scatter_from_alpha_A(alpha_A) == pytest.approx(s, abs=2e-4)
    with pytest.raises(ValueError, match="not less than 1"):
        scatter_from_alpha_A(0.9)


def test_yield_has_no_setting_but_a_probability():
    found = advise(tight(m16(), method="yield", tool_scatter=0.02))
    assert found.setting is None
    assert found.window is None
    assert found.probability == pytest.approx(found.spread.probability.within, abs=0.005)
    assert found.curve == ()


def test_tensioner_is_limited_while_it_pulls():
    """0.9 R_p02 A_s over the transfer factor 1.25 is what can stay: 72 % of the yield load, without torsion."""
    case = tight(m16(limits=Limits(required_preload=20e3)), method="tension", transfer_loss=0.2)
    found = joint.spread_of(case, 60e3, trials=1000)
    assert found.allowed == pytest.approx(0.9 * 640e6 * M16.A_s * 0.8)


def test_nut_and_surface_pressure_limit_as_well():
    soft = replace(m16().layers[0].material, p_G=300e6)
    layers = (replace(m16().layers[0], material=soft), m16().layers[1])
    found = joint.spread_of(m16(layers=layers), trials=1000)
    assert found.allowed_by == "surface pressure under the head"
    assert found.allowed == pytest.approx(300e6 * math.pi / 4 * (22.49e-3**2 - 17.5e-3**2))
    nut = replace(m16().counterpart, nut_proof_stress=300e6)
    assert joint.spread_of(m16(counterpart=nut), trials=1000).allowed_by == "proof load of the nut"


def test_the_curve_ready_to_be_drawn_has_its_top_at_the_setting():
    found = advise(TIGHT_ROOM, alternatives=False)
    at, chance = max(found.curve, key=lambda point: point[1])
    assert chance == pytest.approx(found.probability, abs=0.02)
    assert at == pytest.approx(found.setting, rel=0.05)
    assert found.curve[0][1] < 0.01
    assert found.curve[-1][1] < 0.01


def test_a_stated_nut_factor_is_used_and_narrowed():
    case = m16(friction=Friction(mu_G=MU, mu_K=MU, K=Band(0.13, 0.18, 0.23)), limits=Limits(required_preload=60e3))
    wide = advise(case, alternatives=False)
    assert {i.symbol for i in wide.spread.inputs} >= {"K", "mu_G"}
    assert advise(with_tested_lot(case, 0.1), alternatives=False).probability > wide.probability


def test_bad_questions_are_refused():
    for goal in (0.0, 1.0, math.nan):
        with pytest.raises(CaseError, match="goal"):
            advise(m16(), goal=goal)
    with pytest.raises(CaseError, match="trials"):
        advise(m16(), trials=3)
    with pytest.raises(CaseError, match="required_preload"):
        advise(m16(limits=Limits()))


def test_a_case_without_room_around_the_hole_fails_with_its_field():
    layer = Layer(name="thin ring", length=0.02, material=m16().layers[0].material, d_h=17.5e-3, D_A=17e-3)
    with pytest.raises(CaseError, match="D_A"):
        advise(m16(layers=(layer,), tightening=Tightening(tool_scatter=0.04)))


def test_a_head_without_support_is_named_for_every_method():
    bare = m16(bolt=replace(m16().bolt, d_w=17e-3), embedding=Embedding())
    with pytest.raises(CaseError, match=r"bolt\.d_w"):
        advise(tight(bare, method="stretch"))
    # a pull alone needs no face under the head; what would need one is listed as not tried
    found = advise(tight(bare, method="tension"))
    assert sum("bolt.d_w" in line for line in found.not_tried) >= 2


def test_a_tested_lot_narrows_the_band_and_never_widens_it():
    wide = m16(friction=Friction(mu_G=Band(0.05, 0.1, 0.2), mu_K=Band(0.095, 0.1, 0.12)))
    friction = with_tested_lot(wide, 0.1).friction
    assert (friction.mu_G.low, friction.mu_G.nominal, friction.mu_G.high) == pytest.approx((0.09, 0.1, 0.11))
    assert (friction.mu_K.low, friction.mu_K.nominal, friction.mu_K.high) == pytest.approx((0.095, 0.1, 0.11))
