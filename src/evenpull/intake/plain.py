"""Records as plain JSON values and back, without loss: what the dossier stores and the bundle exports."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

import orjson

from evenpull.evidence.canonical import canonical
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
    if type(record) is Tightening:
        return _tightening(record)
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


def _tightening(t: Tightening) -> dict[str, Any]:
    """The same as the general way, written out because it is done for every record of every file."""
    when = t.time
    if when is not None and when.tzinfo is not UTC:
        when = when.astimezone(UTC)
    cells, more = t.received_cells, t.particulars
    return {  # by name, as the canonical form has them
        "angle": t.angle, "angle_text": t.angle_text, "counter": t.counter, "direction": t.direction,
        "end_cause": t.end_cause, "epoch": t.epoch, "event": t.event, "fastener": t.fastener,
        "file_sha256": t.file_sha256, "joint": t.joint, "operator": t.operator,
        "particulars": {name: [one.text, one.unit, one.si] for name, one in more.items()} if more else {},
        "pass_number": t.pass_number, "raw_sha256": t.raw_sha256,
        "received_cells": cells.pairs() if type(cells) is Cells else list(map(list, cells.items())),
        "record": "tightening", "remarks": list(t.remarks), "result_text": t.result_text, "row": t.row,
        "source_verdict": t.source_verdict,
        "time": None if when is None else f"{when.replace(tzinfo=None).isoformat()}Z",
        "time_basis": t.time_basis, "time_doubt": t.time_doubt, "time_text": t.time_text, "tool": t.tool,
        "torque": t.torque, "torque_text": t.torque_text, "torque_unit": t.torque_unit, "unit_id": t.unit_id,
    }  # fmt: skip


def canonical_tightening(body: dict[str, Any]) -> bytes:
    """`evidence.canonical` of what `to_json` gave for a tightening, by the shorter way that its known form allows: its
    names stand in their order already."""
    torque, angle = body["torque"], body["angle"]
    if body["particulars"] or not (_plain_number(torque) and _plain_number(angle)):
        return canonical(body)
    if (torque is not None and torque.is_integer()) or (angle is not None and angle.is_integer()):
        body = dict(body)
        body["torque"] = int(torque) if torque is not None and torque.is_integer() else torque
        body["angle"] = int(angle) if angle is not None and angle.is_integer() else angle
    try:
        return orjson.dumps(body)
    except orjson.JSONEncodeError:
        return canonical(body)


def _plain_number(value: float | None) -> bool:
    """orjson and RFC 8785 write it alike, once a whole one is an integer."""
    return value is None or value == 0 or 1e-4 <= abs(value) < 1e15


def from_json(plain: dict[str, Any]) -> Record:
    """The record that `to_json` gave. ValueError names what is missing, too much, or of no known kind."""
    try:
        return _record(plain)
    except (TypeError, AttributeError, OverflowError) as error:
        raise ValueError(f"this is no record: {error}") from error


def _record(plain: dict[str, Any]) -> Record:
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
