"""The list of a review as CSV or XLSX: one row a tightening, every model beside the others."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import ArrayLike
from openpyxl import Workbook

from evenpull.instrument.review import FULL, STEP, ModelName, Verdict
from evenpull.review import CLASSES, JointState, Other, Outcome, Reason
from evenpull.review.touched import Ints

MOST_XLSX = 200_000  # rows; a sheet holds about a million, and takes minutes to write
SHORT: Mapping[ModelName, str] = {
    FULL: "full", "linear by date": "by date", "linear by cycles": "by cycles", STEP: "step at event",
}


class TooLongError(ValueError):
    """More rows than a sheet should hold; the text names the way out."""


def _named(codes: ArrayLike, words: list[str]) -> pl.Series:
    """Codes as words."""
    return pl.Series(words)[pl.Series(np.asarray(codes, np.int64))] if len(words) else pl.Series([], dtype=pl.String)


def table(outcome: Outcome, decided: Mapping[str, str], rows: Ints | None = None) -> pl.DataFrame:
    """All tightenings, or some, by joint, unit, fastener and time. Torques N.m, loads kN, deviations in percent; empty
    where nothing is known. `decided`: joint -> disposition in words."""
    t = outcome.touched
    chosen = np.arange(t.count) if rows is None else rows
    order = chosen[np.lexsort((t.seq[chosen], t.time[chosen], t.fastener[chosen], t.unit[chosen], t.joint[chosen]))]
    joint = t.joint[order]
    verdicts = [verdict.words for verdict in Verdict]
    names = [one.joint for one in t.joints]
    columns: dict[str, Any] = {
        "joint": _named(joint, names), "class": _named(t.joint_class()[order], list(CLASSES)),
        "state": _named(t.state[order], [state.words for state in JointState]),
        "unit": _named(t.unit[order], list(t.units)), "fastener": t.fastener[order],
        "pass": t.pass_number[order], "tool on record": _named(t.tool[order], list(t.tools)),
        "in doubt": _named(t.suspect[order], [one.serial for one in outcome.suspects]),
        "fact": t.seq[order], "time UTC": _times(t.time[order]), "counter": t.cycle[order],
        "torque on record": t.torque[order], "window from": outcome.lower[order], "window to": outcome.upper[order],
    }
    loads = outcome.loads(order)
    for one in outcome.models:
        name = SHORT[one.name]
        columns |= {
            f"deviation % ({name})": 100 * one.a[order], f"true ({name})": one.true[order],
            f"lowest ({name})": one.low[order], f"highest ({name})": one.high[order],
            f"verdict ({name})": _named(one.verdict[order], verdicts),
            f"load from kN ({name})": loads[one.name].low / 1e3, f"load to kN ({name})": loads[one.name].high / 1e3,
        }
    columns |= {
        "decision": _named(outcome.decision[order], verdicts),
        "why not judged": _named(outcome.reason[order], [reason.words for reason in Reason]),
        "required load kN": np.array([j.required for j in t.joints] or [np.nan])[joint] / 1e3,
        "load": _named(outcome.load[order] + 1, ["not asked: a later tightening stands", *verdicts]),
        "other evidence": _named(t.other[order], ["; ".join(Other(n).words) for n in range(64)]),
        "disposition": _named(joint, [decided.get(name, "") for name in names]),
    }
    return pl.DataFrame(columns).with_columns(pl.col(pl.Float64).fill_nan(None))


def _times(time: np.ndarray[Any, Any]) -> pl.Series:
    known = np.where(np.isnan(time), np.datetime64("NaT", "ms"),
                     np.nan_to_num(1000 * time).astype("datetime64[ms]"))
    return pl.Series(known).dt.to_string("%Y-%m-%d %H:%M:%S")


def review_csv(outcome: Outcome, decided: Mapping[str, str]) -> bytes:
    """UTF-8 with a heading line, comma, decimal point."""
    return table(outcome, decided).write_csv(float_precision=4).encode()


def review_xlsx(outcome: Outcome, decided: Mapping[str, str]) -> bytes:
    """The same as a sheet. TooLongError for more rows than it should hold."""
    if outcome.touched.count > MOST_XLSX:
        raise TooLongError(f"{outcome.touched.count:,} rows are more than a sheet should hold ({MOST_XLSX:,}); take "
                           "the CSV")
    book = Workbook(write_only=True)
    sheet = book.create_sheet("tightenings")
    found = table(outcome, decided)
    sheet.append(found.columns)
    for row in found.iter_rows():
        # a text is never a formula, whatever a serial or a joint begins with
        sheet.append([f"'{cell}" if isinstance(cell, str) and cell[:1] in "=+-@" else cell for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
