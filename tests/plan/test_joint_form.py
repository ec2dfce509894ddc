"""The page form of a joint shows what the joint file may ask of parts, gates, follow-ups and keeping."""

from __future__ import annotations

import re

from evenpull.plan import read_specification, template
from evenpull.web.joint_form import JointForm

ASKED = {
    "parts.single_use": "nut, gasket", "parts.most_uses": "bolt 3", "parts.stack": "bolt, 2 washers, nut",
    "parts.protrusion": "1, 4", "parts.witness_mark": "true", "gates.identity": "true", "gates.never_loosen": "all",
    "follow_up.0.name": "dwell", "follow_up.0.kind": "dwell re-tightening", "follow_up.0.days": "0.1667",
    "follow_up.0.before": "pressure", "keeping.retention": "life of the plant", "keeping.years": "30",
}  # fmt: skip


def posted(more: dict[str, str]) -> JointForm:
    values = JointForm.from_text(template("gasketed flange")).values | more
    return JointForm.from_post({"way": "fields"} | {f"f:{name}": value for name, value in values.items()})


def test_each_key_has_a_field_with_its_help() -> None:
    groups = {group.title: group.fields for group in JointForm.from_text(template()).groups()}
    assert {"parts", "gates", "follow-up 1", "keeping"} <= set(groups)
    for title in ("parts", "gates", "follow-up 1", "keeping"):
        assert all(one.label and one.hint for one in groups[title]), title
    kinds = next(one for one in groups["follow-up 1"] if one.name == "follow_up.0.kind")
    assert "dwell re-tightening" in kinds.choices


def test_what_is_typed_becomes_the_file() -> None:
    form = posted(ASKED)
    spec = read_specification(form.text, "page")
    assert spec.parts.stack == ("bolt", "2 washers", "nut") and spec.parts.most_uses == {"bolt": 3}
    assert spec.gates.identity and spec.gates.never_loosen == tuple(range(1, 9))
    assert spec.follow_ups[0].before == "pressure" and spec.keeping.years == 30.0
    shown = {one.name: one.value for group in JointForm.from_text(form.text).groups() for one in group.fields}
    assert shown.items() >= ASKED.items()
    assert "follow_up.1.name" in shown, "there is room for one more"


def test_the_tables_of_the_template_read_when_their_marks_are_taken_away() -> None:
    """But for the window of a drag that the template's target does not have."""
    lines = template("gasketed flange").splitlines()
    start = lines.index("# [parts]")
    end = next(i for i in range(start, len(lines)) if lines[i] == "[notes]")
    freed = [re.sub(r"^# ", "", line) for line in lines[start:end] if not line.startswith("# drag_window")]
    spec = read_specification("\n".join([*lines[:start], *freed, *lines[end:]]), "x.toml")
    assert spec.parts.single_use and spec.gates.never_loosen and spec.follow_ups and spec.keeping.years == 30.0
