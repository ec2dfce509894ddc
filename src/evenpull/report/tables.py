"""The attached data: every tightening with every field, as CSV (RFC 4180) and JSON, and the proof as JSON.

Texts stand exactly as received. A cell may therefore begin with "=" or "@": open the CSV as text, not as formulas.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from typing import Any

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.proof.model import Decision, Proof
from evenpull.proof.plain_json import plain, to_json

RECORD_FIELDS = (
    "key", "file_sha256", "row", "joint", "unit_id", "fastener", "pass_number", "event", "torque", "torque_text",
    "torque_unit", "angle", "angle_text", "direction", "end_cause", "result_text", "source_verdict", "tool", "counter",
    "epoch", "operator", "time_text", "time", "time_basis", "time_doubt", "received_cells", "raw_sha256", "remarks",
    "particulars",
)
FINDING_FIELDS = ("cell_pass", "proves", "verdict", "reason", "flags")
_HEADER = {"torque": "torque_N.m", "angle": "angle_rad", "time": "time_UTC"}


def _rows(tightenings: Iterable[Tightening], proof: Proof) -> list[dict[str, Any]]:
    cells = {record.key: cell for cell in proof.cells for record in cell.records}
    flags: dict[str, list[str]] = {}
    for flag in proof.flags:
        for key in flag.records:
            flags.setdefault(key, []).append(flag.key)
    rows = []
    for record in tightenings:
        row = {name: plain(getattr(record, name)) for name in RECORD_FIELDS}
        cell = cells.get(record.key)
        proves = cell is not None and cell.proving is not None and cell.proving.key == record.key
        row["cell_pass"] = cell.pass_number if cell else None
        row["proves"] = proves
        row["verdict"] = cell.verdict if cell and proves else None
        row["reason"] = cell.reason if cell and proves else None
        row["flags"] = flags.get(record.key, [])
        rows.append(row)
    return rows


def records_csv(tightenings: Iterable[Tightening], proof: Proof) -> str:
    """One row per tightening with all its fields, then what the judgement made of it. SI values; empty = none.

    `received_cells`, `remarks`, `particulars` and `flags` are JSON inside their cell.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    names = (*RECORD_FIELDS, *FINDING_FIELDS)
    writer.writerow(_HEADER.get(name, name) for name in names)
    for row in _rows(tightenings, proof):
        writer.writerow(_csv_value(row[name]) for name in names)
    return out.getvalue()


def _csv_value(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, dict)):
        return json.dumps(value, ensure_ascii=False)
    return repr(value) if isinstance(value, float) else str(value)


def records_json(tightenings: Iterable[Tightening], unread: Sequence[UnreadRow], proof: Proof) -> str:
    """The same rows, and the rows that could not be read with their raw text."""
    return _dump({
        "form": "evenpull records 1",
        "joint": proof.joint,
        "units": {"torque": "N.m", "angle": "rad", "time": "UTC"},
        "tightenings": _rows(tightenings, proof),
        "unread": [plain(row) for row in unread],
    })


def proof_json(proof: Proof, decision: Decision) -> str:
    """Cells, flags, dispositions, statistics and the decision; records are named by their key."""
    return _dump({"decision": to_json(decision), "proof": to_json(proof)})


def _dump(content: Any) -> str:
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
