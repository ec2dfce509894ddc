"""The report of a joint whose thread is not stated: no load, and said in every place where one would stand."""

from __future__ import annotations

from datetime import date

from evenpull.plan import make_plan, read_specification, read_tools
from evenpull.report import release_report
from tests.plan.files import IN_NUTS, changed
from tests.report import fixture
from tests.report.readback import pages


def test_no_load_stands_in_the_report_and_every_place_says_why() -> None:
    text = changed(IN_NUTS, ('thickness = "30 mm"', 'thickness = "not stated"'), ("count = 16", "count = 4"),
                   ('condition = "new"', 'condition = "not stated"'), ('head = "hexagon"', 'head = "not stated"'))
    plan = make_plan(read_specification(text, "j.toml"), read_tools(fixture.TOOLS, "t"), date(2026, 3, 18))
    records = fixture.pulls(plan)
    pdf = release_report(plan, fixture.proof(plan, records), fixture.RELEASED, fixture.context(plan, records))
    whole = " ".join(pages(pdf))
    for part in (
        "the load cannot be computed: the thread is not stated",
        "The load cannot be computed: the thread is not stated. Verdicts rest on torque, end and tool alone.",
        "preload – – – cannot be computed: the thread is not stated",
        "tension with torsion over yield strength – – – cannot be computed: the thread is not stated",
        "4 × thread and class not stated, length 110 mm, head not stated",
        "flange, pump side, steel, thickness not stated",
        "Condition, as specified not stated",
        "494",
    ):
        assert part in whole, part
    numbers = whole[whole.index("Numbers behind the target") :]
    assert " kN" not in whole and "thread friction" not in numbers and "stress area" not in numbers
    assert "the standard gives no proof stress" not in whole
