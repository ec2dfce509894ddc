"""Every stated key of a ring file in the order of the file, with its meaning and source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from evenpull.calculation.model import InputRow
from evenpull.plan.guide import schema_help
from evenpull.prediction.schema import RingFile

_HEADING = ("form", "ring", "procedure")  # said in the head of the sheet, and for itself
LONGEST = 160


def input_rows(data: Mapping[str, Any]) -> tuple[InputRow, ...]:
    """Rows of the tables of `data`, which have been checked; the source is the table's basis, else that of the file."""
    meanings = {row.field: row.meaning for row in schema_help(RingFile)}
    basis = str(data["ring"]["basis"])
    rows: list[InputRow] = []
    for table in RingFile.model_fields:
        if table in data and table not in _HEADING:
            rows.extend(_rows(table, table, data[table], meanings, basis))
    return tuple(rows)


def _rows(path: str, name: str, value: Any, meanings: Mapping[str, str], basis: str) -> Iterator[InputRow]:
    if isinstance(value, list) and value and isinstance(value[0], dict):
        for number, item in enumerate(value, start=1):
            yield from _rows(path, f"{name} {number}", item, meanings, basis)
    elif isinstance(value, dict):
        own = str(value.get("basis") or basis)
        for key, item in value.items():
            if key != "basis":
                yield from _rows(f"{path}.{key}", f"{name}.{key}", item, meanings, own)
    else:
        yield InputRow(name, meanings.get(path, ""), _written(value), basis)


def _written(value: Any) -> str:
    if isinstance(value, list):
        text = " / ".join(" ".join(map(str, item)) if isinstance(item, list) else str(item) for item in value)
        return text if len(text) <= LONGEST else text[:LONGEST] + " ..."
    return f"{value:g}" if isinstance(value, float) else str(value)
