"""A joint whose thread is not stated: a torque and its window, and plainly no load."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.demo.open_data.prepare import folder_text
from evenpull.plan import form_to_toml, make_plan, read_specification, read_tools, schema_help, toml_to_form
from evenpull.plan.make import fastener_case
from evenpull.plan.model import NOT_STATED
from tests.plan.files import IN_NUTS, JOINT, TOOLS, changed, faults, line_of

TEXT = folder_text("joint.toml")


def test_target_and_window_without_a_load() -> None:
    spec = read_specification(TEXT, "joint.toml")
    assert spec.fasteners.length is NOT_STATED and str(spec.clamped[0].thickness) == "not stated"
    assert (spec.fasteners.size, spec.fasteners.washers) == ("thread and class not stated", "under head not stated")
    plan = make_plan(spec, (), date(2022, 9, 5))
    assert plan.target.load is None and plan.target.utilisation_yield is None and plan.target.utilisation_proof is None
    assert (plan.passes[0].torque, plan.passes[0].lower, plan.passes[0].upper) == (1.4, 1.2, 1.6)
    assert [step.symbol for step in plan.target.chain] == ["M_A", "M_P", "M", "s", "M_min", "M_max"]
    assert "documentation of the scenario" in plan.target.by_symbol("M_A").source
    with pytest.raises(ValueError, match="thread is not stated"):
        fastener_case(spec, ())


def test_the_plan_says_that_no_load_is_known() -> None:
    plan = make_plan(read_specification(IN_NUTS, "j"), read_tools(TOOLS, "t"), date(2026, 3, 24))
    found = {problem.code: (problem.severity, problem.text) for problem in plan.problems}
    assert found["load not computable"] == (
        "warning",
        "The load cannot be computed: the thread is not stated. Verdicts rest on torque, end and tool alone.",
    )
    assert set(found) == {"load not computable", "fastener not judged"}, "the rest of the joint is sound"
    assert found["fastener not judged"][0] == "note" and "M. Okonjo-Reyes" in found["fastener not judged"][1]
    assert [one.torque for one in plan.passes] == [156, 364, 520, 520]


def test_known_sizes_may_stand_beside_a_thread_that_is_not_stated() -> None:
    f = read_specification(IN_NUTS, "j").fasteners
    assert (str(f.length), f.hole, f.head, f.washers) == ("110 mm", "medium", "hexagon", "under head and nut")
    mixed = changed(IN_NUTS, ("washer_under_nut = true", 'washer_under_nut = "not stated"'))
    assert read_specification(mixed, "j").fasteners.washers == "under head, under nut not stated"


@pytest.mark.parametrize(("before", "after", "field", "says"), [
    ('class = "not stated"', 'class = "8.8"', "fasteners.class", "the class 8.8 is stated, but the thread is not"),
    ('hole = "medium"', 'hole = "meduim"', "fasteners.hole", "neither a series nor a diameter"),
    ('hole = "medium"', 'hole = "medium"\nbearing_face = "33 mm"', "fasteners.bearing_face", "cannot be used"),
    ('lubricant = "', 'mu_G = [0.1, 0.1, 0.1]\nlubricant = "', "friction.mu_G", "cannot be used"),
    ('lubricant = "', 'mu_K = [0.1, 0.1, 0.1]\nlubricant = "', "friction.mu_K", "cannot be used"),
    ('lubricant = "', 'K = [0.1, 0.1, 0.1]\nlubricant = "', "friction.K", "cannot be used"),
    ('lubricant = "', 'basis = "a test"\nlubricant = "', "friction.basis", "cannot be used"),
    ('torque = "520 N.m"', 'preload = "95 kN"', "target.preload", "cannot be used"),
    ('torque = "520 N.m"', "utilisation = 0.7", "target.utilisation", "cannot be used"),
    ('torque = "520 N.m"\n', "", "target", "there is no target"),
    ('tolerance = "5 %"', 'tolerance = "5 %"\nrequired_preload = "95 kN"', "target.required_preload", "cannot be used"),
    ('tolerance = "5 %"', 'tolerance = "5 %"\nutilisation_limit = 0.8', "target.utilisation_limit", "cannot be used"),
    ('rule = "not stated"', 'rule = "friction"', "target.rule", "the rule 'friction' cannot be used"),
    ('rule = "not stated"', 'rule = "nut factor"', "target.rule", "the rule 'nut factor' cannot be used"),
    ('method = "torque"', 'method = "torque and angle"\nangle = "60 deg"\nangle_window = ["45 deg", "75 deg"]',
     "target.method", "no load can be computed"),
])  # fmt: skip
def test_what_would_need_the_thread_is_refused(before: str, after: str, field: str, says: str) -> None:
    text = changed(IN_NUTS, (before, after))
    (found,) = faults(text)
    assert found.field == field and says in found.message, found
    key = field.rpartition(".")[2]
    lines = text.split("\n")
    assert found.line is not None
    assert lines[found.line - 1].startswith((f"{key} =", f"[{key}]"))
    if field not in ("target", "fasteners.hole"):
        assert "state thread and class" in found.allowed


@pytest.mark.parametrize(("before", "after", "field"), [
    ('class = "8.8"', 'class = "not stated"', "fasteners.class"),
    ('length = "110 mm"', 'length = "not stated"', "fasteners.length"),
    ('head = "hexagon"', 'head = "not stated"', "fasteners.head"),
    ("washer_under_head = true", 'washer_under_head = "not stated"', "fasteners.washer_under_head"),
    ("washer_under_nut = true", 'washer_under_nut = "not stated"', "fasteners.washer_under_nut"),
    ('hole = "medium"', 'hole = "not stated"', "fasteners.hole"),
    ('condition = "new"', 'condition = "not stated"', "fasteners.condition"),
    ('thickness = "33 mm"', 'thickness = "not stated"', "clamped.1.thickness"),
    ('rule = "friction"', 'rule = "not stated"', "target.rule"),
])  # fmt: skip
def test_with_a_thread_nothing_the_load_needs_may_be_left_open(before: str, after: str, field: str) -> None:
    text = changed(JOINT, (before, after))
    (found,) = faults(text)
    assert found.field == field and "M24" in found.message
    assert found.line == line_of(text, after)
    assert 'thread = "not stated" and class = "not stated"' in found.allowed


def test_a_misspelt_thread_is_told_of_the_words() -> None:
    (found,) = faults(changed(IN_NUTS, ('thread = "not stated"', 'thread = "unknown"'),
                              ('class = "not stated"', 'class = "8.8"'), ('rule = "not stated"', 'rule = "friction"'),
                              ("paste of the store", "oil film")))  # fmt: skip
    assert found.field == "fasteners.thread" and '"not stated" together with class' in found.allowed


def test_help_names_the_words_and_the_page_form_keeps_them() -> None:
    rows = {row.field: row for row in schema_help()}
    for field in ("fasteners.thread", "fasteners.class", "fasteners.length", "fasteners.hole", "fasteners.engagement",
                  "clamped.thickness"):  # fmt: skip
        assert "not stated" in rows[field].allowed
    for field in ("fasteners.head", "fasteners.condition", "fasteners.washer_under_head", "target.rule"):
        assert "not stated" in rows[field].choices
    again = read_specification(form_to_toml(toml_to_form(TEXT)), "joint.toml")
    assert again.fasteners == read_specification(TEXT, "joint.toml").fasteners
