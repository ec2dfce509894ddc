"""Settings of single fasteners: read as written, refused with place and way out, planned for each fastener."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.plan import Plan, form_to_toml, make_plan, read_specification, read_tools, toml_to_form
from tests.plan.files import JOINT, TOOLS, changed, faults

ROW = [104, 118, 110, 101, 112, 96.5, 108, 100, 103, 117, 109, 102, 111, 97, 107, 99]


def own(settings: object, limit: str = "settings_limit = 120\n", passes: str = "[30, 70, 100]") -> str:
    return changed(JOINT, ("passes = [30, 70, 100]\n", f"passes = {passes}\nsettings = {settings}\n{limit}"))


OWN = own([[30], [70], ROW])


def test_settings_are_read_by_pass_and_fastener() -> None:
    p = read_specification(OWN, "joint.toml").procedure
    assert [p.settings_of(number) for number in (1, 2, 3, 4)] == [(), (), tuple(ROW), ()]
    assert p.settings_limit == 120
    plain = read_specification(JOINT, "joint.toml").procedure
    assert plain.settings == () and plain.settings_of(1) == () and plain.settings_limit == 100


def test_the_form_keeps_settings_as_they_are() -> None:
    fields = toml_to_form(OWN)
    assert fields["procedure.settings"].startswith("30; 70; 104, 118, 110")
    again = read_specification(form_to_toml(fields), "form")
    assert again.procedure == read_specification(OWN, "joint.toml").procedure
    alone = own([ROW], passes="[100]")
    assert read_specification(form_to_toml(toml_to_form(alone)), "f").procedure.settings == (tuple(ROW),)


REFUSED = {
    "a number short": (own([[30], [70], ROW[:-1]]), "procedure.settings.2", "15 settings for 16 fasteners",
                       "16 percents"),
    "a list short": (own([[70], ROW]), "procedure.settings", "2 lists of settings for 3 passes",
                     "a list for each pass"),
    "another percent": (own([[30], [60], ROW]), "procedure.settings.1.0", "passes says 70 %", "70, or one for each"),
    "zero": (own([[30], [70], [0, *ROW[1:]]]), "procedure.settings", "0 % is no setting (pass 3, fastener 1)",
             "more than 0"),
    "a slip": (own([[30], [70], [1040, *ROW[1:]]]), "procedure.settings", "1040 % is no setting", "at most 150"),
    "above its limit": (own([[30], [70], ROW], "settings_limit = 115\n"), "procedure.settings.2.1",
                        "118 % of the target is above settings_limit 115 (pass 3, fastener 2)", "has to be stated"),
    "no limit stated": (own([[30], [70], ROW], ""), "procedure.settings.2.1", "above settings_limit 100",
                        "has to be stated"),
    "limit beyond sense": (own([[30], [70], ROW], "settings_limit = 200\n"), "procedure.settings_limit",
                           "not a limit of the settings", "100 to 150"),
    "limit of nothing": (changed(JOINT, ("check_passes = 1", "settings_limit = 120\ncheck_passes = 1")),
                         "procedure.settings_limit", "there are none", "leave the key out"),
    "never the target": (own([[30], [70], [90] * 16]), "procedure.settings.2", "never be reached", "100 or more"),
    "no list": (own(ROW[:3]), "procedure.settings", "104 is not a list of settings (pass 1)", "for each pass"),
    "empty list": (own([[], [70], ROW]), "procedure.settings", "is not a list of settings (pass 1)", "for each pass"),
    "with an angle": (changed(OWN, ('method = "torque"', 'method = "torque and angle"\nangle = "60 deg"\n'
                                    'angle_window = ["45 deg", "75 deg"]')),
                      "procedure.settings", "go with the method torque", 'method = "torque"'),
    "one fastener": (changed(own([[30], [70], [100]]), ("count = 16", "count = 1")), "procedure.settings.0",
                     "one fastener", "leave the key out"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_settings_that_do_not_fit_are_refused(what: str) -> None:
    text, field, message, allowed = REFUSED[what]
    found = [fault for fault in faults(text) if message in fault.message]
    assert [fault.field for fault in found] == [field], faults(text)
    assert allowed in found[0].allowed
    key = field.split(".")[1]
    assert text.splitlines()[(found[0].line or 0) - 1].startswith(f"{key} =")


def planned(text: str, tools: str = TOOLS) -> Plan:
    return make_plan(read_specification(text, "joint.toml"), read_tools(tools, "tools.toml"), date(2026, 3, 24))


def test_each_fastener_has_its_torque_window_and_setting() -> None:
    made = planned(OWN)
    last = made.passes[2]
    assert last.name == "pass 3 of 3 (own settings)" and last.stage == "own settings" and last.settings == ()
    assert [last.torque_of(f) for f in range(1, 17)] == pytest.approx([5.2 * percent for percent in ROW])
    assert last.window(2) == pytest.approx((0.95 * 613.6, 1.05 * 613.6))
    assert (last.lower, last.upper) == pytest.approx((0.95 * 5.2 * 96.5, 1.05 * 613.6))
    dialled = {s.tool: s.digits for s in last.settings_of(2)}
    # 613.6 N.m in steps of 2; 613.6 / 1.3558 = 452.6 lbf.ft, times 900 / 960 for the crow-foot = 424.3
    assert dialled == {"TW-0219": "614", "TW-0252": "424"}
    assert len(last.every_setting) == 32
    for number in (0, 17):
        with pytest.raises(ValueError, match="there is no fastener"):
            last.torque_of(number)


def test_the_other_passes_stay_as_they_are() -> None:
    made, plain = planned(OWN), planned(JOINT)
    assert [made.passes[n] for n in (0, 1, 3)] == [plain.passes[n] for n in (0, 1, 3)]
    assert plain.passes[2].torque_of(7) == plain.passes[2].torque and plain.passes[2].window(99) == (
        plain.passes[2].lower, plain.passes[2].upper)  # fmt: skip


def test_pulls_carry_the_torque_of_each_fastener() -> None:
    made = planned(changed(OWN, ("tools_at_once = 1", "tools_at_once = 2")))
    pull = next(p for p in made.pulls if p.pass_number == 3)
    assert pull.torques == pytest.approx([5.2 * ROW[f - 1] for f in pull.fasteners])
    assert pull.torque == max(pull.torques)
    assert made.pulls[0].torques == ()


def codes(made: Plan) -> dict[str, str]:
    return {problem.code: problem.severity for problem in made.problems}


def test_the_loads_are_said_to_be_predicted() -> None:
    assert codes(planned(OWN))["loads by prediction"] == "note"
    assert "loads by prediction" not in codes(planned(JOINT))


def test_the_highest_setting_is_judged_as_a_target_is() -> None:
    """The same torque as the target of the joint gives the same verdicts of load and strength."""
    high = [*ROW[:6], 150, *ROW[7:]]
    made = planned(own([[30], [70], high], "settings_limit = 150\n"))
    as_target = planned(changed(JOINT, ('torque = "520 N.m"', 'torque = "780 N.m"')))
    judged = {p.code: (p.severity, p.text) for p in as_target.problems if p.code in ("overload", "above proof load")}
    assert judged["overload"][0] == "stop" and judged["above proof load"][0] == "warning"
    for code, (severity, text) in judged.items():
        found = next(p for p in made.problems if p.code == f"setting: {code}")
        assert found.severity == severity and found.text.endswith(text)
        assert "pass 3 of 3 (own settings), fastener 7 at 150 % of the target" in found.text
    assert not any(code.startswith("setting: overload") and severity == "stop" for code, severity in
                   codes(planned(own([[30], [70], [100] * 16]))).items())


def test_a_setting_above_the_nut_is_found() -> None:
    """A nut of class 6 holds 254 kN; 700 N.m leave 229 kN at most, 130 % of that more than it holds."""
    text = changed(JOINT, ('nut_class = "8"', 'nut_class = "6"'), ('class = "8.8"', 'class = "12.9"'),
                   ('torque = "520 N.m"', 'torque = "700 N.m"'))  # fmt: skip
    assert codes(planned(text))["nut weaker than bolt"] == "warning"
    high = [130.0] + [100.0] * 15
    found = changed(text, ("passes = [30, 70, 100]", f"passes = [100]\nsettings = [{high}]\nsettings_limit = 130"))
    assert codes(planned(found))["nut weaker than bolt"] == "stop"


def test_a_tool_that_misses_one_setting_is_unfit_for_the_pass() -> None:
    text = own([[30], [70], [115.5] + [100] * 15])  # 600.6 N.m = 443 lbf.ft, on the crow-foot 415
    assert "tool unfit for pass" not in codes(planned(text))
    short = changed(TOOLS, ('"450 lbf.ft"', '"400 lbf.ft"'))  # 520 N.m needs 360
    made = planned(text, short)
    said = next(p for p in made.problems if p.code == "tool unfit for pass")
    assert said.text.startswith("TW-0252 cannot do pass 3 of 3 (own settings) at 520 N·m to 600.6 N·m")
    both = planned(text, changed(short, ('"800 N.m"', '"560 N.m"')))
    assert codes(both)["no tool for pass"] == "stop"
