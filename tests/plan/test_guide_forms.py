"""Help, templates and the page form: all from the one schema, and all read back."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema

from evenpull.plan import (
    Specification,
    SpecificationError,
    form_to_toml,
    make_plan,
    read_specification,
    read_tools,
    schema_help,
    template,
    toml_to_form,
    tools_help,
    tools_template,
)
from evenpull.plan.model import JOINT_KINDS
from evenpull.plan.schema import JointFile, ToolsFile
from evenpull.plan.toml_text import Known, model_at
from tests.plan.files import JOINT, changed, faults


def bare(spec: Specification) -> Specification:
    return replace(spec, text="", file="")


def leaves(schema: dict[str, object], defs: dict[str, dict[str, object]], above: str = "") -> set[str]:
    """Keys by pydantic's own JSON schema, so that the help is not compared with the code that made it."""
    found: set[str] = set()
    for name, entry in dict(schema["properties"]).items():  # type: ignore[call-overload]
        text = str(entry)
        inner = [key for key in defs if f"#/$defs/{key}'" in text]
        found |= leaves(defs[inner[0]], defs, f"{above}{name}.") if inner else {f"{above}{name}"}
    return found


@pytest.mark.parametrize(("model", "rows"), [(JointFile, schema_help()), (ToolsFile, tools_help())])
def test_help_covers_every_key_of_the_schema(model: type[BaseModel], rows: tuple[object, ...]) -> None:
    class Loose(GenerateJsonSchema):
        def function_plain_schema(self, schema: object) -> dict[str, object]:
            return {}

        def default_schema(self, schema: dict[str, object]) -> dict[str, object]:  # type: ignore[override]
            return self.generate_inner(schema["schema"])  # type: ignore[arg-type]

    schema = model.model_json_schema(schema_generator=Loose)
    keys = leaves(schema, schema["$defs"])
    assert {row.field for row in rows} == keys - {"form"}  # type: ignore[attr-defined]
    assert len(rows) == len(keys) - 1


@pytest.mark.parametrize("row", [*schema_help(), *tools_help()], ids=lambda row: row.field)
def test_every_row_says_what_is_needed(row: object) -> None:
    assert row.meaning and row.allowed and row.example  # type: ignore[attr-defined]
    tomllib.loads(f"x = {row.example}")  # type: ignore[attr-defined]
    if row.choices:  # type: ignore[attr-defined]
        assert row.example.strip('"') in row.choices  # type: ignore[attr-defined]


@pytest.mark.parametrize("row", schema_help(), ids=lambda row: row.field)
def test_every_example_is_a_right_value(row: object) -> None:
    """Each example, read alone, is a value that its key takes."""
    table = row.field.split(".")[:-1]  # type: ignore[attr-defined]
    model = model_at(JointFile, table)
    assert model is not None
    key = row.field.split(".")[-1]  # type: ignore[attr-defined]
    name = next(n for n, info in model.model_fields.items() if (info.alias or n) == key)
    assert getattr(Known(model, tomllib.loads(f"{key} = {row.example}")), name) is not None  # type: ignore[attr-defined]


@pytest.mark.parametrize("kind", JOINT_KINDS)
def test_template_reads_back_and_plans(kind: str) -> None:
    text = template(kind)
    spec = read_specification(text, "new.toml")
    assert spec.kind == kind
    plan = make_plan(spec, (), date(2026, 3, 1))
    assert [problem.code for problem in plan.problems if problem.severity == "stop"] == ["no tool in register"]
    for row in schema_help():
        assert f"{row.field.rpartition('.')[2]} = " in text
        assert row.meaning in text


def test_template_claims_no_approval() -> None:
    spec = read_specification(template(), "new.toml")
    assert (spec.id, spec.source.approved_by, spec.source.document) == ("NEW-JOINT", "nobody yet", "not stated yet")


def test_template_of_an_unknown_kind() -> None:
    with pytest.raises(ValueError, match="not a kind of joint"):
        template("pipe dream")


def test_tools_template_reads_back() -> None:
    assert read_tools(tools_template(), "tools.toml")[0].serial == "TW-0207"


@pytest.mark.parametrize("text", [JOINT, *(template(kind) for kind in JOINT_KINDS)])
def test_form_and_back_is_the_same_specification(text: str) -> None:
    fields = toml_to_form(text)
    again = form_to_toml(fields)
    assert bare(read_specification(again, "a")) == bare(read_specification(text, "b"))
    assert toml_to_form(again) == fields


def test_form_fields_have_the_names_and_texts_of_the_page() -> None:
    fields = toml_to_form(changed(JOINT, ('order = "star"', "order = \"grouped\"\ngroups = [[1, 2], [9, 10]]")))
    assert fields["fasteners.thread"] == "M24" and fields["clamped.1.part"] == "flange, pipe side"
    assert fields["procedure.passes"] == "30, 70, 100" and fields["procedure.groups"] == "1, 2; 9, 10"
    assert fields["fasteners.washer_under_head"] == "true" and fields["source.in_force_from"] == "2026-02-02"
    assert fields["tools.allowed"] == "TW-0219, TW-0252" and "form" not in fields


def test_form_values_of_the_wrong_kind_reach_the_reader_as_written() -> None:
    fields = {**toml_to_form(JOINT), "fasteners.count": "sixteen", "source.in_force_from": "2026-02-30",
              "procedure.passes": "30, x, 100", "friction.mu_G": "0,10", "fasteners.washer_under_head": "on",
              "fasteners.colour": "red"}
    found = {fault.field: fault.message for fault in faults(form_to_toml(fields))}
    assert set(found) == {"fasteners.count", "source.in_force_from", "procedure.passes", "friction.mu_G",
                          "fasteners.washer_under_head", "fasteners.colour"}
    assert "'sixteen'" in found["fasteners.count"] and "2026-02-30" in found["source.in_force_from"]


def test_form_takes_lists_as_people_write_them() -> None:
    fields = {**toml_to_form(JOINT), "procedure.passes": "[50, 100]", "procedure.order": "grouped",
              "procedure.groups": "[[1,2,3,4,5,6,7,8],[9,10,11,12,13,14,15,16]]", "target.tolerance": "0.04",
              "notes.text": "first line\r\nsecond \"line\" with \\ in it"}
    spec = read_specification(form_to_toml(fields), "f")
    assert spec.procedure.passes == (50, 100) and len(spec.procedure.groups) == 2
    assert spec.target.tolerance == 0.04 and spec.notes == 'first line\nsecond "line" with \\ in it'


@given(st.dictionaries(st.sampled_from([row.field.replace("clamped.", "clamped.0.") for row in schema_help()]),
                       st.text(max_size=30), max_size=8))
def test_any_form_gives_toml(fields: dict[str, str]) -> None:
    tomllib.loads(form_to_toml(fields))


@given(st.dictionaries(st.sampled_from(["joint.name", "notes.text", "fasteners.lot", "clamped.0.part", "clamped.1.part",
                                        "fasteners.length", "joint.class"]), st.text(max_size=40), max_size=6))
def test_texts_of_a_form_are_kept_to_the_letter(fields: dict[str, str]) -> None:
    filled = {name: value.replace("\r\n", "\n") for name, value in fields.items() if value.strip()}
    parts = [value for name, value in sorted(filled.items()) if name.startswith("clamped")]
    others = {name: value for name, value in filled.items() if not name.startswith("clamped")}
    expected = others | {f"clamped.{index}.part": value for index, value in enumerate(parts)}
    assert toml_to_form(form_to_toml(fields)) == expected


@given(st.dictionaries(st.text(max_size=20), st.text(max_size=20), max_size=6))
def test_unknown_fields_never_break_the_form(fields: dict[str, str]) -> None:
    try:
        read_specification(form_to_toml(fields), "f")
    except SpecificationError as error:
        assert error.errors


def test_text_that_is_no_toml_has_no_form() -> None:
    with pytest.raises(SpecificationError):
        toml_to_form("[joint\n")
