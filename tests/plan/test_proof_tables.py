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
never_loosen = [1, 4, 8]
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
    assert spec.gates == GateRules(True, False, True, "flange assembly", "leak test", (1, 4, 8))
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


def test_all_fasteners_may_be_meant() -> None:
    spec = read_specification(BASE + '[gates]\nnever_loosen = "all"\n', "x.toml")
    assert spec.gates == GateRules(never_loosen=tuple(range(1, 9)))
    text = form_to_toml(toml_to_form(spec.text))
    assert read_specification(text, "x.toml").gates == spec.gates


def test_the_drag_window_holds_the_drag_that_is_added() -> None:
    with_drag = BASE.replace("[procedure]", 'prevailing_torque = "12 N.m"\n[procedure]', 1)
    window = '[parts]\ndrag_window = ["6 N.m", "18 N.m"]\n'
    spec = read_specification(with_drag + window, "x.toml")
    assert spec.parts.drag_window is not None and spec.parts.drag_window[1].text == "18 N.m"
    with pytest.raises(SpecificationError, match="outside this window"):
        read_specification(with_drag + window.replace('"6 N.m"', '"10 lbf.ft"'), "x.toml")
    with pytest.raises(SpecificationError, match="outside this window"):
        read_specification(with_drag + window.replace("18 N.m", "8 N.m"), "x.toml")


@pytest.mark.parametrize(
    ("changes", "more", "words"),
    [
        ({}, '[parts]\nlots_needed = ["nut"]', "there is no nut here"),
        ({}, '[parts]\nmost_uses = ["nut 2"]', "there is no nut here"),
        ({}, "[parts]\nprotrusion = [1, 4]", "stand beyond"),
        ({"washer_under_head = true": "washer_under_head = false"}, '[parts]\nsingle_use = ["washer"]', "no washer"),
        ({'condition = "new"': 'condition = "used"'}, '[parts]\nsingle_use = ["bolt"]', "used once only"),
    ],
)
def test_parts_that_the_joint_does_not_have(changes: dict[str, str], more: str, words: str) -> None:
    text = template("bearing housing")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    read_specification(text, "x.toml")
    with pytest.raises(SpecificationError, match=words) as caught:
        read_specification(text + more + "\n", "x.toml")
    assert [(e.line, bool(e.allowed)) for e in caught.value.errors] == [(len(text.splitlines()) + 2, True)]


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
        ('[[follow_up]]\nname = "x"\nkind = "review"\nbefore = "pressure"\nearly = "5 %"', "share of a trigger"),
        ('[[follow_up]]\nname = "x"\nkind = "review"\nbefore = "pressure"\nlate = 0.5', "share of a trigger"),
        ('[[follow_up]]\nname = "x"\nkind = "review"\ndays = 5\nearly = "50 %"', "at most 30 %"),
        ('[[follow_up]]\nname = "x"\nkind = "check"\ndays = 5', "not one of the words"),
        ("[gates]\nnever_loosen = [9]", "no fastener 9"),
        ("[gates]\nnever_loosen = [4, 1]", "does not rise"),
        ("[gates]\nnever_loosen = []", "no list of fasteners"),
        ('[gates]\nnever_loosen = "some"', "no list of fasteners"),
        ("[gates]\nnever_loosen = [true]", "not the number"),
        ('[keeping]\nyears = 5', "retention"),
        ('[keeping]\nretention = "life"\nyears = nan', "finite"),
    ],
)  # fmt: skip
def test_what_is_refused(more: str, words: str) -> None:
    assert words in faults("\n" + more + "\n")
