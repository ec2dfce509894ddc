"""The tables of a joint file about proof: what they give and refuse; files without them read as before."""

from __future__ import annotations

import pytest

from evenpull.plan import SpecificationError, form_to_toml, read_specification, template, toml_to_form
from evenpull.plan.model import FollowUpRule, GateRules, Keeping, PartRules

BASE = template("gasketed flange")
TABLES = """
[parts]
single_use = ["nut", "gasket"]
most_uses = ["bolt 3"]
lots_needed = ["bolt"]
locking = "split pin"
protrusion = [1, 4.5]
witness_mark = true
stack = ["bolt", "2 washers", "nut"]
[gates]
identity = true
independent_check = true
qualification = "flange assembly"
test = "leak test"
[[follow_up]]
name = "dwell"
kind = "dwell re-tightening"
days = 0.1667
before = "pressure"
[[follow_up]]
name = "500 h"
kind = "re-tighten after service"
counted_from = "start-up"
hours = 500
distance = "50 km"
early = "10 %"
late = 0.1
[keeping]
retention = "life of the plant"
years = 30
"""


def faults(more: str) -> str:
    with pytest.raises(SpecificationError) as caught:
        read_specification(BASE + more, "x.toml")
    return str(caught.value)


def test_the_tables_become_rules() -> None:
    spec = read_specification(BASE + TABLES, "x.toml")
    assert spec.parts.single_use == ("nut", "gasket") and spec.parts.most_uses == {"bolt": 3}
    assert spec.parts.protrusion == (1.0, 4.5) and spec.parts.stack == ("bolt", "2 washers", "nut")
    assert spec.gates == GateRules(True, False, True, "flange assembly", "leak test")
    assert spec.follow_ups[0] == FollowUpRule("dwell", "dwell re-tightening", days=0.1667, before="pressure")
    assert (spec.follow_ups[1].distance, spec.follow_ups[1].early, spec.follow_ups[1].late) == (50_000.0, 0.1, 0.1)
    assert spec.keeping == Keeping("life of the plant", 30.0)


def test_a_file_without_them_asks_for_nothing() -> None:
    spec = read_specification(BASE, "x.toml")
    assert (spec.parts, spec.gates, spec.follow_ups, spec.keeping) == (PartRules(), GateRules(), (), Keeping())


def test_the_page_form_gives_the_same_rules() -> None:
    text = form_to_toml(toml_to_form(BASE + TABLES))
    one, other = read_specification(BASE + TABLES, "x.toml"), read_specification(text, "x.toml")
    assert (one.parts, one.gates, one.follow_ups, one.keeping) == (
        other.parts, other.gates, other.follow_ups, other.keeping,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('[parts]\nsingle_use = ["knut"]', "'knut' is not a part"),
        ('[parts]\nmost_uses = ["bolt three"]', "part and number"),
        ('[parts]\nsingle_use = ["bolt"]\nmost_uses = ["bolt 3"]', "also in single_use"),
        ('[parts]\ndrag_window = ["6 N.m", "18 N.m"]', "prevailing_torque"),
        ('[parts]\ndrag_window = ["18 N.m", "6 N.m"]', "does not rise"),
        ("[parts]\nprotrusion = [4, 1]", "does not rise"),
        ('[gates]\nidentities = true', "identity"),
        ('[[follow_up]]\nname = "x"\nkind = "review"', "never falls due"),
        ('[[follow_up]]\nname = "x"\nkind = "review"\ndays = -1', "days"),
        ('[[follow_up]]\nname = "x"\nkind = "review"\ndays = 1\n[[follow_up]]\nname = "X"\nkind = "review"\ndays = 2',
         "stands here twice"),
        ('[[follow_up]]\nname = "x"\nkind = "review"\ncounted_from = "start-up"\nbefore = "pressure"', "comes later"),
        ('[keeping]\nyears = 5', "retention"),
    ],
)  # fmt: skip
def test_what_is_refused(more: str, words: str) -> None:
    assert words in faults("\n" + more + "\n")
