"""Records as plain JSON values and back, without loss: what the dossier stores and the bundle exports."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

from evenpull.intake.cells import Cells
from evenpull.intake.record import Particular, SetAside, Tightening, UnreadRow

Record = Tightening | UnreadRow | SetAside
# fields that facts of earlier versions do not have
LATER = {"tightening": {"particulars"}, "unread row": {"tool", "epoch", "counter"}, "set aside": set[str]()}
_KINDS: dict[str, Callable[..., Record]] = {"tightening": Tightening, "unread row": UnreadRow, "set aside": SetAside}
_FIELDS = {"tightening": fields(Tightening), "unread row": fields(UnreadRow), "set aside": fields(SetAside)}


def to_json(record: Record) -> dict[str, Any]:
    """Plain JSON values; "record" names the kind, times are ISO 8601 in UTC with Z. The cells are
    pairs of name and text, because the canonical form would sort the keys of an object and their order would be lost.
    """
    kind = {Tightening: "tightening", UnreadRow: "unread row", SetAside: "set aside"}[type(record)]
    plain: dict[str, Any] = {"record": kind}
    for field in _FIELDS[kind]:
        value = getattr(record, field.name)
        if isinstance(value, datetime):
            value = value.astimezone(UTC).isoformat().replace("+00:00", "Z")
        elif field.name == "received_cells":
            value = [[name, text] for name, text in value.items()]
        elif field.name == "particulars":
            value = {name: [one.text, one.unit, one.si] for name, one in value.items()}
        elif isinstance(value, tuple):
            value = list(value)
        plain[field.name] = value
    return plain


def from_json(plain: dict[str, Any]) -> Record:
    """The record that `to_json` gave. ValueError names what is missing, too much, or of no known kind."""
    kind = plain.get("record")
    if not isinstance(kind, str) or kind not in _KINDS:
        raise ValueError(f"{kind!r} is no kind of record; known: {', '.join(_KINDS)}")
    names = {field.name for field in _FIELDS[kind]}
    given = set(plain) - {"record"}
    if not names - LATER[kind] <= given <= names:
        missing, more = sorted(names - LATER[kind] - given), sorted(given - names)
        raise ValueError(f"a {kind} has other fields: missing {missing}, not known {more}")
    values = {name: plain[name] for name in given}
    if kind == "tightening":
        values["particulars"] = {
            name: Particular(text, unit, None if si is None else float(si))
            for name, (text, unit, si) in values.get("particulars", {}).items()
        }
        values["remarks"] = tuple(values["remarks"])
        pairs = values["received_cells"]
        values["received_cells"] = Cells(tuple(name for name, _ in pairs), tuple(text for _, text in pairs))
        if values["time"] is not None:
            values["time"] = datetime.fromisoformat(values["time"]).astimezone(UTC)
        for name in ("torque", "angle"):
            # JSON in canonical form writes 90.0 as 90
            values[name] = None if values[name] is None else float(values[name])
    return _KINDS[kind](**values)
