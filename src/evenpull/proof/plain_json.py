"""Proof and decision as plain JSON values, always in the same order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from typing import Any

from evenpull.proof.model import Cell, Decision, Proof


def to_json(found: Proof | Decision) -> dict[str, Any]:
    """Every field by its name; torque in N.m, angle in rad, times as ISO 8601. The same input gives the same output.

    Records are named by their key, and `open_flags` by theirs: the records themselves stand beside the proof.
    """
    if isinstance(found, Decision):
        return {"form": "evenpull decision 1", **_fields(found)}
    content = _fields(found, without=("cells", "open_flags"))
    content["open_flags"] = [flag.key for flag in found.open_flags]
    content["cells"] = [_cell(cell) for cell in found.cells]
    return {"form": "evenpull proof 1", **content}


def _cell(cell: Cell) -> dict[str, Any]:
    content = _fields(cell, without=("proving", "records"))
    content["proving"] = None if cell.proving is None else cell.proving.key
    content["records"] = [record.key for record in cell.records]
    return content


def _fields(item: Any, without: tuple[str, ...] = ()) -> dict[str, Any]:
    return {f.name: plain(getattr(item, f.name)) for f in fields(item) if f.name not in without}


def plain(value: Any) -> Any:
    """Dataclasses, mappings, sequences and times as JSON values. TypeError for anything else: nothing is guessed."""
    if is_dataclass(value) and not isinstance(value, type):
        return _fields(value)
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    raise TypeError(f"{type(value).__name__} has no JSON form")
