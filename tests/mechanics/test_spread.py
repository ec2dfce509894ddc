"""Scatter of the load: distributions, first order against exact differentiation, Monte Carlo, probability, shares."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from evenpull import joint
from evenpull.joint.case import CaseError, Friction, Gasket, Limits, Loads, Service, Tightening
from evenpull.joint.service import losses, remaining, working
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening import torque
from evenpull.joint.traced import Band
from evenpull.joint.uncertainty import propagation
from evenpull.joint.uncertainty.spread_inputs import Assumptions, Input, around, pitch_diameter_tolerance
from evenpull.joint.uncertainty.spread_limits import load_at_working_stress
from evenpull.joint.uncertainty.spread_model import model_of
from tests.mechanics.spread_cases import M16, MU, STEEL, m16, tight

ALL_METHODS = {
    "torque": tight(m16(), method="torque", torque=170.0),
    "torque and angle": tight(m16(), method="torque and angle", snug_torque=50.0, angle=0.4, angle_scatter=0.05),
    "yield": tight(m16(), method="yield", tool_scatter=0.02),
    "stretch": tight(m16(), method="stretch", preload=65e3),
    "tension": tight(m16(), method="tension", preload=60e3, transfer_loss=0.2),
}


@pytest.mark.parametrize("shape, low, nominal, high", [
    ("rectangular", 1.0, 2.0, 3.0), ("triangular", 1.0, 2.0, 3.0), ("triangular", 1.0, 1.2, 3.0),
    ("triangular", 1.0, 3.0, 3.0), ("normal", 1.0, 2.0, 3.0),
])
def test_distributions_have_the_moments_that_scipy_gives_them(shape, low, nominal, high):
    item = Input("x", "x", "1", shape, low, nominal, high, "test")
    reference = {
        "rectangular": stats.uniform(low, high - low),
        "triangular": stats.triang((nominal - low) / (high - low), low, high - low),
        "normal": stats.norm((low + high) / 2, (high - low) / 4),
    }[shape]
    assert item.mean == pytest.approx(reference.mean())
    assert item.u == pytest.approx(reference.std())
    drawn = stats.truncnorm(-4, 4, item.mean, item.u) if shape == "normal" else reference
    p = np.linspace(0.001, 0.999, 400)
    assert item.at(p) == pytest.approx(drawn.ppf(p), abs=1e-9)


def test_symmetric_widths_are_those_of_the_gum():
    """JCGM 100:2008 clauses 4.3.7 (a/sqrt 3), 4.3.9 (a/sqrt 6), 4.3.4 (95 %: a/2), from memory."""
    half = 0.3
    assert around("x", "", "1", "rectangular", 1, half, "").u == pytest.approx(half / math.sqrt(3))
    assert around("x", "", "1", "triangular", 1, half, "").u == pytest.approx(half / math.sqrt(6))
    assert around("x", "", "1", "normal", 1, half, "").u == pytest.approx(half / 2)


def test_no_draw_of_a_normal_friction_is_negative():
    item = Input("mu", "", "1", "normal", 0.06, 0.12, 0.18, "")
    assert item.at(np.array([0.0, 1.0])) == pytest.approx([item.mean - 4 * item.u, item.mean + 4 * item.u])
    with pytest.raises(CaseError, match=r"mu_G.*reaches down"):
        model_of(m16(friction=Friction(mu_G=Band(0.01, 0.12, 0.3), mu_K=MU)), Assumptions(friction="normal"))


def test_tolerance_of_the_pitch_diameter():
    """T_d2 of M16 grade 6 is 160 um, of M10 132 um, of M8 118 um (ISO 965-1 table, from memory; the formula rounds)."""
    for name, micrometres in (("M16", 160), ("M10", 132), ("M8", 118)):
        size = joint.thread(name)
        assert pitch_diameter_tolerance(size.d, size.P, "metric") * 1e6 == pytest.approx(micrometres, rel=0.03)


def test_numerical_tolerance_of_jcgm_101():
    """JCGM 101:2008 clause 7.9.2: 0.000 35 g at two figures gives 0.000 005 g, 2 K at one 0.5 K (from memory)."""
    assert propagation.numerical_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert propagation.numerical_tolerance(2.0, 1) == pytest.approx(0.5)
    assert propagation.numerical_tolerance(0.9996, 2) == pytest.approx(0.05)  # reads 1.0
    assert propagation.numerical_tolerance(0.0, 2) == 0


def _exact(case, setting, at):
    """The residual load by the public formulas in the arithmetic of the `uncertainties` library."""
    M = setting * (1 + at["e_M"]) - at["M_P"]
    F = M / torque.torque_lever(replace(M16, d2=at["d_2"]), at["mu_G"], at["mu_K"], at["D_Km"])
    return F - at["f_Z"] / (at["delta_S"] + at["delta_P"])


def test_first_order_agrees_with_exact_differentiation():
    ufloat = pytest.importorskip("uncertainties").ufloat
    case = m16()
    found = joint.spread_of(case, 170.0, trials=2000)
    at = {i.symbol: ufloat(i.mean, i.u) if i.varies else i.mean for i in found.inputs}
    exact = _exact(case, 170.0, at)
    assert found.residual.first_order.value == pytest.approx(exact.nominal_value, rel=1e-12)
    assert found.residual.first_order.u == pytest.approx(exact.std_dev, rel=1e-6)
    by_input = exact.error_components()
    for c in found.contributions:
        assert c.u_of_load == pytest.approx(by_input[at[c.symbol]], rel=1e-5, abs=1e-6)
        assert c.share == pytest.approx(by_input[at[c.symbol]] ** 2 / exact.std_dev**2, rel=1e-5)


def test_nominal_load_is_that_of_the_torque_formula_and_the_losses():
    case = m16()
    load = torque.F_M(170.0, M16, 0.12, 0.12, torque.D_Km(22.49e-3, 17.5e-3))
    found = joint.spread_of(case, trials=2000)
    assert found.assembly.first_order.value == pytest.approx(load)
    assert found.residual.first_order.value == pytest.approx(remaining.residual(case, load).end)


@pytest.mark.parametrize("method", ALL_METHODS)
def test_every_loss_falls_as_in_the_step_by_step_chain(method):
    case = replace(
        ALL_METHODS[method], elastic_interaction=0.05, gasket=Gasket(stiffness=3e9, relaxation=0.04),
        service=Service(T_S=180, T_P=200, E_S_ratio=0.93, E_P_ratio=0.94, relaxation=0.06),
    )
    found = joint.spread_of(case, trials=2000)
    F = found.assembly.first_order.value
    no_transfer = tight(case, transfer_loss=0.0)  # the load at assembly is the one after the transfer
    assert found.residual.first_order.value == pytest.approx(remaining.residual(no_transfer, F).end, rel=1e-9)


@pytest.mark.parametrize("method", ALL_METHODS)
def test_first_order_and_trials_of_one_linear_enough_model_agree(method):
    found = joint.spread_of(ALL_METHODS[method], trials=100_000)
    for load in (found.assembly, found.residual):
        assert load.monte_carlo.mean == pytest.approx(load.first_order.value, rel=0.015)
        assert load.monte_carlo.u == pytest.approx(load.first_order.u, rel=0.06)
    assert sum(c.share for c in found.contributions) == pytest.approx(1)
    assert sum(c.main for c in found.contributions) == pytest.approx(1, abs=0.06)


def test_a_linear_model_is_said_to_agree_and_a_bent_one_not():
    linear = tight(m16(), method="tension", preload=60e3, transfer_loss=0.0)
    narrow = Friction(mu_G=Band(0.119, 0.12, 0.121), mu_K=Band(0.119, 0.12, 0.121))
    assert joint.spread_of(m16(friction=narrow), assume=Assumptions(tool="normal", bearing=0.0)).assembly.agrees
    wide = joint.spread_of(m16(friction=Friction(mu_G=Band(0.04, 0.2, 0.36), mu_K=Band(0.04, 0.2, 0.36))))
    assert not wide.assembly.agrees
    assert wide.assembly.d_high > wide.assembly.tolerance
    # a rectangular pull alone: the interval of a normal distribution is too long, by 1.96/sqrt(3) - 0.95
    pull = joint.spread_of(replace(linear, embedding=replace(linear.embedding, f_Z=0.0)))
    assert pull.assembly.d_low / 60e3 / 0.04 == pytest.approx(1.96 / math.sqrt(3) - 0.95, abs=0.01)


def test_probability_of_one_rectangular_input_is_the_share_of_its_range():
    """Pull 60 kN +- 4 % and nothing else: required 59 kN leaves (62.4 - 59)/4.8 = 0.7083 of the range."""
    case = tight(m16(limits=Limits(required_preload=59e3), embedding=replace(m16().embedding, f_Z=0.0)),
                 method="tension", transfer_loss=0.0)
    found = joint.spread_of(case, 60e3).probability
    assert found.within == pytest.approx(3.4 / 4.8, abs=4 * found.error)
    assert found.below == pytest.approx(1.4 / 4.8, abs=4 * found.error)
    assert found.above == 0
    capped = replace(case, limits=replace(case.limits, largest_preload=61e3))
    p = joint.spread_of(capped, 60e3)
    assert p.probability.within == pytest.approx(2 / 4.8, abs=0.005)
    assert p.probability.above == pytest.approx(1.4 / 4.8, abs=0.005)
    assert p.allowed == 61e3
    assert p.allowed_by == "largest preload stated"


def test_first_order_probability_is_close_where_the_trials_are_nearly_normal():
    case = m16(limits=Limits(required_preload=57e3))
    found = joint.spread_of(case, 170.0, assume=Assumptions(friction="normal")).probability
    assert found.below_first_order == pytest.approx(found.below, abs=0.03)
    assert found.above_first_order == pytest.approx(found.above, abs=0.03)


def test_all_fasteners_of_a_joint_lie_between_independent_and_shared_friction():
    found = joint.spread_of(m16(), 185.0, fasteners=12).probability
    assert found.all_within_independent == pytest.approx(found.within**12)
    assert found.all_within_independent < found.all_within_shared_friction < found.within
    alone = joint.spread_of(m16(), 185.0).probability
    assert alone.all_within_shared_friction == alone.within


def test_same_seed_same_numbers_and_another_seed_near_ones():
    one, two, other = (joint.spread_of(m16(), trials=50_000, seed=s) for s in (7, 7, 8))
    assert one == two
    assert one.probability.within != other.probability.within or one.assembly != other.assembly
    assert one.assembly.monte_carlo.mean == pytest.approx(other.assembly.monte_carlo.mean, rel=1e-3)


def test_settled_figures_grow_with_the_trials():
    few, many = (joint.spread_of(m16(), trials=n).assembly.monte_carlo for n in (1000, 400_000))
    assert few.figures < many.figures
    assert sum(many.counts) == 400_000
    assert len(many.edges) == len(many.counts) + 1


def test_friction_dominates_torque_and_not_stretch():
    assert {c.symbol for c in joint.spread_of(m16()).contributions[:2]} == {"mu_G", "mu_K"}
    stretch = joint.spread_of(ALL_METHODS["stretch"])
    assert not {c.symbol for c in stretch.contributions} & {"mu_G", "mu_K", "K"}


def test_sobol_shares_show_an_interaction_that_first_order_cannot_see():
    """K d F = T with a wide K: the curvature of 1/K gives K and the tool more together than each alone."""
    case = tight(m16(friction=Friction(mu_G=MU, mu_K=MU, K=Band(0.05, 0.2, 0.35))), tool_scatter=0.5)
    by_symbol = {c.symbol: c for c in joint.spread_of(case, assume=Assumptions(friction="rectangular")).contributions}
    for symbol in ("K", "e_M"):
        assert by_symbol[symbol].total > by_symbol[symbol].main + 0.02
    assert by_symbol["e_M"].differs


def test_sobol_shares_of_a_sum_are_those_of_the_variances():
    """y = a + b + 2 c of independent uniform inputs: shares 1/6, 1/6, 4/6 (variance of a sum)."""
    model = replace(model_of(m16()), inputs={
        s: Input(s, s, "1", "rectangular", -1.0, 0.0, 1.0, "") for s in ("a", "b", "c")
    })
    found = {c.symbol: c for c in propagation.contributions(model, lambda x: x["a"] + x["b"] + 2 * x["c"], 3)}
    for symbol, share in (("a", 1 / 6), ("b", 1 / 6), ("c", 4 / 6)):
        assert found[symbol].share == pytest.approx(share)
        assert found[symbol].main == pytest.approx(share, abs=0.03)
        assert found[symbol].total == pytest.approx(share, abs=0.03)


def test_drag_is_added_at_the_tool_and_taken_off_again():
    drag = tight(m16(), prevailing=Band(20.0, 20.0, 20.0), tool_scatter=0.0)
    found = joint.spread_of(drag, trials=2000)
    assert found.wrench == pytest.approx(190.0)
    assert found.assembly.first_order.value == pytest.approx(joint.spread_of(m16(), trials=2000)
                                                             .assembly.first_order.value)
    more = tight(drag, prevailing=Band(0.0, 20.0, 40.0))
    assert joint.spread_of(more).assembly.monte_carlo.u > joint.spread_of(drag).assembly.monte_carlo.u


def test_preload_of_the_case_sets_torque_stretch_and_pull():
    assert joint.spread_of(tight(m16(), torque=None, preload=60e3)).assembly.first_order.value == pytest.approx(60e3)
    stretch = joint.spread_of(ALL_METHODS["stretch"], trials=2000)
    assert stretch.setting == pytest.approx(65e3 * bolt_resilience(m16()).total)
    pull = joint.spread_of(ALL_METHODS["tension"], trials=2000)
    assert pull.setting == pytest.approx(losses.tensioner_load(60e3, 1 / 0.8))
    assert pull.assembly.first_order.value == pytest.approx(60e3)


def test_angle_gives_the_elastic_load_of_springs_in_series():
    case = ALL_METHODS["torque and angle"]
    springs = bolt_resilience(case).total + clamped_resilience(case).total
    snug = torque.F_M(50.0, M16, 0.12, 0.12, torque.D_Km(22.49e-3, 17.5e-3))
    expected = snug + 0.4 / (2 * math.pi) * M16.P / springs
    assert joint.spread_of(case, trials=2000).assembly.first_order.value == pytest.approx(expected)


def test_working_load_is_asked_for_and_counted():
    case = m16(loads=Loads(F_A_max=20e3, F_Kerf=30e3), limits=Limits())
    phi = joint.load_factor(1.0, clamped_resilience(case).total, bolt_resilience(case).total)
    assert joint.spread_of(case, trials=2000).required == pytest.approx(30e3 + (1 - phi) * 20e3)


@pytest.mark.parametrize("F_SA", [0.0, 5e3, 30e3])
def test_load_at_the_working_stress_gives_that_stress(F_SA):
    A, d_0 = M16.A_s, joint.stress_diameter(M16)
    per_load = working.torsion_stress(working.thread_torque(1.0, M16, 0.12), d_0)
    F = load_at_working_stress(640e6, F_SA, A, per_load)
    stress = working.working_stress(working.tension_stress(F + F_SA, A), F * per_load)
    assert stress == pytest.approx(640e6)
    assert load_at_working_stress(640e6, 200e3, A, per_load) == -math.inf


def test_limit_by_torsion_is_the_permissible_preload_of_each_friction():
    model = model_of(m16())
    x = {**propagation.means(model), "mu_G": np.array([0.08, 0.12, 0.16])}
    expected = torque.F_M_zul(M16, m16().bolt.strength, x["mu_G"], 0.9)
    assert model.allowed(x) == pytest.approx(expected)


@pytest.mark.parametrize("case, words", [
    (m16(limits=Limits()), "limits.required_preload"),
    (m16(limits=Limits(required_preload=-1.0)), "limits.required_preload"),
    (m16(limits=Limits(required_preload=math.nan)), "limits.required_preload"),
    (m16(limits=Limits(required_preload=5e4, nu=1.2)), "limits.nu"),
    (m16(tightening=Tightening(tool_scatter=0.04)), "neither asked for nor stated"),
    (tight(m16(), torque=0.0), "greater than zero"),
    (tight(m16(), torque=math.inf), "finite"),
    (tight(m16(), tool_scatter=1.0), "tightening.tool_scatter"),
    (tight(m16(), tool_scatter=math.nan), "tightening.tool_scatter"),
    (tight(m16(), prevailing=Band(-5.0, 0.0, 0.0)), "tightening.prevailing"),
    (tight(m16(), method="by feel"), "tightening.method"),
    (tight(m16(), method="torque and angle", angle=0.5), "tightening.snug_torque"),
    (m16(friction=Friction(mu_G=Band(0.0, 0.1, 0.2), mu_K=MU)), "friction.mu_G"),
    (m16(friction=Friction(mu_G=MU, mu_K=Band(0.0, 0.1, 0.2))), "friction.mu_K"),
    (m16(friction=Friction(mu_G=MU, mu_K=MU, K=Band(0.0, 0.2, 0.3))), "friction.K"),
    (m16(elastic_interaction=1.0), "elastic_interaction"),
    (m16(service=Service(T_S=300, T_P=300)), "service.E_S_ratio"),
    (m16(loads=Loads(F_Q=5e3)), "loads.mu_T"),
    (replace(m16(), bolt=replace(m16().bolt, d_w=17e-3)), "bolt.d_w"),
    (m16(friction=Friction(mu_G=Band(0.1, 0.2, 1.2), mu_K=MU)), "friction.mu_G"),
    (m16(loads=Loads(F_A_max=math.nan)), "loads.F_A_max"),
    (m16(loads=Loads(F_A_max=5e3, n=-1.0)), "loads.n"),
    (m16(layers=()), "layers"),
    (replace(m16(), bolt=replace(m16().bolt, d_i=20e-3)), "bolt"),
    (replace(m16(), counterpart=replace(m16().counterpart, nut_proof_stress=0.0)), "nut_proof_stress"),
    (m16(service=Service(R_p02_ratio=0.0)), "service.R_p02_ratio"),
    (m16(service=Service(relaxation=math.nan)), "service.relaxation"),
])
def test_what_is_missing_or_senseless_is_named(case, words):
    with pytest.raises(CaseError, match=words):
        joint.spread_of(case, trials=1000)


def test_arguments_are_checked():
    with pytest.raises(CaseError, match="trials"):
        joint.spread_of(m16(), trials=10)
    with pytest.raises(CaseError, match="fasteners"):
        joint.spread_of(m16(), fasteners=0)
    with pytest.raises(CaseError, match="nothing is set"):
        joint.spread_of(ALL_METHODS["yield"], 100.0)
    with pytest.raises(CaseError, match=r"assumptions\.tool"):
        Assumptions(tool="guess")
    for wrong in ({"stiffness": 1.0}, {"bearing": -0.1}, {"yield_high": 0.9}, {"temperature": math.inf}):
        with pytest.raises(CaseError, match="assumptions"):
            Assumptions(**wrong)


def test_missing_transfer_loss_is_taken_from_the_guide_value_and_said():
    case = tight(m16(), method="tension", preload=60e3)
    found = joint.spread_of(case, trials=2000)
    assert any("guide value" in note for note in found.notes)
    assert found.setting == pytest.approx(60e3 * losses.transfer_factor_guide(M16.d, case.l_K))


def test_parts_without_modulus_are_refused_only_where_springs_count():
    soft = replace(STEEL, E=None)
    plates = tuple(replace(layer, material=soft) for layer in m16().layers)
    with pytest.raises(CaseError, match=r"layers\[1\].material"):
        joint.spread_of(m16(layers=plates))
    still = m16(layers=plates, embedding=replace(m16().embedding, f_Z=0.0))
    assert joint.spread_of(still, trials=1000).probability.within > 0


@pytest.mark.parametrize("widths, u, first, trials", [
    ((1, 1, 1, 1), 2.0, 3.92, 3.88), ((1, 1, 1, 10), 10.1, 19.9, 17.0),
])
def test_additive_models_of_jcgm_101_by_both_ways(widths, u, first, trials):
    """Sum of four rectangular inputs of these standard uncertainties (JCGM 101:2008 clauses 9.2.3 and 9.2.4, from
    memory): ends of the 95 % interval by first order and by trials.
    """
    names = ("a", "b", "c", "d")
    model = replace(model_of(m16()), inputs={
        s: around(s, s, "1", "rectangular", 0.0, w * math.sqrt(3), "") for s, w in zip(names, widths, strict=True)
    })

    def total(x):
        return x["a"] + x["b"] + x["c"] + x["d"]

    by_first = propagation.first_order(model, total)
    by_trials = propagation.monte_carlo(total(propagation.draw(model, 1_000_000, np.random.default_rng(4))))
    assert by_first.u == pytest.approx(u, rel=0.01)
    assert by_first.high == pytest.approx(first, rel=0.01)
    assert (by_trials.low, by_trials.high) == pytest.approx((-trials, trials), rel=0.006)
    assert by_trials.figures >= 1


def test_friction_that_goes_together_scatters_more_and_counts_as_one():
    """Correlation 1: (c_G u_G + c_K u_K)^2 instead of the sum of squares (JCGM 100 clause 5.2.2, from memory)."""
    apart, joined = joint.spread_of(m16()), joint.spread_of(m16(), assume=Assumptions(friction_together=True))
    alone = {c.symbol: c for c in apart.contributions}
    both = next(c for c in joined.contributions if c.symbol == "mu_G, mu_K")
    assert both.u_of_load == pytest.approx(alone["mu_G"].u_of_load + alone["mu_K"].u_of_load)
    rest = apart.residual.first_order.u**2 - alone["mu_G"].u_of_load**2 - alone["mu_K"].u_of_load**2
    assert joined.residual.first_order.u == pytest.approx(math.sqrt(both.u_of_load**2 + rest))
    assert joined.residual.monte_carlo.u == pytest.approx(joined.residual.first_order.u, rel=0.06)
    assert both.share == pytest.approx(both.main, abs=0.03)
    assert joined.probability.within < apart.probability.within


def test_surface_pressure_carries_the_working_load_as_well():
    soft = replace(STEEL, p_G=300e6)
    case = m16(layers=(replace(m16().layers[0], material=soft), m16().layers[1]), loads=Loads(F_A_max=20e3),
               limits=Limits(required_preload=30e3, S_P=1.2))
    phi = joint.load_factor(1.0, clamped_resilience(case).total, bolt_resilience(case).total)
    area = math.pi / 4 * (22.49e-3**2 - 17.5e-3**2)
    found = joint.spread_of(case, trials=1000)
    assert found.allowed_by == "surface pressure under the head"
    assert found.allowed == pytest.approx(300e6 * area / 1.2 - phi * 20e3)


def test_limit_with_the_working_load_keeps_the_safety_against_yield():
    """S_F of VDI 2230-1 R8, by its own formulas at the load allowed, is the one asked for; R_p02 at temperature."""
    case = m16(loads=Loads(F_A_max=20e3), limits=Limits(required_preload=30e3, S_F=1.5),
               service=Service(R_p02_ratio=0.9))
    found = joint.spread_of(case, trials=1000)
    assert found.allowed_by == "yield strength with the working load"
    phi = joint.load_factor(1.0, clamped_resilience(case).total, bolt_resilience(case).total)
    tau = working.torsion_stress(working.thread_torque(found.allowed, M16, 0.12), joint.stress_diameter(M16))
    sigma = working.tension_stress(found.allowed + phi * 20e3, M16.A_s)
    assert working.S_F(0.9 * 640e6, working.working_stress(sigma, tau)) == pytest.approx(1.5)


def test_tightening_to_yield_is_limited_by_the_tensile_strength():
    found = joint.spread_of(ALL_METHODS["yield"], trials=1000)
    strength = m16().bolt.strength
    assert found.allowed == pytest.approx(torque.F_M_zul(M16, replace(strength, R_p02=strength.R_m), 0.12, 1.0))
    assert found.assembly.first_order.value == pytest.approx(1.1 * torque.F_M_zul(M16, strength, 0.12, 1.0))
