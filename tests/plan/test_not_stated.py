"""A joint whose thread is not stated: a torque and its window, and plainly no load."""

from __future__ import annotations

from datetime import date

import pytest

from evenpull.demo.open_data.prepare import folder_text
from evenpull.plan import make_plan, read_specification
from evenpull.plan.errors import SpecificationError
from evenpull.plan.make import fastener_case
from evenpull.plan.model import NOT_STATED

TEXT = folder_text("joint.toml")


def faults(*pairs: tuple[str, str]) -> dict[str, str]:
    text = TEXT
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    with pytest.raises(SpecificationError) as caught:
        read_specification(text, "joint.toml")
    return {fault.field: fault.message for fault in caught.value.errors}


def test_target_and_window_without_a_load() -> None:
    spec = read_specification(TEXT, "joint.toml")
    assert spec.fasteners.length is NOT_STATED and str(spec.clamped[0].thickness) == "not stated"
    plan = make_plan(spec, (), date(2022, 9, 5))
    assert plan.target.load is None and plan.target.utilisation_yield is None
    assert (plan.passes[0].torque, plan.passes[0].lower, plan.passes[0].upper) == (1.4, 1.2, 1.6)
    assert {step.unit for step in plan.target.chain} == {"N.m", "1"}, "no load is among the numbers"
    codes = {problem.code: problem.text for problem in plan.problems}
    assert codes["load not computable"].startswith("The load cannot be computed: the thread is not stated.")
    with pytest.raises(ValueError, match="thread is not stated"):
        fastener_case(spec, ())


def test_what_would_need_the_thread_is_refused() -> None:
    assert "no load can be computed" in faults(('torque = "1.4 N.m"\ntolerance = "0.2 N.m"',
                                                'preload = "2 kN"\ntolerance = "5 %"'))["target.preload"]
    wish = ('rule = "not stated"', 'rule = "not stated"\nrequired_preload = "1 kN"')
    assert "target.required_preload" in faults(wish)
    assert "fasteners.class" in faults(('class = "not stated"', 'class = "8.8"'))


def test_with_a_thread_every_size_is_needed() -> None:
    found = faults(('thread = "not stated"\nclass = "not stated"', 'thread = "M4"\nclass = "8.8"'))
    assert {"fasteners.length", "fasteners.engagement", "clamped.0.thickness", "fasteners.hole",
            "friction.lubricant"} <= set(found), found
    assert "the thread is" in found["fasteners.length"]
