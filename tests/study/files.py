"""Study files for tests, made from the values that a test cares about."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

RR, MACHINE, PROCESS, EXERCISE = (
    "repeatability and reproducibility", "machine capability", "process capability", "operator exercise",
)  # fmt: skip

PLAIN = """form = "evenpull study 1"

[study]
id = "T-ST-1"
name = "Long wrench on the check device"
kind = "repeatability and reproducibility"
revision = "A"
basis = "QP-07 revision B"
led_by = "V. Sunde-Farrow"
tools = ["TW-0219"]
device = "CD-0003"

[measured]
quantity = "torque"
unit = "N.m"
resolution = 0.1
hidden = true

[design]
persons = ["J. Mwangale", "R. Fjeldgaard"]
replicates = 2

[[part]]
name = "150 N.m"
target = 150

[[part]]
name = "300 N.m"
target = 300

[window]
lower = -6
upper = 6
"""

ROWS = """operator;part;replicate;value
J. Mwangale;150 N.m;1;150.8
J. Mwangale;300 N.m;1;301,2
R. Fjeldgaard;150 N.m;1;149.1
R. Fjeldgaard;300 N.m;1;298.4
R. Fjeldgaard;300 N.m;2;297.9
R. Fjeldgaard;150 N.m;2;149.9
J. Mwangale;150 N.m;2;151.4
J. Mwangale;300 N.m;2;302.0
"""


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """The text with each old piece, which must be there, replaced."""
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text


def with_rows(text: str, rows: str = ROWS) -> str:
    return f"{text}\n[readings]\nrows = '''\n{rows}'''\n"


def study_text(
    kind: str, *, persons: Sequence[str] = (), parts: Sequence[tuple[str, float | None]] = (), replicates: int,
    rows: Iterable[Sequence[Any]] = (), columns: str = "operator;part;replicate;value", more: str = "",
    measured: str = 'quantity = "other"\nunit = "unit"', id: str = "T-ST-9",
) -> str:
    """A study file of any kind; `more` are further tables."""
    lines = [
        'form = "evenpull study 1"', "[study]", f'id = "{id}"', 'name = "made for a test"', f'kind = "{kind}"',
        'revision = "A"', 'basis = "test"', 'led_by = "A. Tester"', "[measured]", measured, "[design]",
        f"replicates = {replicates}",
    ]  # fmt: skip
    if persons:
        lines.append("persons = [" + ", ".join(f'"{one}"' for one in persons) + "]")
    for name, target in parts:
        lines += ["[[part]]", f'name = "{name}"', *([] if target is None else [f"target = {target!r}"])]
    lines.append(more)
    body = [";".join(map(str, row)) for row in rows]
    if body:
        lines += ["[readings]", "rows = '''", columns, *body, "'''"]
    return "\n".join(lines) + "\n"


def crossed_text(y: np.ndarray, **more: Any) -> str:
    """An array (parts, persons, repeats) as a study file; values as they are written shortest."""
    p, o, r = y.shape
    rows = [(f"O{j + 1}", f"P{i + 1}", k + 1, repr(float(y[i, j, k])))
            for k in range(r) for j in range(o) for i in range(p)]
    return study_text(RR, persons=[f"O{j + 1}" for j in range(o)], parts=[(f"P{i + 1}", None) for i in range(p)],
                      replicates=r, rows=rows, **more)


def grouped_text(groups: Sequence[Sequence[float]], **more: Any) -> str:
    """Groups of one length as a study in which each person pulls on fasteners of one lot."""
    rows = [(f"O{j + 1}", k + 1, repr(float(v))) for j, group in enumerate(groups) for k, v in enumerate(group)]
    return study_text(RR, persons=[f"O{j + 1}" for j in range(len(groups))], replicates=len(groups[0]), rows=rows,
                      columns="operator;replicate;value", **more)
