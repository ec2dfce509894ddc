"""Between the flat fields of a page form and the TOML text of a joint: the text stays what is checked and kept.

Field names are dotted paths: "fasteners.thread", "clamped.0.part". A value that is not of the kind its key wants is
written as a text, so that the reader refuses it with its own message; nothing is dropped or repaired here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, get_args, get_origin

from evenpull.joint.traced import Band
from evenpull.plan.guide import field_at
from evenpull.plan.schema import JOINT_FORM, JointFile
from evenpull.plan.toml_text import read_toml
from evenpull.plan.values import Tolerance

LARGEST_TEXT = 100_000
_NUMBER = re.compile(r"[+-]?(0|[1-9]\d{0,30})(\.\d{1,30})?([eE][+-]?\d{1,3})?")
_WHOLE = re.compile(r"[+-]?(0|[1-9]\d{0,30})")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def form_to_toml(fields: Mapping[str, str]) -> str:
    """TOML text of a joint from form fields; empty fields are left out. Unknown fields are written too, so that the
    reader names them."""
    tables: dict[str, list[tuple[str, str]]] = {}
    lists: dict[str, dict[int, list[tuple[str, str]]]] = {}
    top = [("form", JOINT_FORM)]
    for name, value in fields.items():
        if not value.strip():
            continue
        value = value.replace("\r\n", "\n")  # browsers send text areas so
        parts = name.split(".")
        if name == "form":
            top[0] = ("form", value)
        elif len(parts) == 3 and parts[1].isdigit() and len(parts[1]) < 6:
            lists.setdefault(parts[0], {}).setdefault(int(parts[1]), []).append((parts[2], value))
        elif len(parts) == 1:
            top.append((name, value))
        else:
            tables.setdefault(".".join(parts[:-1]), []).append((parts[-1], value))
    lines = [f"{_key(name)} = {_literal(name, value)}" for name, value in top]
    order = list(JointFile.model_fields)
    for table in sorted({*tables, *lists}, key=lambda t: (order.index(t) if t in order else len(order), t)):
        header = ".".join(_key(part) for part in table.split("."))
        if table in tables:
            lines += ["", f"[{header}]", *_pairs(table, tables[table])]
        for _, pairs in sorted(lists.get(table, {}).items()):
            lines += ["", f"[[{header}]]", *_pairs(table, pairs)]
    return "\n".join(lines) + "\n"


def toml_to_form(text: str) -> dict[str, str]:
    """Form fields of a joint's TOML text, those with something in them. SpecificationError when it is no TOML."""
    data = read_toml(text, "joint", most=LARGEST_TEXT, what="a joint file", form=JOINT_FORM).data
    return {path: value for path, value in _flat(data, "") if value}


def _flat(value: Any, path: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _flat(inner, f"{path}.{name}" if path else name)
    elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        for index, item in enumerate(value):
            yield from _flat(item, f"{path}.{index}")
    elif path != "form":
        yield path, _shown(value)


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        if value and all(isinstance(item, list) for item in value):
            return "; ".join(_shown(item) for item in value)
        return ", ".join(_shown(item) for item in value)
    return value.isoformat() if isinstance(value, date) else str(value)


def _pairs(table: str, pairs: list[tuple[str, str]]) -> list[str]:
    return [f"{_key(name)} = {_literal(f'{table}.{name}', value)}" for name, value in pairs]


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else quoted(name)


def quoted(text: str) -> str:
    """A text as TOML writes it, in double quotes."""
    escapes = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
    return '"' + "".join(escapes.get(c) or (c if c.isprintable() else f"\\U{ord(c):08X}") for c in text) + '"'


def _literal(path: str, value: str) -> str:
    """The value as TOML of the type that the key wants; as a quoted text when it is not of that type."""
    info = field_at(JointFile, path)
    wanted = _plain(info.annotation) if info is not None else str
    text = value.strip()
    as_text = quoted(value)
    if wanted is bool:
        return text.lower() if text.lower() in ("true", "false") else as_text
    if wanted is date:
        return text if _is_day(text) else as_text
    if wanted is int:
        return text if _WHOLE.fullmatch(text) else as_text
    if wanted in (float, Tolerance):
        return text if _NUMBER.fullmatch(text) else as_text
    if wanted is Band or get_origin(wanted) is tuple:
        return _list(wanted, text)
    return as_text


def _plain(annotation: Any) -> Any:
    """The type without `| None`."""
    inner = [item for item in get_args(annotation) if item is not type(None)]
    if get_origin(annotation) is not tuple and inner:
        return _plain(inner[0])
    return annotation


def _list(wanted: Any, text: str) -> str:
    inside = text.removeprefix("[").removesuffix("]") if ";" not in text else text
    items = get_args(wanted)
    if items and get_origin(_plain(items[0])) is tuple:  # lists of lists: 1, 2; 9, 10
        groups = [part for part in re.split(r"[;\]]", text.replace("[", "")) if part.strip(" ,")]
        return "[" + ", ".join(_list(_plain(items[0]), group.strip(" ,")) for group in groups) + "]"
    parts = [part.strip().strip('"') for part in inside.split(",")] if inside.strip() else []
    numbers = wanted is Band or _plain(items[0]) in (int, float)
    return "[" + ", ".join(p if numbers and _NUMBER.fullmatch(p) else quoted(p) for p in parts) + "]"


def _is_day(text: str) -> bool:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
