"""The plan: passes, windows, pulls, settings, and every problem said before anyone works."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.plan import Plan, make_plan, read_specification, read_tools
from evenpull.plan.make import tool_scatter
from tests.plan.files import JOINT, STATED, TOOLS, changed, tapped

DAY = date(2026, 3, 24)


def plan(joint: str = JOINT, tools: str = TOOLS, on: date = DAY) -> Plan:
    return make_plan(read_specification(joint, "joint.toml"), read_tools(tools, "tools.toml") if tools else (), on)


def problems(made: Plan) -> list[tuple[str, str]]:
    return [(problem.severity, problem.code) for problem in made.problems]


def text_of(made: Plan, code: str) -> str:
    return next(problem.text for problem in made.problems if problem.code == code)


def test_a_sound_joint_has_no_problem() -> None:
    assert problems(plan()) == []


def test_passes_with_their_windows_and_the_check_pass() -> None:
    passes = plan().passes
    assert [one.name for one in passes] == [
        "pass 1 of 3 (30 %)", "pass 2 of 3 (70 %)", "pass 3 of 3 (100 %)", "check pass"]
    assert [one.number for one in passes] == [1, 2, 3, 4] and [one.check for one in passes] == [False] * 3 + [True]
    assert [one.torque for one in passes] == [156, 364, 520, 520]
    assert (passes[0].lower, passes[0].upper) == (148.2, 163.8)
    assert (passes[3].lower, passes[3].upper) == (494, 546)
    assert passes[0].order[:4] == ((1,), (9,), (5,), (13,))
    assert passes[3].order[:3] == ((1,), (2,), (3,))


def test_two_check_passes_are_numbered() -> None:
    made = plan(changed(JOINT, ("check_passes = 1", "check_passes = 2")))
    assert [one.name for one in made.passes[3:]] == ["check pass 1 of 2", "check pass 2 of 2"]


def test_pulls_number_every_pull_of_the_procedure() -> None:
    made = plan()
    assert [pull.number for pull in made.pulls] == list(range(1, 65))
    assert [pull.fasteners for pull in made.pulls[:2]] == [(1,), (9,)]
    assert made.pulls[16].pass_number == 2 and made.pulls[16].torque == 364
    two = plan(changed(JOINT, ("tools_at_once = 1", "tools_at_once = 2")))
    assert len(two.pulls) == 32 and two.pulls[0].fasteners == (1, 9)


def test_settings_in_the_unit_of_each_tool_with_its_adapter() -> None:
    last = plan().passes[2]
    straight, crowfoot = last.settings
    assert (straight.digits, straight.unit, straight.problems) == ("520", "N.m", ())
    # M_set = M L / (L + E) = 520 x 900 / 960 = 487.5 N.m = 359.6 lbf.ft (1 lbf.ft = 1.3558 N.m), step 1 lbf.ft
    assert (crowfoot.digits, crowfoot.unit) == ("360", "lbf.ft")
    assert crowfoot.words == "three hundred and sixty pound-force feet"
    assert crowfoot.hand_sensitivity > 0 and straight.hand_sensitivity == 0
    assert [step.symbol for step in crowfoot.chain] == ["M", "M_set", "M_dial"]


def test_scatter_is_the_root_sum_of_squares_of_tolerance_and_worst_tool() -> None:
    assert tool_scatter(0.03, 0.04) == pytest.approx(0.05)
    made = plan()
    assert made.target.by_symbol("s").value == pytest.approx((0.05**2 + 0.03**2) ** 0.5)
    assert "sqrt(t^2 + U^2)" in made.target.by_symbol("s").source


def test_sources_of_the_inputs_stand_in_the_chain() -> None:
    chain = plan().target
    assert "KN-SPEC-0114 revision C" in chain.by_symbol("M_A").source
    assert "KN-T-031" in chain.by_symbol("mu_G").source
    assert "ISO 4032" in chain.by_symbol("d_w").source and "ISO 273" in chain.by_symbol("d_h").source


def test_smallest_stage_below_the_scale_is_a_problem() -> None:
    joint = changed(JOINT, ("[30, 70, 100]", "[20, 70, 100]"))  # 104 N.m, the scale begins at 150
    both = plan(joint)
    assert problems(both) == [("stop", "no tool for pass")]
    text = text_of(both, "no tool for pass")
    assert "pass 1 of 3 (20 %)" in text and "below its scale" in text
    assert both.passes[0].settings[0].problems and not both.passes[1].settings[0].problems
    lower = changed(TOOLS, ('"80 lbf.ft", "450', '"60 lbf.ft", "450'))
    assert problems(plan(joint, lower)) == [("warning", "tool unfit for pass")]


def test_largest_stage_above_the_scale_is_a_problem() -> None:
    tools = changed(TOOLS, ('"800 N.m"', '"400 N.m"'), ('"450 lbf.ft"', '"300 lbf.ft"'))
    made = plan(JOINT, tools)
    assert problems(made) == [("stop", "no tool for pass")] * 2  # last pass and check pass
    assert "above its scale" in text_of(made, "no tool for pass")


def test_coarse_steps_that_miss_the_window() -> None:
    tools = changed(TOOLS, ('resolution = "2 N.m"', 'resolution = "130 N.m"'), ('"150 N.m", "800', '"130 N.m", "800'))
    assert "too coarse" in text_of(plan(JOINT, tools), "tool unfit for pass")


def test_certificate_has_to_cover_the_day() -> None:
    assert problems(plan(on=date(2027, 2, 11))) == []
    assert problems(plan(on=date(2027, 2, 12))) == [("warning", "certificate not valid")]
    late = plan(on=date(2027, 3, 1))
    assert problems(late)[0] == ("stop", "no valid certificate")
    early = plan(on=date(2026, 2, 20))
    assert "begins on 2026-02-24" in text_of(early, "certificate not valid")
    assert early.passes[0].settings[1].problems and not early.passes[0].settings[0].problems


def test_tools_that_are_not_in_the_register() -> None:
    none = plan(tools="")
    assert problems(none) == [("stop", "no tool in register")] and none.tools == () and none.passes[0].settings == ()
    some = plan(changed(JOINT, ('"TW-0252"]', '"TW-0999"]')))
    assert problems(some) == [("warning", "tool not in register")] and "TW-0999" in some.problems[0].text


def test_a_tool_no_better_than_the_tolerance() -> None:
    made = plan(changed(JOINT, ('tolerance = "5 %"', 'tolerance = "2.9 %"')))
    assert problems(made) == [("warning", "uncertainty too large")] and "TW-0252" in made.problems[0].text


def test_more_tools_at_once_than_are_fit() -> None:
    made = plan(changed(JOINT, ("tools_at_once = 1", "tools_at_once = 3")))
    assert problems(made) == [("warning", "too few tools")]


def test_revision_not_in_force_on_the_day() -> None:
    made = plan(changed(JOINT, ("2026-02-02", "2026-04-01")))
    assert problems(made) == [("stop", "revision not in force")]
    assert problems(plan(changed(JOINT, ("2026-02-02", "2026-03-24")))) == []


def test_target_copied_from_a_larger_thread_is_stopped() -> None:
    made = plan(changed(JOINT, ('thread = "M24"', 'thread = "M16"'), ('circle = "470 mm"', 'circle = "300 mm"')))
    assert ("stop", "overload") in problems(made)


def test_nut_weaker_than_the_bolt() -> None:
    strong = changed(JOINT, ('class = "8.8"', 'class = "12.9"'), ('torque = "520 N.m"', 'torque = "700 N.m"'))
    weak = plan(strong)
    # ISO 898-2: nut class 8 on M24 has a lower proof load than a bolt of class 12.9 (970 MPa x 353 mm2 = 342 kN)
    assert ("warning", "nut weaker than bolt") in problems(weak) and "341.9 kN" in text_of(weak, "nut weaker than bolt")
    assert "nut weaker than bolt" not in [code for _, code in problems(plan(changed(strong, ('"8"', '"12"'))))]
    over = plan(changed(JOINT, ('class = "8.8"', 'class = "12.9"'), ('torque = "520 N.m"', 'torque = "1500 N.m"')))
    assert ("stop", "nut weaker than bolt") in problems(over)
    unknown = plan(changed(JOINT, ('nut_class = "8"', 'nut_class = "2H"')))
    assert problems(unknown) == [("note", "nut not judged")]


@pytest.mark.parametrize(
    ("material", "engagement", "expected"),
    [
        ("steel S355", "24 mm", []), ("steel S355", "22 mm", [("warning", "engagement short")]),
        ("EN AW-6082-T6", "47 mm", [("warning", "engagement short")]),
        ("cast iron EN-GJL-250", "36 mm", []), ("cast iron EN-GJL-250", "30 mm", [("warning", "engagement short")]),
        ("PA6 with glass fibre", "40 mm", [("note", "engagement not judged")]),
    ],
)
def test_thread_engagement_by_common_rule(material: str, engagement: str, expected: list[tuple[str, str]]) -> None:
    text = changed(tapped(), ("steel S355", material), ('"36 mm"', f'"{engagement}"'))
    found = plan(text)
    assert problems(found) == expected
    if expected and expected[0][0] == "warning":
        assert "common practice, no source" in found.problems[0].text


def test_fastener_that_may_not_stand_out_of_the_nut() -> None:
    made = plan(changed(JOINT, ('length = "110 mm"', 'length = "92 mm"')))
    assert problems(made) == [("warning", "fastener may be short")]


def test_drag_against_the_first_pass() -> None:
    drag = changed(JOINT, ('torque = "520 N.m"', 'torque = "520 N.m"\nprevailing_torque = "100 N.m"'))
    made = plan(drag)
    assert made.target.torque == 620 and problems(made) == [("warning", "pass mostly drag")]
    more = changed(JOINT, ('torque = "520 N.m"', 'torque = "400 N.m"\nprevailing_torque = "200 N.m"'),
                   ('required_preload = "95 kN"\n', ""))
    assert ("stop", "pass below drag") in problems(plan(more))


def test_flange_without_a_check_pass_is_noted() -> None:
    made = plan(changed(JOINT, ("check_passes = 1", "check_passes = 0"), ('movement_limit = "5 deg"\n', "")))
    assert problems(made) == [("note", "no check pass")]
    assert problems(plan(changed(JOINT, ('movement_limit = "5 deg"\n', "")))) == [("note", "no movement limit")]


def test_used_fasteners_with_catalogue_friction() -> None:
    text = changed(JOINT, (STATED, ""), ("paste of the store", "oil film"), ('condition = "new"', 'condition = "used"'),
                   ('required_preload = "95 kN"\n', ""))
    assert ("warning", "friction of used fasteners") in problems(plan(text))


def test_worst_comes_first_and_the_same_plan_every_time() -> None:
    bad = changed(JOINT, ("2026-02-02", "2026-04-01"), ('"TW-0252"]', '"TW-0999"]'),
                  ('nut_class = "8"', 'nut_class = "2H"'))
    made = plan(bad)
    assert [severity for severity, _ in problems(made)] == ["stop", "warning", "note"]
    assert made == plan(bad)


def test_grid_starts_in_the_middle() -> None:
    made = plan(changed(JOINT, ('circle = "470 mm"', "grid = [2, 8]")))
    assert made.passes[0].order[:2] == ((4,), (13,))
