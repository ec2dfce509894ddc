"""Help for the schema and the commented template, both made from the schema itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from evenpull.plan.model import JOINT_KINDS
from evenpull.plan.schema import JOINT_FORM, TOOLS_FORM, JointFile, ToolsFile
from evenpull.plan.toml_text import key_paths, model_at

LISTS = ("clamped", "second_source", "follow_up", "tool")  # tables that may stand in a file more than once
WIDTH = 36  # column of the comments in a template


@dataclass(frozen=True, slots=True)
class HelpRow:
    """One key: `field` is the dotted path (a list of tables without index: "clamped.part"); `example` is TOML."""

    field: str
    meaning: str
    allowed: str
    unit: str
    example: str
    choices: tuple[str, ...]
    required: bool
    default: str  # TOML, "" where there is none


def schema_help(model: type[BaseModel] = JointFile) -> tuple[HelpRow, ...]:
    """Every key of a joint file (or of `model`) in the order of the file, the mark `form` left out."""
    return tuple(_row(model, path) for path in key_paths(model) if path != "form")


def tools_help() -> tuple[HelpRow, ...]:
    """Every key of a tool file."""
    return schema_help(ToolsFile)


def field_at(model: type[BaseModel], path: str) -> FieldInfo | None:
    """The schema's entry for a dotted path without indexes; None when there is no such key."""
    *above, name = path.split(".")
    table = model_at(model, above) if above else model
    if table is None:
        return None
    return next((info for n, info in table.model_fields.items() if (info.alias or n) == name), None)


def _row(model: type[BaseModel], path: str) -> HelpRow:
    info = field_at(model, path)
    if info is None:
        raise KeyError(path)
    extra: dict[str, Any] = dict(info.json_schema_extra) if isinstance(info.json_schema_extra, dict) else {}
    choices = tuple(str(choice) for choice in extra.get("choices", ()))
    default = "" if info.is_required() or info.default is None else toml_value(info.default)
    allowed = str(extra.get("allowed", "")) or ", ".join(choices)
    return HelpRow(path, info.description or "", allowed, str(extra.get("unit", "")), str(extra.get("example", "")),
                   choices, info.is_required(), default)


def toml_value(value: object) -> str:
    """A plain default as TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return f"{value:g}" if isinstance(value, float) else str(value)


# Whoever saves a template unchanged must not claim an approval or touch a joint that exists.
_UNNAMED = {
    "joint.id": '"NEW-JOINT"', "joint.place": '"not stated yet"', "source.document": '"not stated yet"',
    "source.revision": '"none"', "source.place": '"not stated yet"', "source.approved_by": '"nobody yet"',
    "notes.text": '"Template: not for work."',
}
_NUT = {"fasteners.counterpart": '"nut"', "fasteners.nut_class": '"8"', "fasteners.washer_under_nut": "true"}
_CHECKED = {"procedure.check_passes": "1", "procedure.movement_limit": '"5 deg"'}
_START: Mapping[str, Mapping[str, str]] = {
    "gasketed flange": {**_NUT, **_CHECKED, "fasteners.count": "8", "fasteners.thread": '"M16"',
                        "fasteners.length": '"80 mm"', "fasteners.circle": '"180 mm"', "target.torque": '"130 N.m"'},
    "structural connection": {
        **_NUT, "fasteners.count": "8", "fasteners.thread": '"M20"', "fasteners.class": '"10.9"',
        "fasteners.nut_class": '"10"', "fasteners.length": '"75 mm"', "fasteners.grid": "[2, 4]",
        "joint.class": '"A"', "joint.name": '"Beam splice"', "joint.first_fastener": '"top row, on the left"',
        "target.preload": '"120 kN"', "procedure.passes": "[70, 100]",
    },
    "bolted ring": {
        **_NUT, "fasteners.count": "36", "fasteners.thread": '"M30"', "fasteners.class": '"10.9"',
        "fasteners.nut_class": '"10"', "fasteners.length": '"180 mm"', "fasteners.circle": '"1180 mm"',
        "joint.class": '"A"', "joint.name": '"Blade-root ring"', "target.utilisation": "0.55",
        "procedure.tools_at_once": "2", "clamped.thickness": '"60 mm"',
    },
    "bearing housing": {
        **_CHECKED, "fasteners.count": "6", "fasteners.thread": '"M10"', "fasteners.length": '"60 mm"',
        "fasteners.head": '"socket cap"', "fasteners.counterpart": '"tapped hole"', "fasteners.turned": '"head"',
        "fasteners.tapped_material": '"EN AW-6082-T6"', "fasteners.engagement": '"22 mm"',
        "fasteners.circle": '"220 mm"', "joint.name": '"Bearing housing cover"', "target.torque": '"32 N.m"',
        "procedure.passes": "[50, 100]", "clamped.part": '"cover"',
    },
    "general assembly": {
        **_NUT, "fasteners.count": "4", "fasteners.thread": '"M12"', "fasteners.length": '"55 mm"',
        "fasteners.grid": "[2, 2]", "joint.name": '"Machine foot"', "joint.class": '"C"',
        "joint.first_fastener": '"north-west corner"', "target.torque": '"55 N.m"', "procedure.passes": "[50, 100]",
        "clamped.thickness": '"20 mm"',
    },
}
_ALWAYS = {"notes.text"}


def template(kind: str = JOINT_KINDS[0]) -> str:
    """A joint file of this kind to start from: it reads without error, every key is explained, keys that are not
    needed stand in comments. ValueError for a kind that is none."""
    if kind not in _START:
        raise ValueError(f"{kind!r} is not a kind of joint; known: {', '.join(JOINT_KINDS)}")
    values = {"joint.kind": f'"{kind}"', "friction.lubricant": '"oil film"', **_UNNAMED, **_START[kind]}
    lines = [f'form = "{JOINT_FORM}"', "", "# Every key is explained beside it. Lines that begin with # are not used.",
             "# All values are examples: replace them by what the specification of this joint says."]
    return _written(JointFile, values, lines)


def tools_template() -> str:
    """A tool file to start from, with every key explained."""
    return _written(ToolsFile, {"tool.lever": '"480 mm"'}, [f'form = "{TOOLS_FORM}"'])


def _written(model: type[BaseModel], values: Mapping[str, str], lines: list[str]) -> str:
    table = ""
    rows = schema_help(model)
    for row in rows:
        above = row.field.rpartition(".")[0]
        if above != table:
            table = above
            needed = any((r.required and model_needs(model, above)) or r.field in values or r.field in _ALWAYS
                         for r in rows if r.field.rpartition(".")[0] == above)
            mark = f"[[{table}]]" if table in LISTS else f"[{table}]"
            lines += ["", mark if needed else f"# {mark}"]
        lines.append(_line(row, values, needed))
    return "\n".join(lines) + "\n"


def model_needs(model: type[BaseModel], path: str) -> bool:
    """The table at `path` must stand in the file."""
    info = field_at(model, path)
    return info is not None and info.is_required()


def _line(row: HelpRow, values: Mapping[str, str], table_used: bool) -> str:
    name = row.field.rpartition(".")[2]
    used = table_used and (row.required or row.field in values or bool(row.default) or row.field in _ALWAYS)
    text = f"{name} = {values.get(row.field) or row.default or row.example}"
    if not used:
        text = f"# {text}"
    return f"{text:<{WIDTH}}  # {row.meaning}; {row.allowed}"
