"""The target of one fastener: chain, load window and problems."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull import joint
from evenpull.joint import Band, CaseError, FastenerCase, TorqueCase, compute_target, torque_target
from evenpull.quantities import show
from tests.mechanics.formulas import recompute

M16 = joint.thread("M16")
CASE = FastenerCase(
    thread=M16, strength=joint.strength("8.8", M16), d_w=0.02249, d_h=0.0175, mu_G=Band(0.10, 0.12, 0.14),
    mu_K=Band(0.10, 0.12, 0.14), K=Band(0.13, 0.16, 0.19), rule="friction", torque=150.0, preload=None,
    utilisation=None, tool_scatter=0.04, required_preload=40e3, utilisation_limit=0.9, prevailing_torque=0.0,
    sources={"mu_G": "test of the lot"},
)

bands = st.lists(st.floats(0.03, 0.6), min_size=3, max_size=3).map(sorted).map(lambda b: Band(*b))
threads = st.sampled_from(["M5", "M10x1", "M16", "M30", "3/8-16 UNC", "3/4-16 UNF", "1-1/2-8 UN"]).map(joint.thread)


@st.composite
def cases(draw: st.DrawFn) -> FastenerCase:
    size = draw(threads)
    wish = draw(st.sampled_from(["torque", "preload", "utilisation"]))
    value = draw(st.floats(0.05, 1.3))
    wishes: dict[str, float | None] = {"torque": None, "preload": None, "utilisation": None}
    load = value * size.A_s * 640e6
    wishes[wish] = {"torque": 0.15 * size.d * load, "preload": load}.get(wish, value)
    return FastenerCase(
        thread=size, strength=joint.strength("8.8" if size.system == "metric" else "SAE J429 grade 5", size),
        d_w=size.d * 1.45, d_h=size.d * 1.08, mu_G=draw(bands), mu_K=draw(bands), K=draw(bands),
        rule=draw(st.sampled_from(["friction", "nut factor"])), tool_scatter=draw(st.sampled_from([0.0, 0.04, 0.2])),
        required_preload=draw(st.sampled_from([None, size.A_s * 300e6])), utilisation_limit=0.9,
        prevailing_torque=draw(st.sampled_from([0.0, 3.0])), **wishes,
    )


@given(cases())
def test_every_number_follows_from_its_formula_and_inputs(case: FastenerCase) -> None:
    target = compute_target(case)
    symbols = [step.symbol for step in target.chain]
    assert len(set(symbols)) == len(symbols)
    made: dict[str, float] = {}
    for step in target.chain:
        assert step.name and step.formula and step.source
        for name, value in step.inputs.items():
            assert made[name] == pytest.approx(value, rel=1e-12), f"{step.symbol} uses {name} unlike it was made"
        if step.inputs:
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-9), step.formula
            assert step.formula.startswith(f"{step.symbol} = ")
        made[step.symbol] = step.value
    for symbol, value in (("M", target.torque), ("F_min", target.load.low), ("F_M", target.load.nominal),
                          ("F_max", target.load.high), ("nu", target.utilisation_yield.nominal)):
        assert target.by_symbol(symbol).value == value


@given(cases(), st.floats(0, 1), st.floats(0, 1), st.floats(-1, 1))
def test_no_friction_or_torque_inside_the_bands_leaves_the_window(
    case: FastenerCase, g: float, k: float, t: float
) -> None:
    """The window is the worst case: any friction inside its band and any torque the tool may give stays within."""
    target = compute_target(case)
    mu_G = case.mu_G.low + g * (case.mu_G.high - case.mu_G.low)
    mu_K = case.mu_K.low + k * (case.mu_K.high - case.mu_K.low)
    torque = target.torque * (1 + t * case.tool_scatter) - case.prevailing_torque
    if torque <= 0:
        return
    if case.rule == "friction":
        load = joint.F_M(torque, case.thread, mu_G, mu_K, joint.D_Km(case.d_w, case.d_h))
        nu = joint.utilisation(load, case.thread, case.strength, mu_G)
        assert nu <= target.utilisation_yield.high * (1 + 1e-9)
    else:
        load = joint.load_from_nut_factor(torque, case.K.low + k * (case.K.high - case.K.low), case.thread.d)
    assert target.load.low * (1 - 1e-9) <= load <= target.load.high * (1 + 1e-9)


@given(cases())
def test_the_torques_named_as_safe_are_safe(case: FastenerCase) -> None:
    """M_largest just reaches yield, M_limit the limit, M_least just keeps the preload, in their worst corners."""
    target = compute_target(case)
    within = target.by_symbol("M_limit").value
    if within > case.prevailing_torque:
        wish = replace(case, torque=within - case.prevailing_torque, preload=None, utilisation=None)
        at_limit = compute_target(wish)
        assert at_limit.utilisation_yield.high == pytest.approx(case.utilisation_limit, rel=1e-6)
        over = compute_target(replace(wish, torque=wish.torque * 1.001 + case.prevailing_torque * 0.001))
        assert "overload possible" in codes(over) or "overload" in codes(over)
    largest = target.by_symbol("M_largest").value
    if largest > case.prevailing_torque:
        wish = replace(case, torque=largest - case.prevailing_torque, preload=None, utilisation=None)
        assert compute_target(wish).utilisation_yield.high == pytest.approx(1.0, rel=1e-6)
    if case.required_preload is not None:
        least = target.by_symbol("M_least").value
        wish = replace(case, torque=least - case.prevailing_torque, preload=None, utilisation=None)
        assert compute_target(wish).load.low == pytest.approx(case.required_preload, rel=1e-6)


def test_utilisation_as_a_wish_is_reached_at_nominal_friction() -> None:
    target = compute_target(replace(CASE, torque=None, utilisation=0.9))
    assert target.utilisation_yield.nominal == pytest.approx(0.9)
    # VDI 2230-1 Table A1, M16 8.8, mu 0.12: F_M 80.9 kN, M_A 206 N.m (from memory, not re-read)
    assert target.load.nominal == pytest.approx(80.9e3, rel=0.005)
    assert target.torque == pytest.approx(206, rel=0.005)


def test_drag_is_added_to_the_target_and_does_not_load_the_fastener() -> None:
    plain, drag = compute_target(CASE), compute_target(replace(CASE, prevailing_torque=12.0))
    assert drag.torque == plain.torque + 12
    assert drag.load.nominal == pytest.approx(plain.load.nominal)
    # the tool scatters with the whole torque, drag included
    assert drag.load.high > plain.load.high


def codes(target: joint.Target) -> dict[str, str]:
    return {problem.code: problem.severity for problem in target.problems}


def test_a_fitting_target_has_no_problem() -> None:
    assert compute_target(CASE).problems == ()


def test_a_target_of_another_size_is_an_overload_before_anyone_works() -> None:
    target = compute_target(replace(CASE, torque=520.0))  # the torque of an M24 on an M16
    assert codes(target) == {"overload": "stop", "above proof load": "stop"}
    assert "227" in target.problems[0].text and "limit is 90.0 %" in target.problems[0].text


def test_possible_overload_is_a_warning_with_the_torque_that_would_be_safe() -> None:
    target = compute_target(replace(CASE, torque=200.0, mu_G=Band(0.06, 0.12, 0.14), mu_K=Band(0.06, 0.12, 0.14)))
    assert codes(target)["overload possible"] == "warning"
    safe = target.by_symbol("M_largest").value
    assert f"up to {show(safe, 'N.m')} would" in target.problems[0].text
    assert "of its yield strength" in target.problems[0].text  # above yield the sharper wording


def test_the_limit_holds_at_the_highest_load_too() -> None:
    """VDI 2230-1: F_Mmax <= F_Mzul at the lowest friction (from memory, not re-read)."""
    target = compute_target(replace(CASE, torque=180.0))
    nu = target.utilisation_yield
    assert nu.nominal < 0.9 < nu.high < 1
    assert codes(target) == {"overload possible": "warning"}
    within = target.by_symbol("M_limit").value
    for number in (f"{nu.high * 100:.1f} %", "limit is 90.0 %", f"up to {show(within, 'N.m')} would", "from memory"):
        assert number in target.problems[0].text
    assert codes(compute_target(replace(CASE, torque=within * 0.9999))) == {}
    assert codes(compute_target(replace(CASE, torque=within * 1.0001))) == {"overload possible": "warning"}
    assert codes(compute_target(replace(CASE, torque=180.0, utilisation_limit=1.0))) == {}


def test_too_little_load() -> None:
    assert codes(compute_target(replace(CASE, torque=80.0))) == {"too little load": "stop"}
    assert codes(compute_target(replace(CASE, torque=110.0))) == {"too little load possible": "warning"}


def test_no_torque_can_bridge_a_wide_friction_band() -> None:
    wide = replace(CASE, mu_G=Band(0.05, 0.12, 0.35), mu_K=Band(0.05, 0.12, 0.35), required_preload=60e3, torque=170.0)
    assert codes(compute_target(wide))["no torque satisfies"] == "warning"


def test_stainless_has_no_proof_stress_and_none_is_invented() -> None:
    target = compute_target(replace(CASE, strength=joint.strength("A4-80", M16)))
    assert target.utilisation_proof is None
    assert codes(target) == {"no proof stress": "note"}
    with pytest.raises(KeyError):
        target.by_symbol("F_p")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"preload": 50e3}, "exactly one"), ({"torque": None}, "exactly one"), ({"torque": -5.0}, "greater than zero"),
        ({"tool_scatter": 1.0}, "tool_scatter"), ({"prevailing_torque": -1.0}, "prevailing_torque"),
        ({"utilisation_limit": 1.2}, "utilisation_limit"), ({"torque": float("nan")}, "greater than zero"),
        ({"required_preload": 0.0}, "required_preload"), ({"K": Band(0.0, 0.1, 0.2)}, "K must"),
    ],
)
def test_impossible_cases_name_the_field(change: dict[str, object], message: str) -> None:
    with pytest.raises(CaseError, match=message):
        compute_target(replace(CASE, **change))  # type: ignore[arg-type]


def test_sources_of_the_inputs_are_kept() -> None:
    target = compute_target(CASE)
    assert target.by_symbol("mu_G_min").source == "test of the lot"
    assert target.by_symbol("R_p02").source.startswith("ISO 898-1")


def test_the_mechanics_work_in_a_notebook_without_django() -> None:
    code = (
        "import sys, evenpull.joint as j; t = j.thread('M16'); print(round(j.F_M_zul(t, j.strength('8.8', t), 0.12)));"
        "bad = [m for m in sys.modules if m.split('.')[0] in ('django', 'psycopg', 'typer')]; assert not bad, bad"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "80974"  # VDI 2230-1 Table A1: 80.9 kN (from memory, not re-read)


def test_a_torque_alone_gives_the_band_of_the_torque_and_no_load() -> None:
    target = torque_target(TorqueCase(1.4, 0.1, 0.2, {"torque": "data sheet"}))
    assert (target.load, target.utilisation_yield, target.utilisation_proof) == (None, None, None)
    assert target.torque == pytest.approx(1.6)
    assert (target.torque_band.low, target.torque_band.high) == (pytest.approx(1.44), pytest.approx(1.76))
    assert [step.symbol for step in target.chain] == ["M_A", "M_P", "M", "s", "M_min", "M_max"]
    for step in target.chain:
        if step.inputs:
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-12)
    assert target.by_symbol("M_A").source == "data sheet"
    assert [(p.code, p.severity) for p in target.problems] == [("load not computable", "warning")]
    assert target.problems[0].text.startswith("The load cannot be computed: the thread is not stated.")


@given(cases())
def test_the_torque_does_not_depend_on_knowing_the_thread(case: FastenerCase) -> None:
    if case.torque is None:
        return
    known = compute_target(case)
    alone = torque_target(TorqueCase(case.torque, case.tool_scatter, case.prevailing_torque))
    assert (alone.torque, alone.torque_band) == (known.torque, known.torque_band)


@pytest.mark.parametrize(("case", "says"), [
    (TorqueCase(0.0, 0.1, 0.0), "torque must be greater than zero"), (TorqueCase(1.0, 1.0, 0.0), "tool_scatter"),
    (TorqueCase(1.0, 0.1, -1.0), "prevailing_torque"), (TorqueCase(float("nan"), 0.1, 0.0), "greater than zero"),
])  # fmt: skip
def test_a_torque_alone_that_cannot_be(case: TorqueCase, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        torque_target(case)
